package main

import (
	"fmt"

	"github.com/spf13/cobra"
	"github.com/spf13/cobra/doc"
)

func newMan() *cobra.Command {
	return &cobra.Command{
		Use:    "man FOLDER",
		Short:  "Write the manual pages into a folder",
		Hidden: true,
		Args:   cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			header := &doc.GenManHeader{Title: "FULLERY", Section: "1", Source: "Fullery " + version()}
			if err := doc.GenManTree(c.Root(), header, args[0]); err != nil {
				return said(statusUsage, "cannot write the manual pages into %s: %v", args[0], plain(err))
			}
			fmt.Fprintf(c.OutOrStdout(), "manual pages written into %s\n", args[0])
			return nil
		},
	}
}
