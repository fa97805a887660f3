package main

import (
	"github.com/spf13/cobra"
)

func newBatch() *cobra.Command {
	c := &cobra.Command{
		Use:   "batch",
		Short: "Deal disks to methods so that the groups start alike, and print the run sheet",
		Long: "Methods can be compared only when their disks start alike and nobody chose which disk got which: so disks are dealt.\n" +
			"First deal, then work down the run sheet, then fill in the table and compare.",
		Example: "  fullery batch deal disks.csv --methods isopropanol-91,water-detergent --out deal.json\n" +
			"  fullery batch sheet deal.json --table results.csv\n" +
			"  fullery compare results.csv",
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error { return c.Help() },
	}
	c.AddCommand(newBatchDeal(), newBatchSheet())
	return c
}
