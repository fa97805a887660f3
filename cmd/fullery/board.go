package main

import (
	"context"
	"errors"
	"time"

	"fullery/controller"
	"fullery/controller/piobench"
	"fullery/recipe"
)

// The real bench, as the commands use it.

// openBoard claims a real bench, every output off.
func openBoard(b recipe.Bench, world piobench.World, o piobench.Options) (*piobench.Bench, error) {
	bench, err := piobench.Open(b, world, o)
	if err != nil {
		return nil, withStatus(statusPersonal, err)
	}
	return bench, nil
}

// takeBoard makes this process the only owner of a real bench and claims it, for a person who looks at it or tries it. off
// is called when another process asks for everything off, and says what came of it. done lets everything go, off. Whoever
// switches something on beats the vigil meanwhile, and lets it rest after.
func takeBoard(b recipe.Bench, world piobench.World, tolerant bool, off func() string) (_ *piobench.Bench, v *vigil, done func() error, err error) {
	if b.Simulated {
		return nil, nil, nil, said(statusUsage, "bench %q is simulated: it has no wires. Give a bench file with kind = \"board\"", b.Name)
	}
	o, err := own(b.Name, off)
	if err != nil {
		return nil, nil, nil, err
	}
	v, err = keepVigil(context.Background(), b)
	if err != nil {
		return nil, nil, nil, errors.Join(err, o.Close())
	}
	bench, err := openBoard(b, world, piobench.Options{Tolerant: tolerant})
	if err != nil {
		return nil, nil, nil, errors.Join(err, v.leave(!errors.Is(err, piobench.ErrMayBeOn)), o.Close())
	}
	return bench, v, func() error {
		err := closing{bench, v}.Close()
		return errors.Join(err, v.leave(err == nil), o.Close())
	}, nil
}

// offBoard switches every output of a real bench off that nobody owns.
func offBoard(b recipe.Bench) error { return piobench.Off(b, piobench.System("/")) }

// airWithin is how long the room's air is waited for.
const airWithin = 3 * time.Second

// roomAir reads the air that enters a bench, for the estimate of the drying: temperature in K and relative humidity. What
// it cannot read stays as the bench file has it.
func roomAir(ctx context.Context, from controller.Bench, room recipe.Room, fitted func(recipe.Sensor) bool) recipe.Room {
	ctx, cancel := context.WithTimeout(ctx, airWithin)
	defer cancel()
	began := time.Now()
	for ctx.Err() == nil {
		r, err := from.Read(time.Since(began))
		if err != nil {
			return room
		}
		air, damp := r[recipe.AirIn], r[recipe.AirInRH]
		if air.Quality == controller.Good {
			room.Air = air.Value
		}
		if damp.Quality == controller.Good {
			room.Humidity = damp.Value
		}
		if (!fitted(recipe.AirIn) || air.Quality == controller.Good) && (!fitted(recipe.AirInRH) || damp.Quality == controller.Good) {
			return room
		}
		select {
		case <-ctx.Done():
		case <-time.After(50 * time.Millisecond):
		}
	}
	return room
}
