package main

import "github.com/spf13/cobra"

func newBench() *cobra.Command {
	c := &cobra.Command{
		Use:   "bench",
		Short: "A real bench: how it is wired",
		Args:  cobra.NoArgs,
		RunE:  func(c *cobra.Command, _ []string) error { return c.Help() },
	}
	c.AddCommand(newBenchWiring())
	return c
}
