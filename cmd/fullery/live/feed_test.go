package live

import (
	"context"
	"fmt"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"fullery/cmd/fullery/draw"
	"fullery/controller"
	"fullery/recipe"
)

// The stretches that a feed keeps add up to what the controller's own summary counts.
func TestFeedAgreesWithTheSummary(t *testing.T) {
	p := program(t, "water-detergent")
	feed, sum := NewFeed(p), &controller.Summary{Program: p}
	end := runFast(context.Background(), t, p, &bench{p: p}, nil, feed, sum)
	if end.Cycle != controller.Complete {
		t.Fatalf("the cycle is %s", end.Cycle)
	}
	var pic Picture
	feed.Look(&pic)
	actual := make([]time.Duration, len(sum.Stages))
	for _, s := range pic.Stretches {
		if s.Held {
			t.Errorf("nothing was held, but %v", s)
		}
		actual[s.Stage] += s.Length
	}
	for i, s := range sum.Stages {
		if actual[i] != s.Actual {
			t.Errorf("stage %d: the feed has %v, the summary %v", i, actual[i], s.Actual)
		}
	}
}

func TestFeedKeepsHoldsInTheirPlace(t *testing.T) {
	p := program(t, "water-detergent")
	feed := NewFeed(p)
	r := newRig(p, feed)
	r.into(t, recipe.Scrub, 30*time.Second)
	r.order(controller.Hold)
	r.become(t, controller.Held)
	held := r.tick.Inputs.Now
	r.until(t, "a minute of hold", func(*controller.State) bool { return r.tick.Inputs.Now >= held+time.Minute })
	r.order(controller.Resume)
	r.become(t, controller.Running)
	r.until(t, "more scrubbing", func(s *controller.State) bool { return s.Worked >= 40*time.Second })
	var pic Picture
	feed.Look(&pic)
	var got []string
	for _, s := range pic.Stretches {
		got = append(got, fmt.Sprint(s.Stage, s.Held))
	}
	want := []string{"0 false", "1 false", "2 false", "2 true", "2 false"}
	if d := cmp.Diff(want, got); d != "" {
		t.Fatalf("stretches (-want +got):\n%s", d)
	}
	if hold := pic.Stretches[3].Length; hold < time.Minute || hold > time.Minute+10*time.Second {
		t.Errorf("the hold is %v long", hold)
	}
}

// However long a drying lasts, the curve keeps within its bound, reaches from its beginning to its end, and is evenly
// spaced.
func TestFeedThinsTheCurve(t *testing.T) {
	p := program(t, "water-detergent")
	feed := NewFeed(p)
	tick := controller.Tick{State: controller.State{Cycle: controller.Running, Stage: int8(len(p.Stages()) - 1)}}
	tick.State.Drying.Seen.Tracks[controller.BySurface-1].Read = 1
	for i := range 3 * 3600 * 20 {
		at := time.Duration(i) * 50 * time.Millisecond
		tick.Inputs.Now, tick.State.Worked, tick.State.Drying.Seen.Tracks[controller.BySurface-1].Now = at, at, at.Hours()
		feed.Watch(&tick)
	}
	var pic Picture
	feed.Look(&pic)
	n := len(pic.Curve)
	if n < mostPoints/2 || n > mostPoints {
		t.Fatalf("%d points, want between %d and %d", n, mostPoints/2, mostPoints)
	}
	step := pic.Curve[1].After - pic.Curve[0].After
	for i, c := range pic.Curve {
		if i > 0 && c.After-pic.Curve[i-1].After != step {
			t.Fatalf("point %d is %v after the one before, others %v", i, c.After-pic.Curve[i-1].After, step)
		}
		if c.Signal != c.After.Hours() {
			t.Fatalf("point %d of %v has %v", i, c.After, c.Signal)
		}
	}
	if pic.Curve[0].After != 0 || 3*time.Hour-pic.Curve[n-1].After > 2*step {
		t.Errorf("the curve reaches from %v to %v", pic.Curve[0].After, pic.Curve[n-1].After)
	}
}

func TestFeedForgetsOldEventsAndCountsThem(t *testing.T) {
	p := program(t, "water-detergent")
	feed := NewFeed(p)
	r := newRig(p, feed)
	r.step(controller.Command{})
	for range mostEvents + 50 { // each is refused: one event
		r.order(controller.Hold)
	}
	var pic Picture
	feed.Look(&pic)
	if len(pic.Events) != mostEvents || pic.Gone != 50 {
		t.Fatalf("%d events and %d gone, want %d and 50", len(pic.Events), pic.Gone, mostEvents)
	}
	for i := 1; i < len(pic.Events); i++ {
		if pic.Events[i].At <= pic.Events[i-1].At {
			t.Fatalf("event %d is not after the one before it", i)
		}
	}
}

