package compare

import (
	"fmt"
	"math"
)

// What is refused beyond these is no set of disks: the largest formats have some thousands of sectors.
const (
	mostDisks   = 4000
	mostMethods = 24
	mostSectors = 10_000_000
)

// check returns why the rows cannot be compared.
func check(rows []Row) error {
	if len(rows) == 0 {
		return fmt.Errorf("there is no disk to compare: give at least one with its missing sectors before and after")
	}
	if len(rows) > mostDisks {
		return fmt.Errorf("%d disks are more than the %d that are compared at once: leave some out", len(rows), mostDisks)
	}
	seen := map[string]bool{}
	for _, r := range rows {
		if seen[r.Disk] {
			return fmt.Errorf("disk %q is there twice: a disk counts once, so keep the row of one round", r.Disk)
		}
		seen[r.Disk] = true
		if err := r.check(); err != nil {
			return fmt.Errorf("disk %q: %w", r.Disk, err)
		}
	}
	if n := len(methodsOf(rows)); n > mostMethods {
		return fmt.Errorf("there are %d methods; more than %d cannot be told apart: is the method's column the right one?", n, mostMethods)
	}
	return nil
}

// check returns what is impossible about a row by itself.
func (r Row) check() error {
	switch {
	case r.Disk == "":
		return fmt.Errorf("it has no label: give it one")
	case r.Method == "":
		return fmt.Errorf("it has no method: say how it was cleaned")
	case r.Before < 0 || r.After < 0 || r.Sectors < 0:
		return fmt.Errorf("a number of sectors below zero: count those that are missing")
	case max(r.Before, r.After, r.Sectors) > mostSectors:
		return fmt.Errorf("%d sectors are more than any disk has (%d here at most)", max(r.Before, r.After, r.Sectors), mostSectors)
	case r.Sectors > 0 && max(r.Before, r.After) > r.Sectors:
		return fmt.Errorf("%d sectors missing of the %d that it has: one of the two is wrong", max(r.Before, r.After), r.Sectors)
	case r.Split:
		return r.checkSplit()
	}
	return nil
}

// checkSplit returns why regained and newly lost do not go with before and after.
func (r Row) checkSplit() error {
	switch {
	case r.Regained < 0 || r.NewlyLost < 0:
		return fmt.Errorf("regained and newly lost cannot be below zero")
	case r.Regained > r.Before:
		return fmt.Errorf("%d sectors regained, but only %d were missing before", r.Regained, r.Before)
	case r.NewlyLost > mostSectors || r.NewlyLost-r.Regained != r.change():
		return fmt.Errorf("%d missing, %d regained and %d newly lost do not leave %d missing: correct one of the four",
			r.Before, r.Regained, r.NewlyLost, r.After)
	case r.Sectors > 0 && r.NewlyLost > r.Sectors-r.Before:
		return fmt.Errorf("%d sectors newly lost, but only %d were readable before", r.NewlyLost, r.Sectors-r.Before)
	}
	return nil
}

// sane is x, or nothing where x is no number that can be told.
func sane(x float64) *float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return nil
	}
	return &x
}
