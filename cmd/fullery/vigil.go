package main

import (
	"bufio"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"os/signal"
	"syscall"
	"time"

	"fullery/controller"
	"fullery/recipe"

	"github.com/spf13/cobra"
)

// The vigil: a second process that hears the owner of a real bench at every tick, and switches every output off when the
// owner dies or falls silent. What a line does when its process is gone differs from chip to chip; most keep their level.
// It hears through a pipe: first the bench file, then a beat a tick, and a farewell when the owner has switched off itself.
// A pipe that ends without the farewell is an owner that died.

// The bytes that are heard.
const (
	beat     = 'b'
	rest     = 'r' // everything is off and no beats will come for a while
	farewell = 'f'
)

const (
	silence  = 1300 * time.Millisecond // without a beat after which the owner counts as hung; ticks come twenty times as often
	dies     = 500 * time.Millisecond  // how long a killed owner is waited for
	readyIn  = 5 * time.Second         // how long the owner waits for its vigil
	longFile = 1 << 20                 // bytes, the longest bench file that is taken
)

// What became of the owner.
type fate int

const (
	leftWell fate = iota // it switched off itself and said farewell
	died
	hung
)

// listen hears an owner until it leaves, dies or falls silent. Silence counts from the first beat on: until then the owner
// is still claiming its lines.
func listen(from io.Reader, silence time.Duration) fate {
	heard := make(chan byte)
	stop := make(chan struct{})
	defer close(stop)
	go func() {
		defer close(heard)
		one := make([]byte, 64)
		for {
			n, err := from.Read(one)
			for _, b := range one[:n] {
				select {
				case heard <- b:
				case <-stop:
					return
				}
			}
			if err != nil {
				return
			}
		}
	}()
	var quiet <-chan time.Time
	var timer *time.Timer
	for {
		select {
		case b, ok := <-heard:
			switch {
			case !ok:
				return died
			case b == farewell:
				return leftWell
			case b == rest && timer != nil:
				timer.Stop()
				continue
			case b == rest:
				continue
			}
			if timer == nil {
				timer = time.NewTimer(silence)
				defer timer.Stop()
				quiet = timer.C
			}
			timer.Reset(silence)
		case <-quiet:
			return hung
		}
	}
}

// newVigil is the hidden command that the owner of a real bench starts.
func newVigil() *cobra.Command {
	return &cobra.Command{
		Use:    "vigil",
		Short:  "Watch over the owner of a bench; started by run, not by people",
		Hidden: true,
		Args:   cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			// What is sent to the owner's terminal is not for it: it outlives the owner.
			signal.Ignore(os.Interrupt, syscall.SIGTERM, syscall.SIGHUP, syscall.SIGQUIT)
			from := bufio.NewReader(c.InOrStdin())
			b, err := hearBench(from)
			if err != nil {
				return withStatus(statusUsage, err)
			}
			owner := os.Getppid()
			fmt.Fprintln(c.OutOrStdout(), "ready")
			switch listen(from, silence) {
			case leftWell:
				return nil
			case hung:
				if os.Getppid() == owner && owner > 1 {
					_ = syscall.Kill(owner, syscall.SIGKILL) // only then are its lines free
				}
			}
			return switchOff(b)
		},
	}
}

// hearBench reads the bench file that comes first: its name's and its text's length, then both.
func hearBench(from io.Reader) (recipe.Bench, error) {
	var lengths [2]uint32
	if err := binary.Read(from, binary.LittleEndian, &lengths); err != nil {
		return recipe.Bench{}, fmt.Errorf("no bench was told: %w", err)
	}
	if lengths[0] > longFile || lengths[1] > longFile {
		return recipe.Bench{}, errors.New("what was told is no bench file")
	}
	both := make([]byte, int(lengths[0])+int(lengths[1]))
	if _, err := io.ReadFull(from, both); err != nil {
		return recipe.Bench{}, fmt.Errorf("the bench file broke off: %w", err)
	}
	b, problems := recipe.ReadBench(string(both[:lengths[0]])+".toml", both[lengths[0]:])
	if bad := problems.Errors(); len(bad) > 0 {
		return b, bad
	}
	return b, nil
}

