package main

import (
	"errors"
	"fmt"

	"fullery/recipe"

	"github.com/spf13/cobra"
)

func newOff() *cobra.Command {
	var bench string
	var abandoned bool
	c := &cobra.Command{
		Use:   "off",
		Short: "Switch every output off, now: aborts the cycle that runs on the bench",
		Args:  cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			b, err := readBench(bench)
			if err != nil {
				return err
			}
			if abandoned {
				return offAbandoned(c, b)
			}
			answer, found, err := askOff(b.Name)
			switch {
			case err != nil && found && !b.Simulated:
				return errors.Join(said(statusPersonal, "bench %q is owned by a process that does not answer (%v)", b.Name, err), switchOff(b))
			case err != nil && found:
				return said(statusPersonal, "bench %q is owned by a process that does not answer (%v): cut the power of the bench "+
					"by hand", b.Name, err)
			case found:
				fmt.Fprintln(c.OutOrStdout(), answer)
				return nil
			case b.Simulated:
				fmt.Fprintf(c.OutOrStdout(), "Nobody runs bench %q. It is simulated: with nobody running it, every output is off.\n", b.Name)
				return nil
			default:
				if err := switchOff(b); err != nil {
					return err
				}
				fmt.Fprintf(c.OutOrStdout(), "Nobody runs bench %q. Every output was switched off.\n", b.Name)
				return nil
			}
		},
	}
	c.Flags().StringVar(&bench, "bench", "", "bench file (default: the shipped simulated one)")
	c.Flags().BoolVar(&abandoned, "abandoned", false, "only when nobody owns the bench: for what comes after a service has ended")
	return c
}

// offAbandoned switches a bench off that nobody owns. Whoever owns one answers for it: it must not be ended because another
// process could not begin.
func offAbandoned(c *cobra.Command, b recipe.Bench) error {
	conn, found, err := dial(b.Name)
	if conn != nil {
		err = conn.Close()
	}
	switch {
	case found:
		fmt.Fprintf(c.OutOrStdout(), "Bench %q has an owner; nothing was switched.\n", b.Name)
		return err
	case b.Simulated:
		fmt.Fprintf(c.OutOrStdout(), "Bench %q has no owner. It is simulated: with nobody running it, every output is off.\n", b.Name)
		return nil
	}
	if err := switchOff(b); err != nil {
		return err
	}
	fmt.Fprintf(c.OutOrStdout(), "Bench %q: every output was switched off.\n", b.Name)
	return nil
}
