package main

import (
	"fmt"

	"fullery/recipes"

	"github.com/spf13/cobra"
)

func newRecipes() *cobra.Command {
	return &cobra.Command{
		Use:   "recipes [NAME]",
		Short: "List the recipes and bench files that ship, or print one to copy and change",
		Args:  cobra.MaximumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			if len(args) == 1 {
				return printShipped(c, args[0])
			}
			for _, name := range recipes.Names() {
				r, err := recipes.Recipe(name)
				if err != nil {
					return err
				}
				fmt.Fprintf(c.OutOrStdout(), "%-18s %s\n", name, r.Title)
			}
			for _, name := range recipes.BenchNames() {
				b, err := recipes.Bench(name)
				if err != nil {
					return err
				}
				fmt.Fprintf(c.OutOrStdout(), "%-18s bench file: %s\n", name, b.Title)
			}
			return nil
		},
	}
}

func printShipped(c *cobra.Command, name string) error {
	text, err := recipes.Text(name, "recipe")
	if err != nil {
		var other error
		if text, other = recipes.Text(name, "bench"); other != nil {
			return withStatus(statusUsage, err)
		}
	}
	_, err = c.OutOrStdout().Write(text)
	return err
}
