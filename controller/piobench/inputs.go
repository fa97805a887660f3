package piobench

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"time"

	"fullery/controller"
	"fullery/controller/piobench/lines"
	"fullery/recipe"
	"fullery/sensors"
)

// contact is a contact on a line, read at every tick: the question to the kernel takes microseconds.
type contact struct {
	of     recipe.Sensor
	in     *lines.Input
	well   bool // the level of the closed contact
	steady sensors.Contact
}

// closes is how long a contact must be closed without a break to count: bouncing takes some milliseconds (common practice,
// no source). Open counts at once.
const closes = 50 * time.Millisecond

// read returns 1 while all is well and 0 while not. A line that cannot be read is a failure, and never well.
func (c *contact) read(now time.Duration) controller.Reading {
	high, err := c.in.High()
	value, err := c.steady.Next(high == c.well, err, now)
	if err != nil {
		return controller.Reading{Quality: controller.Failed}
	}
	return controller.Reading{Value: value, Quality: controller.Good}
}

// pulses counts the turns of something by the kernel's own times of its edges.
type pulses struct {
	of recipe.Sensor
	in *lines.Input

	mu      sync.Mutex
	tach    sensors.Tach
	trouble error // the edges cannot be had any more
}

// watch takes edges until the context ends.
func (p *pulses) watch(ctx context.Context) {
	err := p.in.Edges(ctx, func(e lines.Edge) {
		p.mu.Lock()
		p.tach.Edge(e.At, e.Seq)
		p.mu.Unlock()
	})
	if ctx.Err() == nil && err != nil {
		p.mu.Lock()
		p.trouble = err
		p.mu.Unlock()
	}
}

// read returns the speed.
func (p *pulses) read(now time.Duration) controller.Reading {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.trouble != nil {
		return controller.Reading{Quality: controller.Failed}
	}
	// The reading is of this moment, however old the newest edge is: that none came since is part of it.
	speed, _, err := p.tach.Speed(now)
	switch {
	case errors.Is(err, sensors.ErrNotReady): // too soon to tell
		return controller.Reading{}
	case errors.Is(err, sensors.ErrRange):
		return controller.Reading{Quality: controller.Implausible}
	case err != nil:
		return controller.Reading{Quality: controller.Failed}
	}
	return controller.Reading{Value: speed, Quality: controller.Good}
}

// claimInputs claims contacts and pulse lines.
func (b *Bench) claimInputs() error {
	for i := range recipe.NumSensors {
		w := &b.spec.Board.Inputs[i]
		if !b.spec.Sensors[i].Fitted || w.Chip != "" {
			continue
		}
		offset, err := b.line(i.String(), w.Line)
		if err != nil {
			return err
		}
		bias, edges := lines.PullUp, lines.NoEdges
		if i.Contact() && w.ToSupply {
			bias = lines.PullDown
		}
		if !i.Contact() {
			edges = lines.FallingEdges
		}
		in, err := b.chip.Input(offset, i.String(), bias, edges)
		if err != nil {
			return err
		}
		b.inputs = append(b.inputs, in)
		if i.Contact() {
			b.contacts = append(b.contacts, &contact{of: i, in: in, well: w.ToSupply, steady: sensors.Contact{Settle: closes}})
			continue
		}
		fastest := fastestOf(i, b.spec)
		if !(fastest > 0) {
			return fmt.Errorf("%s: the bench file does not say how fast it turns at most", i)
		}
		b.pulses = append(b.pulses, &pulses{of: i, in: in, tach: sensors.Tach{Pulses: w.Pulses, Fastest: fastest, Quiet: quiet(w.Pulses, fastest)}})
	}
	return nil
}

// quiet is how long no pulse may come before a part counts as standing: two pulses at a twentieth of full speed, from one
// second to eight.
func quiet(pulses int, fastest float64) time.Duration {
	s := 2 * 20 / (fastest * float64(max(pulses, 1)))
	return time.Duration(min(max(s, 1), 8) * float64(time.Second))
}

// fastestOf is how fast, in revolutions per second, what a sensor watches can turn.
func fastestOf(s recipe.Sensor, b *recipe.Bench) float64 {
	switch s {
	case recipe.PadsSpeed:
		return b.Pads.Fastest
	case recipe.HubSpeed:
		return b.Hub.Fastest
	case recipe.FanSpeed:
		return b.Fan.Fastest
	}
	return 0
}
