package piobench

import (
	"errors"
	"fmt"

	"fullery/controller/piobench/lines"
	"fullery/recipe"
)

// sink is where the duty of one output goes. Set is called at every tick, and Close leaves the output off.
type sink interface {
	Set(duty float64) error
	Close() error
}

// lineSink is a line that is on or off.
type lineSink struct{ *lines.Output }

// Set writes the line at every tick, changed or not: what something else did to it lasts a tick at most.
func (l lineSink) Set(duty float64) error { return l.Output.Set(duty > 0) }

// pwmSink is a channel of the hardware PWM. It is written when its duty changes, and now and then besides: a write goes
// through the file system.
type pwmSink struct {
	*lines.PWM
	last  float64
	known bool
	ticks int
}

const rewrite = 20 // ticks

// Set writes the channel.
func (p *pwmSink) Set(duty float64) error {
	if p.ticks++; p.known && duty == p.last && p.ticks < rewrite {
		return nil
	}
	p.ticks = 0
	err := p.PWM.Set(duty)
	p.last, p.known = duty, err == nil
	return err
}

// outputs are all sinks of a bench, nil where none is fitted.
type outputs [recipe.NumOutputs]sink

// set drives every output, the ones that go off first. One that fails does not keep the others from being driven.
func (o *outputs) set(want *duties) error {
	var errs error
	for _, off := range [...]bool{true, false} {
		for i, s := range o {
			if s != nil && (want[i] == 0) == off {
				if err := s.Set(want[i]); err != nil {
					errs = errors.Join(errs, fmt.Errorf("%s: %w", recipe.Output(i), err))
				}
			}
		}
	}
	return errs
}

// close switches every output off and lets it go: all of them, whatever goes wrong with one.
func (o *outputs) close() error {
	var errs error
	// The heater's two switches and the pumps before the fan.
	for i := len(o) - 1; i >= 0; i-- {
		if o[i] != nil {
			if err := o[i].Close(); err != nil {
				errs = errors.Join(errs, fmt.Errorf("%s: %w", recipe.Output(i), err))
			}
		}
	}
	return errs
}

// claim claims every output that needs no bus, off.
func (b *Bench) claim() error {
	for i := range b.outputs {
		o := recipe.Output(i)
		w := &b.spec.Board.Outputs[i]
		if !w.Fitted {
			continue
		}
		switch w.Drive {
		case recipe.DrivePWM:
			p, err := lines.OpenPWM(b.world.Sysfs, o.String(), w.PWM, w.Channel, w.Frequency)
			if err != nil {
				return err
			}
			b.outputs[i] = &pwmSink{PWM: p}
		case recipe.DriveChip: // with its bus
		default:
			offset, err := b.line(o.String(), w.Line)
			if err != nil {
				return err
			}
			out, err := b.chip.Output(offset, o.String(), w.ActiveLow)
			if err != nil {
				return err
			}
			b.outputs[i] = lineSink{out}
		}
	}
	return nil
}

// line finds the offset of a line of the bench's chip.
func (b *Bench) line(role string, l recipe.Line) (int, error) {
	offset, err := b.chip.Line(l.Name, l.Offset)
	if err != nil {
		return 0, fmt.Errorf("%s: %w", role, err)
	}
	return offset, nil
}
