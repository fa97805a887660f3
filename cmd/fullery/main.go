// Fullery runs a home-built bench that wets, scrubs, rinses and dries flexible disk cartridges.
//
// This folder is all that a person sees: one file a command, flags in, a call to a room below, words out.
package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"syscall"

	"github.com/charmbracelet/x/term"
	"github.com/spf13/cobra"
)

func main() {
	// A reader who goes away (a pipe into head) must not end the process that owns a bench; writing then fails, and that
	// is all.
	// Nor must ctrl-z freeze it with its outputs on.
	signal.Ignore(syscall.SIGPIPE, syscall.SIGTSTP, syscall.SIGTTIN, syscall.SIGTTOU)
	os.Exit(execute(os.Args[1:], os.Stdin, os.Stdout, os.Stderr))
}

// The exit statuses, the same for every command.
const (
	statusDone     = 0 // done
	statusNo       = 1 // the answer is no: a file failed checking, a cycle did not complete
	statusUsage    = 2 // wrong usage, or input that cannot be read
	statusGuard    = 3 // a guard ended the cycle
	statusPersonal = 4 // a person must act first
)

// statusError is an error that ends the program with a status. An empty text says nothing more: everything was
// printed already.
type statusError struct {
	status int
	err    error
}

func (e *statusError) Error() string {
	if e.err == nil {
		return ""
	}
	return e.err.Error()
}

func (e *statusError) Unwrap() error { return e.err }

// withStatus gives an error its exit status.
func withStatus(status int, err error) error { return &statusError{status, err} }

// said is withStatus for a sentence made on the spot.
func said(status int, format string, args ...any) error {
	return &statusError{status, fmt.Errorf(format, args...)}
}

// execute runs one command line and returns its exit status.
func execute(args []string, in io.Reader, out, errs io.Writer) int {
	root := newRoot()
	root.SetArgs(args)
	root.SetIn(in)
	heard := &listener{to: out}
	root.SetOut(heard.stream())
	root.SetErr(errs)
	err := root.Execute()
	if heard.err != nil && err == nil {
		err = said(statusUsage, "what was to be printed could not be written: %v", plain(heard.err))
	}
	if err == nil {
		return statusDone
	}
	status := statusOf(err)
	if text := err.Error(); text != "" {
		fmt.Fprintln(errs, text)
	}
	return status
}

// statusOf is the exit status of an error.
func statusOf(err error) int {
	if err == nil {
		return statusDone
	}
	if s := (*statusError)(nil); errors.As(err, &s) {
		return s.status
	}
	return statusUsage // what cobra refuses is wrong usage
}

// listener remembers whether what was printed arrived.
type listener struct {
	to  io.Writer
	err error
}

// stream is the stream to print to: a file stays a file, because a terminal is found out by it.
func (l *listener) stream() io.Writer {
	if f, ok := l.to.(*os.File); ok && term.IsTerminal(f.Fd()) {
		return f
	}
	return l
}

// Write writes, and remembers the first failure.
func (l *listener) Write(p []byte) (int, error) {
	n, err := l.to.Write(p)
	if l.err == nil {
		l.err = err
	}
	return n, err
}

// newRoot builds the command tree anew for every execution: no state outlives one.
func newRoot() *cobra.Command {
	root := &cobra.Command{
		Use:   "fullery",
		Short: "Run a bench that wets, scrubs, rinses and dries flexible disk cartridges",
		Long: "Fullery runs a home-built bench that wets, scrubs, rinses and dries flexible disk cartridges,\n" +
			"watches every stage, stops when something is wrong, and keeps a record of every disk.\n\n" +
			"Exit status: 0 done; 1 the answer is no; 2 wrong usage or unreadable input; 3 a guard ended the\n" +
			"cycle; 4 a person must act first.",
		Version:       version(),
		SilenceUsage:  true,
		SilenceErrors: true,
		Args:          cobra.NoArgs,
		RunE:          func(c *cobra.Command, _ []string) error { return c.Help() },
	}
	root.AddCommand(newRun(), newPlan(), newSweep(), newCheck(), newGuards(), newOff(), newServe(), newOrder(), newInstallService(), newDry(), newCompare(), newBatch(), newBench(), newPads(), newRead(), newVigil(), newRecipes(), newMan())
	return root
}
