package lines

import (
	"context"
	"errors"
	"syscall"
	"testing"
	"testing/synctest"
	"time"
)

func TestInputReadsTheLevel(t *testing.T) {
	f, c := one(t, FakeLine{Name: "LID"})
	in, err := c.Input(0, "lid", PullUp, NoEdges)
	check(t, err)
	for _, high := range []bool{true, false, true} {
		f.Drive(label, 0, high)
		if got, err := in.High(); err != nil || got != high {
			t.Errorf("driven %t, read %t, %v", high, got, err)
		}
	}
	info, err := in.Info()
	check(t, err)
	if want := FlagUsed | FlagInput | FlagPullUp; info.Flags != want || info.Consumer != "fullery lid" || in.Role() != "lid" {
		t.Errorf("%s, want %s", info, want)
	}
	f.Fail(syscall.EIO)
	_, err = in.High()
	says(t, err, "lid", "line 0 of pinctrl-test", "cannot be read")
	check(t, in.Close())
	check(t, in.Close())
	_, err = in.High()
	says(t, err, "lid", "released")
}

// TestInputFlags: what is declared is what the kernel is asked for; nothing declared is refused.
func TestInputFlags(t *testing.T) {
	for _, k := range []struct {
		bias  Bias
		watch Watch
		want  Flags
	}{
		{PullUp, NoEdges, FlagInput | FlagPullUp},
		{PullDown, RisingEdges, FlagInput | FlagPullDown | FlagEdgeRising},
		{NoPull, FallingEdges, FlagInput | FlagBiasDisabled | FlagEdgeFalling},
		{PullUp, BothEdges, FlagInput | FlagPullUp | FlagEdgeRising | FlagEdgeFalling},
	} {
		f, c := one(t, FakeLine{})
		in, err := c.Input(0, "tray", k.bias, k.watch)
		check(t, err)
		if got := f.Requests()[0]; got.Flags != k.want || (got.Buffer > 0) != (k.watch != NoEdges) {
			t.Errorf("asked for %s with a buffer of %d, want %s", got.Flags, got.Buffer, k.want)
		}
		check(t, in.Close())
	}
	f, c := one(t, FakeLine{})
	for _, k := range []struct {
		bias  Bias
		watch Watch
	}{{Undeclared, NoEdges}, {99, NoEdges}, {PullUp, 99}} {
		_, err := c.Input(0, "tray", k.bias, k.watch)
		says(t, err, "tray", "what pulls line 0 of pinctrl-test")
	}
	if len(f.Requests()) != 0 {
		t.Errorf("asked all the same: %+v", f.Requests())
	}
}

// TestEdges: every edge comes once, in order, with the kernel's time; those made before anybody fetches them too.
func TestEdges(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		f, c := one(t, FakeLine{})
		begin := time.Now()
		f.Clock = func() time.Duration { return time.Since(begin) }
		in, err := c.Input(0, "tach", PullUp, BothEdges)
		check(t, err)
		f.Drive(label, 0, true)
		f.Drive(label, 0, true) // no edge

		var got []Edge
		ctx, stop := context.WithCancel(t.Context())
		ended := make(chan error)
		go func() { ended <- in.Edges(ctx, func(e Edge) { got = append(got, e) }) }()
		for i := range 3 {
			time.Sleep(10 * time.Millisecond) // the bubble's clock
			f.Drive(label, 0, i%2 == 1)
		}
		synctest.Wait()
		says(t, in.Edges(ctx, nil), "tach", "being fetched already")
		stop()
		if err := <-ended; !errors.Is(err, context.Canceled) {
			t.Errorf("ended with %v", err)
		}
		want := []Edge{{0, true, 1, 0}, {10e6, false, 2, 0}, {20e6, true, 3, 0}, {30e6, false, 4, 0}}
		if len(got) != len(want) {
			t.Fatalf("%+v, want %+v", got, want)
		}
		for i := range want {
			if got[i] != want[i] {
				t.Errorf("edge %d is %+v, want %+v", i, got[i], want[i])
			}
		}
		check(t, in.Close())
	})
}

// TestEdgesThatNobodyFetched: the kernel's buffer is bounded; what it dropped is counted, over two calls as well.
func TestEdgesThatNobodyFetched(t *testing.T) {
	f, c := one(t, FakeLine{})
	in, err := c.Input(0, "tach", PullUp, RisingEdges)
	check(t, err)
	fetch := func() (got []Edge) {
		ctx, stop := context.WithCancel(t.Context())
		err := in.Edges(ctx, func(e Edge) {
			if got = append(got, e); e.Seq%100 == 0 {
				stop()
			}
		})
		if !errors.Is(err, context.Canceled) {
			t.Fatalf("ended with %v", err)
		}
		return got
	}
	for _, turns := range []int{buffer + 144, 100} { // 400 edges, then up to 500
		for range turns {
			f.Drive(label, 0, true)
			f.Drive(label, 0, false)
		}
	}
	got := fetch()
	if got[0].Seq != 500-buffer+1 || got[0].Lost != 500-buffer || !got[0].Rising {
		t.Errorf("the first is %+v, want %d lost before it", got[0], 500-buffer)
	}
	for len(got) < buffer {
		got = append(got, fetch()...)
	}
	for i, e := range got[1:] {
		if e.Lost != 0 || e.Seq != got[i].Seq+1 {
			t.Fatalf("edge %+v after %+v", e, got[i])
		}
	}
	check(t, in.Close())
}

// TestCloseEndsEdges: goleak sees whether the reader is gone.
func TestCloseEndsEdges(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		_, c := one(t, FakeLine{})
		in, err := c.Input(0, "tach", PullUp, BothEdges)
		check(t, err)
		ended := make(chan error)
		go func() { ended <- in.Edges(t.Context(), func(Edge) { t.Error("an edge") }) }()
		synctest.Wait()
		check(t, in.Close())
		if err := <-ended; err != nil {
			t.Errorf("ended with %v", err)
		}
		check(t, in.Edges(t.Context(), nil))
	})
}

func TestEdgesRefuses(t *testing.T) {
	_, c := one(t, FakeLine{})
	in, err := c.Input(0, "lid", PullUp, NoEdges)
	check(t, err)
	says(t, in.Edges(t.Context(), nil), "lid", "not claimed for edges")
	check(t, in.Close())
}
