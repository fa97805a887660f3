package controller

import (
	"context"
	"errors"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"
)

// The clocks are tested in a bubble whose time is made: it stands still while anything runs and leaps when everything
// waits, so that every length below is exact.

func TestRealClock(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		time.Sleep(time.Hour)
		c := NewRealClock()
		if c.Now() != 0 {
			t.Errorf("starts at %v", c.Now())
		}
		ctx := context.Background()
		for _, step := range []struct{ until, want time.Duration }{
			{50 * time.Millisecond, 50 * time.Millisecond},
			{20 * time.Millisecond, 50 * time.Millisecond}, // past: does not wait, and does not go back
			{3 * time.Second, 3 * time.Second},
			{3 * time.Second, 3 * time.Second},
		} {
			if err := c.Wait(ctx, step.until); err != nil || c.Now() != step.want {
				t.Errorf("until %v: at %v, want %v; %v", step.until, c.Now(), step.want, err)
			}
		}
	})
}

// TestWaitsEndWithTheContext: a wait is cut short by the end of its context and gives the context's cause.
func TestWaitsEndWithTheContext(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		slow, full := &FastClock{Speed: 1}, &FastClock{Room: func() bool { return false }}
		for range 15 {
			_ = slow.Wait(context.Background(), 0)
			_ = full.Wait(context.Background(), 0)
		}
		for name, c := range map[string]Clock{"real": NewRealClock(), "at a speed": slow, "without room": full} {
			ctx, cancel := context.WithCancelCause(context.Background())
			go func() {
				time.Sleep(time.Second)
				cancel(errTest)
			}()
			start := time.Now()
			err := c.Wait(ctx, time.Hour)
			if !errors.Is(err, errTest) || time.Since(start) != time.Second {
				t.Errorf("%s: %v after %v", name, err, time.Since(start))
			}
		}
	})
}

// TestFastClockMoves: without a speed and without want of room waiting takes no time at all, and never goes back.
func TestFastClockMoves(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		start, c := time.Now(), &FastClock{Room: func() bool { return true }}
		for i := range 10_000 {
			until := time.Duration(i) * 50 * time.Millisecond
			if err := c.Wait(context.Background(), until); err != nil || c.Now() != until {
				t.Fatalf("at %v, want %v; %v", c.Now(), until, err)
			}
		}
		at := c.Now()
		if _ = c.Wait(context.Background(), 0); c.Now() != at {
			t.Errorf("went back from %v to %v", at, c.Now())
		}
		if time.Since(start) != 0 {
			t.Errorf("took %v", time.Since(start))
		}
	})
}

// TestFastClockStandsWithoutRoom: while those who follow have no room the clock stands at one of its looks at the
// world, at the latest sixteen ticks on; and goes on as soon as there is room.
func TestFastClockStandsWithoutRoom(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var room atomic.Bool
		var ticks atomic.Int32
		c := &FastClock{Room: room.Load}
		go func() {
			for range 100 {
				_ = c.Wait(context.Background(), c.Now()+50*time.Millisecond)
				ticks.Add(1)
			}
		}()
		time.Sleep(10 * time.Second)
		synctest.Wait()
		if ticks.Load() >= 16 {
			t.Errorf("%d ticks without room", ticks.Load())
		}
		room.Store(true)
		time.Sleep(2 * time.Millisecond)
		synctest.Wait()
		if ticks.Load() != 100 {
			t.Errorf("%d ticks with room, want 100", ticks.Load())
		}
	})
}

// TestFastClockKeepsItsSpeed: at sixty times real time an hour takes a minute, to a look at the world.
func TestFastClockKeepsItsSpeed(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		for _, speed := range []float64{1, 60, 1000} {
			start, c := time.Now(), &FastClock{Speed: speed}
			const tick = 50 * time.Millisecond
			for until := tick; until <= time.Hour; until += tick {
				_ = c.Wait(context.Background(), until)
			}
			want := time.Duration(float64(time.Hour) / speed)
			if off := time.Since(start) - want; off < -time.Duration(16*float64(tick)/speed) || off > tick {
				t.Errorf("%g times: an hour took %v, want %v", speed, time.Since(start), want)
			}
		}
	})
}

// TestFastClockEndsWithItsContext: even when nothing holds it back the clock tells that its context has ended, at the
// latest at its next look at the world.
func TestFastClockEndsWithItsContext(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	c, ended := &FastClock{}, false
	for range 16 {
		ended = ended || c.Wait(ctx, 0) != nil
	}
	if !ended {
		t.Error("sixteen waits and no word")
	}
}
