package main

import (
	"context"
	"errors"
	"fmt"

	"fullery/controller"
	"fullery/controller/simbench"
	"fullery/disks/record"
	"fullery/recipe"
)

// A station that comes up after program or power failed in the middle of a cycle: held, with the fan clearing what burns.

// hold keeps the bench held until a person has chosen what is to become of a cycle that was cut short and the fan has
// cleared the vapour, or until the station ends. It tells whether the vapour was cleared.
func (s *station) hold(ctx context.Context, cut *record.Cut) (purged bool) {
	s.log.printf("Held. %s", sayHeld(cut))
	p, plant, err := s.interrupted(ctx, cut)
	if err != nil { // the bench file says something else than it did: there is nothing to purge by
		s.log.printf("The fan cannot clear the vapour of that cycle, because its recipe does not fit the bench file any more: air the "+
			"room by other means. %v", err)
		return false
	}
	start := p.Interrupted(cut.Stage, cut.LiquidML/1e6)
	if start.PurgeLeft > 0 {
		s.log.printf("The fan clears the vapour first, for %s.", clock(start.PurgeLeft))
	}
	loop := controller.Loop{Program: p, Bench: plant, Clock: controller.NewKernelClock(), Beat: func() { s.beat(); s.up() },
		Until: func(now controller.State) bool { return s.over() || len(s.jobs) > 0 && now.PurgeLeft == 0 }}
	last, err := loop.Run(ctx, start)
	if err != nil && !errors.Is(err, errQuit) {
		s.log.printf("%v", err)
	}
	return last.PurgeLeft == 0
}

// sayHeld tells why the bench is held, and what a person can choose.
func sayHeld(cut *record.Cut) string {
	return fmt.Sprintf("%s Nothing starts by itself. Look at the disk: liquid that dried on it half-way is worse than wetting "+
		"it again. Then choose: fullery order resume --looked (the interrupted stage from its start), fullery order dry --looked "+
		"(go on to drying), or fullery order stop (only end it).", cut)
}

// interrupted makes the program of a cycle that was cut short, and its bench.
func (s *station) interrupted(ctx context.Context, cut *record.Cut) (*controller.Program, controller.Bench, error) {
	r, problems := recipe.Read(cut.Recipe+".toml", []byte(cut.RecipeText))
	if err := refused(problems); err != nil {
		return nil, nil, err
	}
	b := s.bench
	held, err := s.record.LastLiquid(ctx, b.Name)
	if err != nil {
		return nil, nil, err
	}
	b.PadsAndBathHeld = held.Flammable
	p, err := controller.Compile(r, b)
	if err != nil {
		return nil, nil, err
	}
	if s.board == nil {
		return p, simbench.New(b, r), nil
	}
	return p, s.board, nil
}

// chosen is the choice that an order stands for while the bench is held since a failure.
func chosen(o controller.Order) (record.Choice, bool) {
	switch o {
	case controller.Resume:
		return record.ToResume, true
	case controller.ToDry:
		return record.ToDry, true
	case controller.Stop, controller.Abort, controller.Reset:
		return record.ToEnd, true
	default:
		return "", false
	}
}
