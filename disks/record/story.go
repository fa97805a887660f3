package record

import (
	"cmp"
	"context"
	"slices"
)

// Story is everything that the record knows of one disk.
type Story struct {
	Disk  DiskRow
	Steps []Step // in the order in which they were done
	Lacks []Lack // what is still missing
}

// Step is one thing that was done to a disk: exactly one of the pointers is set. Withdrawn entries are among them.
type Step struct {
	Register *RegisterChange
	Look     *KeptLook
	Cycle    *CycleStep
	Drying   *KeptHandDrying
	Heads    *KeptHeadCleaning // of the drive, before a reading of this disk
	Round    *KeptRound
	Readback *KeptReadback
	Join     *KeptJoin
	Deal     *DealStep

	cycle, entry int64 // where it stands: after that cycle, and after all entries of a lower number
}

// CycleStep is a cycle with the dryings that it timed.
type CycleStep struct {
	Summary
	Dryings []KeptDrying
}

// DealStep is what a deal gave the disk.
type DealStep struct {
	Entry
	Name string
	DealtDisk
}

// Story returns one disk's story; ErrUnknown when the record does not know it. Entries and cycles stand in their own
// order. A drying that was timed by hand has no number among them: it stands by wall time, as far as that is known, and
// otherwise at the end.
func (r *Record) Story(ctx context.Context, label string) (Story, error) {
	disk, err := r.DiskByLabel(ctx, label)
	if err != nil {
		return Story{}, err
	}
	s := Story{Disk: disk}
	for _, tell := range []func(context.Context, string, *[]Step) error{r.tellRegister, r.tellLooks, r.tellCycles, r.tellHeads,
		r.tellRounds, r.tellReadbacks, r.tellJoins, r.tellDeals} {
		if err := tell(ctx, label, &s.Steps); err != nil {
			return Story{}, err
		}
	}
	slices.SortStableFunc(s.Steps, func(a, b Step) int {
		return cmp.Or(cmp.Compare(a.cycle, b.cycle), cmp.Compare(a.entry, b.entry))
	})
	byHand, err := r.handDryings(ctx, `and disk = ? order by number`, label)
	if err != nil {
		return Story{}, err
	}
	for i := range byHand {
		s.Steps = placeByWall(s.Steps, Step{Drying: &byHand[i]})
	}
	s.Lacks = lacks(s.Disk, s.Steps)
	return s, nil
}

// tell adds what query found, each as the step that as makes of it.
func tell[T any](all []T, err error, to *[]Step, as func(*T) (Step, Entry)) error {
	for i := range all {
		step, e := as(&all[i])
		step.cycle, step.entry = e.AfterCycle, e.Number
		*to = append(*to, step)
	}
	return err
}

func (r *Record) tellRegister(ctx context.Context, disk string, to *[]Step) error {
	all, err := r.RegisterChanges(ctx, disk)
	return tell(all, err, to, func(c *RegisterChange) (Step, Entry) { return Step{Register: c}, c.Entry })
}

func (r *Record) tellLooks(ctx context.Context, disk string, to *[]Step) error {
	all, err := r.Looks(ctx, disk)
	return tell(all, err, to, func(l *KeptLook) (Step, Entry) { return Step{Look: l}, l.Entry })
}

func (r *Record) tellRounds(ctx context.Context, disk string, to *[]Step) error {
	all, err := r.Rounds(ctx, disk)
	return tell(all, err, to, func(d *KeptRound) (Step, Entry) { return Step{Round: d}, d.Entry })
}

func (r *Record) tellReadbacks(ctx context.Context, disk string, to *[]Step) error {
	all, err := r.Readbacks(ctx, disk)
	return tell(all, err, to, func(b *KeptReadback) (Step, Entry) { return Step{Readback: b}, b.Entry })
}

func (r *Record) tellJoins(ctx context.Context, disk string, to *[]Step) error {
	all, err := r.Joins(ctx, disk)
	return tell(all, err, to, func(d *KeptJoin) (Step, Entry) { return Step{Join: d}, d.Entry })
}

// tellHeads adds, for each reading, the last cleaning between it and the reading before on its drive.
func (r *Record) tellHeads(ctx context.Context, disk string, to *[]Step) error {
	all, err := r.headCleanings(ctx, `where j.number = h.number and h.number in (select
		(select max(c.number) from head_cleaning c where c.drive = b.drive and c.number < b.number and
		c.number > coalesce(b.drive_before, 0)) from readback b where b.disk = ?)`, disk)
	return tell(all, err, to, func(h *KeptHeadCleaning) (Step, Entry) { return Step{Heads: h}, h.Entry })
}

func (r *Record) tellDeals(ctx context.Context, disk string, to *[]Step) error {
	all, err := list(ctx, r, `select `+entryColumns+`, d.name, e.disk, e.method, e.missing, e.block
		from deal d, deal_disk e, journal j where j.number = d.number and e.deal = d.number and e.disk = ?`,
		func(d *DealStep) []any {
			return append(d.Entry.columns(), &d.Name, &d.Disk, &d.Method, &d.Missing, &d.Block)
		}, disk)
	return tell(all, err, to, func(d *DealStep) (Step, Entry) { return Step{Deal: d}, d.Entry })
}

// tellCycles adds the cycles, which stand before every entry that knows them.
func (r *Record) tellCycles(ctx context.Context, disk string, to *[]Step) error {
	cycles, err := r.CyclesOf(ctx, disk)
	if err != nil {
		return err
	}
	dryings, err := list(ctx, r, `select cycle, drying.stage, drying.liquid, time_min * 60, evidence, dry, air_c, air_pct, kept_g
		from drying, cycle where number = cycle and disk = ? order by cycle, seq`, func(d *KeptDrying) []any {
		return []any{&d.Cycle, &d.Stage, &d.Liquid, intoSeconds{&d.Time}, &d.Evidence, &d.Dry, &d.AirC, &d.AirPct, &d.KeptG}
	}, disk)
	if err != nil {
		return err
	}
	for _, c := range cycles {
		step := CycleStep{Summary: c}
		for _, d := range dryings {
			if d.Cycle == c.Number {
				step.Dryings = append(step.Dryings, d)
			}
		}
		*to = append(*to, Step{Cycle: &step, cycle: c.Number})
	}
	return nil
}
