package piobench

import (
	"errors"
	"fmt"

	"fullery/controller/piobench/lines"
	"fullery/recipe"
)

// Off switches every output of a bench off that nobody owns: lines by claiming them off and letting them go, PWM channels,
// and the chips on its buses. Everything is tried, whatever goes wrong with one part. A line that somebody holds is told
// with its holder: its load is that process's affair.
//
// What a line does when it is let go is the chip's affair. It was off last.
func Off(spec recipe.Bench, world World) error {
	if spec.Simulated {
		return nil
	}
	b := &Bench{spec: &spec, world: world, shaper: shaper{bench: &spec}, cancel: func() {}}
	var errs error
	var err error
	if b.chip, err = lines.Find(world.Kernel, spec.Board.Chip); err != nil {
		errs = errors.Join(errs, err)
	} else {
		errs = errors.Join(errs, b.claimAll())
	}
	errs = errors.Join(errs, b.chipsOff())
	return errors.Join(errs, b.Close())
}

// claimAll is claim that goes on after a failure.
func (b *Bench) claimAll() (errs error) {
	all := b.spec.Board.Outputs
	for o := range all {
		one := *b.spec
		for i := range one.Board.Outputs {
			one.Board.Outputs[i].Fitted = all[i].Fitted && i == o
		}
		part := &Bench{spec: &one, world: b.world, chip: b.chip}
		errs = errors.Join(errs, part.claim())
		b.outputs[o] = part.outputs[o]
	}
	return errs
}

// chipsOff switches every chip with outputs off.
func (b *Bench) chipsOff() (errs error) {
	for _, on := range b.spec.Board.Buses {
		found := &worker{}
		for o := range b.spec.Board.Outputs {
			w := &b.spec.Board.Outputs[o]
			if w.Fitted && w.Drive == recipe.DriveChip && w.Bus == on.Name && found.boardAt(w.Address) == nil {
				found.boards = append(found.boards, &board{name: chipName(w.Chip, w.Address, on.Name), address: w.Address})
			}
		}
		if len(found.boards) == 0 {
			continue
		}
		bus, err := b.world.open(on.Name, on.Adapter)
		if err != nil {
			errs = errors.Join(errs, err)
			continue
		}
		for _, p := range found.boards {
			if err := newPWMChip(bus, p.address, b.world.Sleep).AllOff(); err != nil {
				errs = errors.Join(errs, fmt.Errorf("%s: %w", p.name, err))
			}
		}
		errs = errors.Join(errs, bus.Close())
	}
	return errs
}

// chipName names a chip on a bus for people.
func chipName(chip string, address int, bus string) string {
	return fmt.Sprintf("%s at 0x%02x on %s", chip, address, bus)
}
