package main

import (
	"bytes"
	"io"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"pgregory.net/rapid"
)

// TestListen: an owner that beats is left alone for as long as it does, whatever it is called afterwards.
func TestListen(t *testing.T) {
	for _, c := range []struct {
		name string
		say  func(to *io.PipeWriter)
		want fate
	}{
		{"says farewell", func(to *io.PipeWriter) { to.Write([]byte("bbbf")) }, leftWell},
		{"dies at once", func(to *io.PipeWriter) { to.Close() }, died},
		{"dies after beats", func(to *io.PipeWriter) { to.Write([]byte("bb")); to.Close() }, died},
		{"falls silent", func(to *io.PipeWriter) { to.Write([]byte("bbb")) }, hung},
		{"beats slowly, then dies", func(to *io.PipeWriter) {
			for range 20 {
				to.Write([]byte("b"))
				time.Sleep(900 * time.Millisecond)
			}
			to.Close()
		}, died},
		{"rests, and is let be", func(to *io.PipeWriter) {
			to.Write([]byte("bbr"))
			time.Sleep(time.Minute)
			to.Write([]byte("bf"))
		}, leftWell},
		{"rests, goes on, and hangs", func(to *io.PipeWriter) { to.Write([]byte("rbrb")) }, hung},
		{"takes its time before the first beat", func(to *io.PipeWriter) {
			time.Sleep(time.Minute)
			to.Write([]byte("bf"))
		}, leftWell},
	} {
		synctest.Test(t, func(t *testing.T) {
			from, to := io.Pipe()
			go c.say(to)
			began := time.Now()
			if got := listen(from, time.Second); got != c.want {
				t.Errorf("%s: %d, want %d", c.name, got, c.want)
			}
			if c.want == hung && time.Since(began) != time.Second { // on the test's own clock
				t.Errorf("%s: found out after %v", c.name, time.Since(began))
			}
			from.Close()
		})
	}
}

// TestBenchIsTold: what is told arrives, and what is cut off or no bench file is refused.
func TestBenchIsTold(t *testing.T) {
	b, err := readBench("board")
	if err != nil {
		t.Fatal(err)
	}
	var told bytes.Buffer
	if err := tellBench(&told, b); err != nil {
		t.Fatal(err)
	}
	whole := told.String()
	got, err := hearBench(strings.NewReader(whole))
	if err != nil || got.Name != b.Name || got.Text != b.Text || got.Board.Chip != b.Board.Chip {
		t.Errorf("%q, %v", got.Name, err)
	}
	rapid.Check(t, func(rt *rapid.T) {
		if _, err := hearBench(strings.NewReader(whole[:rapid.IntRange(0, len(whole)-1).Draw(rt, "cut")])); err == nil {
			rt.Fatal("a bench file that broke off was taken")
		}
		if _, err := hearBench(bytes.NewReader(rapid.SliceOf(rapid.Byte()).Draw(rt, "nonsense"))); err == nil {
			rt.Fatal("nonsense was taken for a bench")
		}
	})
}
