package record

import (
	"slices"
	"time"
)

// wall is the time by which a step can be compared with one that has no number: its own, or of a cycle its start, where
// that is to be trusted. Zero when it is not known.
func (s Step) wall() time.Time {
	switch {
	case s.Cycle != nil:
		if began, ok := s.Cycle.Began(); ok {
			return began
		}
	case s.Drying != nil:
		return dried(s.Drying)
	default:
		if e := s.Entry(); e != nil {
			return e.Wall
		}
	}
	return time.Time{}
}

// dried is when a drying by hand was over, as far as it is known.
func dried(d *KeptHandDrying) time.Time {
	if !d.Ended.IsZero() {
		return d.Ended
	}
	return d.Logged
}

// Entry returns what the step has of the journal; nil for a cycle and for a drying that was timed by hand.
func (s Step) Entry() *Entry {
	switch {
	case s.Register != nil:
		return &s.Register.Entry
	case s.Look != nil:
		return &s.Look.Entry
	case s.Heads != nil:
		return &s.Heads.Entry
	case s.Round != nil:
		return &s.Round.Entry
	case s.Readback != nil:
		return &s.Readback.Entry
	case s.Join != nil:
		return &s.Join.Entry
	case s.Deal != nil:
		return &s.Deal.Entry
	}
	return nil
}

// placeByWall puts a step before the first one that is later; at the end when its own time is not known.
func placeByWall(all []Step, s Step) []Step {
	when := s.wall()
	if when.IsZero() {
		return append(all, s)
	}
	at := slices.IndexFunc(all, func(o Step) bool { return o.wall().After(when) })
	if at < 0 {
		return append(all, s)
	}
	return slices.Insert(all, at, s)
}
