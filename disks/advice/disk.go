package advice

import "fmt"

// mostSectors is more than any disk of the standards' formats has.
const mostSectors = 20000

// check returns which figures of a disk contradict each other.
func (d Disk) check() error {
	if d.Sectors < 1 || d.Sectors > mostSectors {
		return fmt.Errorf("a disk of %d sectors: say how many its format has (1 to %d)", d.Sectors, mostSectors)
	}
	if d.Found < 0 || d.Found > d.Sectors {
		return fmt.Errorf("%d sectors missing at first of %d: one of the two is wrong", d.Found, d.Sectors)
	}
	before, least := d.Found, d.Found
	for i, r := range d.Rounds {
		if err := r.check(before, d.Sectors); err != nil {
			return fmt.Errorf("round %d: %w", i+1, err)
		}
		before, least = r.Missing, min(least, r.Missing)
	}
	if d.JoinKnown && (d.Joined < 0 || d.Joined > least) {
		return fmt.Errorf("%d sectors missing with all readings joined, but one reading alone misses only %d", d.Joined, least)
	}
	return d.checkSeen()
}

func (r Round) check(before, sectors int) error {
	switch {
	case r.Regained < 0 || r.NewlyLost < 0 || r.Missing < 0 || r.Tries < 0:
		return fmt.Errorf("a count below zero")
	case r.Regained > before:
		return fmt.Errorf("%d sectors regained, but only %d were missing before", r.Regained, before)
	case r.NewlyLost > sectors-before:
		return fmt.Errorf("%d sectors newly lost, but only %d were readable before", r.NewlyLost, sectors-before)
	case before-r.Regained+r.NewlyLost != r.Missing:
		return fmt.Errorf("%d missing, %d regained and %d newly lost leave %d missing, not %d",
			before, r.Regained, r.NewlyLost, before-r.Regained+r.NewlyLost, r.Missing)
	}
	return nil
}

func (d Disk) checkSeen() error {
	if d.Seen == nil {
		return nil
	}
	if len(d.Seen) != len(d.Rounds)+2 {
		return fmt.Errorf("how often sectors came is told for %d readings, but there are %d", len(d.Seen)-1, len(d.Rounds)+1)
	}
	sum := 0
	for _, n := range d.Seen {
		if n < 0 {
			return fmt.Errorf("a count of sectors below zero")
		}
		sum += n
	}
	if sum != d.Sectors {
		return fmt.Errorf("how often sectors came is told for %d sectors of %d", sum, d.Sectors)
	}
	if d.JoinKnown && d.Seen[0] != d.Joined {
		return fmt.Errorf("%d sectors came in no reading, but %d are missing with all joined", d.Seen[0], d.Joined)
	}
	return nil
}

// last is how many sectors the last reading misses.
func (d Disk) last() int {
	if n := len(d.Rounds); n > 0 {
		return d.Rounds[n-1].Missing
	}
	return d.Found
}

// missing is how many sectors no reading has, as far as is known.
func (d Disk) missing() int {
	switch {
	case d.JoinKnown:
		return d.Joined
	case d.Seen != nil:
		return d.Seen[0]
	}
	return d.last() - d.complement()
}

// complement is how many of the last reading's missing sectors an earlier one has. Without a join that is at least what
// the last reading newly lost.
func (d Disk) complement() int {
	switch n := len(d.Rounds); {
	case d.JoinKnown:
		return d.last() - d.Joined
	case d.Seen != nil:
		return d.last() - d.Seen[0]
	case n > 0:
		return d.Rounds[n-1].NewlyLost
	}
	return 0
}

// tries is how often the last reading tried a sector that would not come; 0 is not known.
func (d Disk) tries() int {
	if n := len(d.Rounds); n > 0 {
		return d.Rounds[n-1].Tries
	}
	return d.Tries
}

func (d Disk) shedding() bool {
	for _, r := range d.Rounds {
		if r.Shedding {
			return true
		}
	}
	return false
}

// attempt is a round of cleaning with what there was to regain and to lose.
type attempt struct{ missing, regained, readable, lost int }

// cleaned returns the rounds of cleaning, in order.
func (d Disk) cleaned() (out []attempt) {
	before := d.Found
	for _, r := range d.Rounds {
		if !r.OnlyRead {
			out = append(out, attempt{before, r.Regained, d.Sectors - before, r.NewlyLost})
		}
		before = r.Missing
	}
	return out
}

// lossesGrow tells whether the last round of cleaning lost more than the one before, and at least what it regained.
func (d Disk) lossesGrow() bool {
	c := d.cleaned()
	n := len(c)
	return n >= 2 && c[n-1].lost > c[n-2].lost && c[n-1].lost >= c[n-1].regained
}