// tellBench is the other end of hearBench.
func tellBench(to io.Writer, b recipe.Bench) error {
	lengths := [2]uint32{uint32(len(b.Name)), uint32(len(b.Text))}
	if err := binary.Write(to, binary.LittleEndian, lengths); err != nil {
		return err
	}
	_, err := io.WriteString(to, b.Name+b.Text)
	return err
}

// switchOff switches every output of a bench off whose owner is gone, or dying: its lines may be held for a moment yet.
func switchOff(b recipe.Bench) error {
	var err error
	for end := time.Now().Add(dies); ; time.Sleep(20 * time.Millisecond) {
		if err = offBoard(b); err == nil || time.Now().After(end) {
			break
		}
	}
	if err != nil {
		return said(statusPersonal, "bench %q: not every output could be switched off: %v. Cut the power of the bench by hand", b.Name, err)
	}
	return nil
}

// vigil is the owner's end.
type vigil struct {
	child *exec.Cmd
	pipe  *os.File
	raw   syscall.RawConn
}

// keepVigil starts the second process and waits until it has the bench file.
func keepVigil(ctx context.Context, b recipe.Bench) (*vigil, error) {
	self, err := os.Executable()
	if err != nil {
		return nil, err
	}
	hears, pipe, err := os.Pipe()
	if err != nil {
		return nil, err
	}
	defer hears.Close()
	v := &vigil{child: exec.Command(self, "vigil"), pipe: pipe}
	v.child.Stdin, v.child.Stderr = hears, os.Stderr
	v.child.SysProcAttr = ownSession()
	answer, err := v.child.StdoutPipe()
	if err == nil {
		err = v.child.Start()
	}
	if err == nil {
		v.raw, err = pipe.SyscallConn()
	}
	if err != nil {
		return nil, errors.Join(err, pipe.Close())
	}
	ready := make(chan error, 1)
	go func() {
		err := tellBench(pipe, b)
		if err == nil {
			_, err = bufio.NewReader(answer).ReadString('\n')
		}
		ready <- err
	}()
	select {
	case err = <-ready:
	case <-time.After(readyIn):
		err = errors.New("it does not answer")
	case <-ctx.Done():
		err = ctx.Err()
	}
	if err != nil {
		return nil, errors.Join(said(statusUsage, "the second process that switches off when this one dies could not be started: %v", err), v.leave(true))
	}
	return v, nil
}

// Beat tells that the loop lives. It never waits: a pipe that is full is a vigil that does not listen, and then there is
// nothing better to do than to go on.
func (v *vigil) Beat() { v.say(beat) }

func (v *vigil) say(what byte) {
	_ = v.raw.Write(func(fd uintptr) bool {
		_, _ = syscall.Write(int(fd), []byte{what})
		return true // whatever came of it: no waiting
	})
}

// Rest tells that everything is off and that no beats will come until the next one.
func (v *vigil) Rest() { v.say(rest) }

// closing is a bench whose Close may take longer than the vigil's silence, because a bus has to end its transfer: it beats
// for that long, and no longer.
type closing struct {
	controller.Bench
	vigil *vigil
}

// longestClose is how long a Close may take before the vigil makes an end of it.
const longestClose = 4 * time.Second

// Close closes the bench, and lets the vigil rest when everything is off.
func (c closing) Close() error {
	done := make(chan struct{})
	beats := make(chan struct{})
	go func() {
		defer close(beats)
		every := time.NewTicker(100 * time.Millisecond)
		defer every.Stop()
		for limit := time.After(longestClose); ; {
			c.vigil.Beat()
			select {
			case <-done:
				return
			case <-limit:
				return
			case <-every.C:
			}
		}
	}()
	err := c.Bench.Close()
	close(done)
	<-beats
	if err == nil {
		c.vigil.Rest()
	}
	return err
}

// leave ends the vigil, well when every output was switched off: then it is told so, else it will try itself. It waits until
// the second process has gone.
func (v *vigil) leave(well bool) error {
	if well {
		v.say(farewell)
	}
	return errors.Join(v.pipe.Close(), v.child.Wait())
}
