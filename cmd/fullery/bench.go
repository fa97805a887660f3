package main

import "github.com/spf13/cobra"

func newBench() *cobra.Command {
	c := &cobra.Command{
		Use:   "bench",
		Short: "A real bench: its wiring, its readings, a walk through its parts",
		Args:  cobra.NoArgs,
		RunE:  func(c *cobra.Command, _ []string) error { return c.Help() },
	}
	c.AddCommand(newBenchWiring(), newBenchWatch(), newBenchTest(), newBenchCapture(), newBenchPump())
	return c
}
