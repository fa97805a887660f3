package main

import (
	"bufio"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"os/signal"
	"sync/atomic"
	"syscall"
	"time"

	"fullery/controller/piobench"

	"github.com/spf13/cobra"
)

func newBenchCapture() *cobra.Command {
	var long time.Duration
	c := &cobra.Command{
		Use:   "capture FILE OUT.jsonl",
		Short: "Write down every transfer on the buses of a real bench, for a report of a fault or a test that replays it",
		Long: "Claims the bench with every output off and writes each transfer on its buses as a line of JSON: when, on which bus,\n" +
			"to which address, what was written and read (hexadecimal), how long it took, and what went wrong. OUT is never\n" +
			"replaced. Nothing is switched on.",
		Example: "  fullery bench capture my-bench.toml bus.jsonl --for 30s",
		Args:    wants(2, 2, "a bench file and a file to write"),
		RunE: func(c *cobra.Command, args []string) error {
			return benchCapture(c, args[0], args[1], long)
		},
	}
	c.Flags().DurationVar(&long, "for", 10*time.Second, "for how long")
	return c
}

// transferJSON is one transfer as it is written.
type transferJSON struct {
	AtUS    int64  `json:"at_us"` // monotonic
	TookUS  int64  `json:"took_us"`
	Bus     string `json:"bus"`
	Address string `json:"address"`
	Written string `json:"written"`
	Read    string `json:"read"`
	Error   string `json:"error,omitempty"`
}

// benchCapture writes transfers as they come. A file that cannot keep up loses some, and says how many.
func benchCapture(c *cobra.Command, name, path string, long time.Duration) (err error) {
	b, err := readBench(name)
	if err != nil {
		return err
	}
	file, err := os.OpenFile(path, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o644)
	if err != nil {
		return said(statusUsage, "%s cannot be begun: %v", path, plain(err))
	}
	defer func() { err = errors.Join(err, bad(file.Close())) }()
	queue := make(chan piobench.Transfer, 1024)
	var lost atomic.Int64
	world := piobench.System("/")
	world.Capture = func(t piobench.Transfer) {
		select {
		case queue <- t:
		default:
			lost.Add(1)
		}
	}
	written := make(chan error, 1)
	var count int
	go func() { written <- writeTransfers(file, queue, &count) }()
	bench, _, done, err := takeBoard(b, world, true, restsOff(b))
	if err == nil {
		ctx, stop := signal.NotifyContext(contextOf(c), os.Interrupt, syscall.SIGTERM)
		passes(ctx, bench, long)
		stop()
		err = done()
	}
	close(queue) // the bench is closed: nothing comes any more
	err = errors.Join(err, bad(<-written), bad(file.Sync()))
	if err != nil {
		return err
	}
	fmt.Fprintf(c.OutOrStdout(), "%d transfers were written to %s.\n", count, path)
	if n := lost.Load(); n > 0 {
		return said(statusNo, "%d transfers came faster than they could be written, and were lost", n)
	}
	return nil
}

// writeTransfers writes until the queue is closed.
func writeTransfers(file *os.File, queue <-chan piobench.Transfer, count *int) error {
	out := bufio.NewWriter(file)
	line := json.NewEncoder(out)
	var errs error
	for t := range queue {
		x := transferJSON{AtUS: t.At.Microseconds(), TookUS: t.Took.Microseconds(), Bus: t.Bus, Address: fmt.Sprintf("0x%02x", t.Address),
			Written: hex.EncodeToString(t.Written), Read: hex.EncodeToString(t.Read)}
		if t.Err != nil {
			x.Error = t.Err.Error()
		}
		if errs == nil { // go on emptying the queue all the same
			if errs = line.Encode(x); errs == nil {
				*count++
			}
		}
	}
	return errors.Join(errs, out.Flush())
}