// A new cycle begins with an empty ribbon and at zero; the old one's events stay to be read.
func TestFeedBeginsAnew(t *testing.T) {
	p := program(t, "isopropanol-91")
	feed := NewFeed(p)
	r := newRig(p, feed)
	r.into(t, recipe.Scrub, time.Second)
	r.order(controller.Abort)
	r.become(t, controller.Aborted)
	r.order(controller.Reset)
	r.step(controller.Command{})
	r.order(controller.Start)
	var pic Picture
	feed.Look(&pic)
	if len(pic.Stretches) != 0 || pic.At != 0 {
		t.Errorf("a new cycle begins at %v with %v", pic.At, pic.Stretches)
	}
	if len(pic.Events) < 8 {
		t.Errorf("only %d events are left", len(pic.Events))
	}
}

// A stage that gets its time once more has its curve from the start.
func TestFeedBeginsTheCurveAnew(t *testing.T) {
	p := program(t, "water-detergent")
	feed := NewFeed(p)
	tick := controller.Tick{State: controller.State{Cycle: controller.Running, Stage: int8(len(p.Stages()) - 1)}}
	tick.State.Drying.Seen.Tracks[controller.BySurface-1].Read = 1
	for _, worked := range []int{0, 1, 2, 3, 0, 1} {
		tick.State.Worked = time.Duration(worked) * time.Second
		tick.State.Drying.Seen.Tracks[controller.BySurface-1].Now = float64(worked)
		tick.Inputs.Now += time.Second
		feed.Watch(&tick)
	}
	if want := []draw.Point{{After: 0}, {After: time.Second, Signal: 1}}; !cmp.Equal(feed.points, want) {
		t.Errorf("the curve is %v, want %v", feed.points, want)
	}
}

// A stretch list that is full goes on with its last stretch rather than growing or losing time.
func TestFeedBoundsItsStretches(t *testing.T) {
	p := program(t, "water-detergent")
	feed := NewFeed(p)
	tick := controller.Tick{}
	n := 3 * mostStretches
	for i := range n {
		tick.State.Cycle = controller.Running
		if i%2 == 1 {
			tick.State.Cycle = controller.Held
		}
		tick.Inputs.Now = time.Duration(i) * time.Second
		feed.Watch(&tick)
	}
	var pic Picture
	feed.Look(&pic)
	var total time.Duration
	for _, s := range pic.Stretches {
		total += s.Length
	}
	if len(pic.Stretches) != mostStretches || total != time.Duration(n-1)*time.Second {
		t.Errorf("%d stretches of together %v, want %d and %v", len(pic.Stretches), total, mostStretches, time.Duration(n-1)*time.Second)
	}
}

func TestFeedAllocatesNothing(t *testing.T) {
	p := program(t, "water-detergent")
	feed := NewFeed(p)
	r := newRig(p)
	r.into(t, recipe.Dry, time.Minute)
	if n := testing.AllocsPerRun(1000, func() { feed.Watch(&r.tick) }); n != 0 {
		t.Errorf("%v allocations a tick", n)
	}
	var pic Picture
	feed.Look(&pic)
	if n := testing.AllocsPerRun(100, func() { feed.Look(&pic) }); n != 0 {
		t.Errorf("%v allocations a look", n)
	}
}

// A picture is a copy: what the feed learns later does not change it.
func TestPictureIsACopy(t *testing.T) {
	p := program(t, "water-detergent")
	feed := NewFeed(p)
	r := newRig(p, feed)
	r.into(t, recipe.Soak, time.Second)
	var pic Picture
	feed.Look(&pic)
	before := fmt.Sprint(pic)
	r.until(t, "drying", func(s *controller.State) bool { return len(feed.points) > 5 })
	if after := fmt.Sprint(pic); after != before {
		t.Errorf("the picture changed from\n%s\nto\n%s", before, after)
	}
}

// Readers and the loop at once: the race detector is the judge, and a picture never is half of one tick and half of
// another.
func TestFeedUnderReaders(t *testing.T) {
	p := program(t, "water-detergent")
	feed := NewFeed(p)
	ctx, cancel := context.WithCancel(context.Background())
	var wait sync.WaitGroup
	for range 2 {
		wait.Go(func() {
			var pic Picture
			for ctx.Err() == nil {
				feed.Look(&pic)
				var total time.Duration
				for _, s := range pic.Stretches {
					total += s.Length
				}
				if pic.State.Cycle == controller.Running && total != pic.At {
					t.Errorf("stretches of %v at %v", total, pic.At)
					return
				}
			}
		})
	}
	runFast(ctx, t, p, &bench{p: p}, nil, feed)
	cancel()
	wait.Wait()
}

func BenchmarkFeedWatch(b *testing.B) {
	p := program(b, "water-detergent")
	feed := NewFeed(p)
	r := newRig(p)
	r.into(b, recipe.Dry, time.Minute)
	b.ReportAllocs()
	for b.Loop() {
		r.tick.Inputs.Now += p.Tick()
		r.tick.State.Worked += p.Tick()
		feed.Watch(&r.tick)
	}
}

func BenchmarkPlainWatch(b *testing.B) {
	p := program(b, "water-detergent")
	r := newRig(p)
	r.into(b, recipe.Dry, time.Minute)
	plain := NewPlain(p, discard{})
	b.ReportAllocs()
	for b.Loop() {
		plain.Watch(&r.tick)
	}
	if err := plain.Close(); err != nil {
		b.Fatal(err)
	}
}

type discard struct{}

func (discard) Write(b []byte) (int, error) { return len(b), nil }
