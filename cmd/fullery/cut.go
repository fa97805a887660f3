package main

import (
	"context"
	"fmt"

	"fullery/disks/record"
	"fullery/recipe"
)

// What a bench's last cycle left behind: a cycle that was cut short, and what pads and bath held.

// askRecord asks what this bench's last cycle left behind: a cycle cut short, and what pads and bath held.
func (j *job) askRecord(ctx context.Context, r *recipe.Recipe) error {
	held, err := j.record.LastLiquid(ctx, j.bench.Name)
	if err != nil {
		return withStatus(statusUsage, err)
	}
	switch {
	case j.flags.changedOver: // the person's word; it is written down when the cycle begins
	case held.Flammable != "":
		j.bench.PadsAndBathHeld = held.Flammable
	case !held.Known && !j.bench.Simulated: // a new record knows nothing of an old bench
		j.bench.PadsAndBathHeld = "nobody knows what"
	}
	if j.cut, err = j.record.CutShort(ctx, j.bench.Name); err != nil {
		return withStatus(statusUsage, err)
	}
	return j.chooseCut(r)
}

// chooseCut asks the person, or takes their choice, about a cycle that was cut short.
func (j *job) chooseCut(r *recipe.Recipe) error {
	choice := record.Choice(j.flags.cut)
	switch {
	case j.cut == nil && choice != "":
		return said(statusUsage, "no cycle of bench %q was cut short: leave --cut out", j.bench.Name)
	case j.cut == nil:
		return nil
	case choice == record.ToResume || choice == record.ToDry || choice == record.ToEnd:
		return j.takeCut(r)
	case choice != "":
		return said(statusUsage, "--cut %s is no choice: resume, dry or end", choice)
	default:
		return said(statusPersonal, "%s\nNothing starts by itself. Look at the disk: liquid that dried on it half-way is worse "+
			"than wetting it again.\nThen choose: run --cut resume (the interrupted stage from its start), run --cut dry (go on "+
			"to drying), or run --cut end (only end it; after a flammable liquid the fan purges).", j.cut)
	}
}

// takeCut takes recipe and disk from the cycle that was cut short: a person who goes on with it goes on with that one.
func (j *job) takeCut(r *recipe.Recipe) error {
	again, problems := recipe.Read(j.cut.Recipe+".toml", []byte(j.cut.RecipeText))
	if j.named != "" && again.Name != r.Name {
		return said(statusUsage, "cycle %d that was cut short ran %s, not %s: leave the recipe out", j.cut.Number, again.Name, r.Name)
	}
	if j.flags.disk != "" && j.flags.disk != j.cut.Disk {
		return said(statusUsage, "cycle %d that was cut short has disk %q, not %q: leave --disk out", j.cut.Number, j.cut.Disk, j.flags.disk)
	}
	j.flags.disk, *r = j.cut.Disk, again
	if j.flags.cut == string(record.ToEnd) { // it ends on the bench as it was: nothing but the fan will run
		if bench, bad := recipe.ReadBench(j.bench.Name+".toml", []byte(j.cut.BenchText)); len(bad.Errors()) == 0 {
			held := j.bench.PadsAndBathHeld
			j.bench = bench
			j.bench.PadsAndBathHeld = held
		}
	}
	return refused(problems)
}

// heldHint adds the way out where what pads and bath held is in the way.
func (j *job) heldHint(err error) error {
	if j.bench.PadsAndBathHeld == "" {
		return err
	}
	return fmt.Errorf("%w\nIf you have changed pads and bath of bench %q since they held %s, say so with --changed-over",
		err, j.bench.Name, j.bench.PadsAndBathHeld)
}
