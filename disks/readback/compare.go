package readback

import "fmt"

// Change is what became of the sectors of a track or a disk between two readings. Every sector is in exactly one of the
// counts. Unread is bad or missing; what was untried is kept apart, because nothing was lost or regained there.
type Change struct {
	Regained     int // unread before, good after
	NewlyLost    int // good before, unread after
	StillMissing int // unread in both
	StillGood    int // good in both

	FirstGood      int // untried before, good after
	FirstMissing   int // untried before, unread after
	DroppedGood    int // good before, untried after
	DroppedMissing int // unread before, untried after
	NeverTried     int // untried in both

	// Exact is false where one of the tables has only counts by track, and the counts leave open which sectors they
	// mean. Regained and NewlyLost are then the fewest that explain the counts, and StillMissing and StillGood the most.
	Exact bool
}

// Net returns regained less newly lost, in sectors. Between readings that tried every sector it is right even where
// Exact is false.
func (c Change) Net() int { return c.Regained - c.NewlyLost }

// TrackChange is the change of one track.
type TrackChange struct {
	Cylinder, Head int
	Change
}

// Comparison is the change between two readings, by track in the order of an image, and in total.
type Comparison struct {
	Total  Change
	Tracks []TrackChange
}

// Compare says what became of each sector between two readings of one disk. The error says how their formats differ.
func Compare(before, after *Table) (*Comparison, error) {
	f := before.format
	if !f.SameGeometry(after.format) {
		return nil, fmt.Errorf("the tables cannot be compared: before has the format %s, after %s; read both with the disk's own",
			f, after.format)
	}
	// Exact begins as true: of no tracks at all nothing is open, and add only takes it away.
	c := &Comparison{Total: Change{Exact: true}, Tracks: make([]TrackChange, f.Tracks())}
	start := 0
	for i := range c.Tracks {
		t := &c.Tracks[i]
		t.Cylinder, t.Head = i/f.Heads, i%f.Heads
		sectors, _ := f.TrackAt(t.Cylinder, t.Head)
		if before.ByTrack() || after.ByTrack() {
			t.Change = leastChange(before.count(i, start, sectors), after.count(i, start, sectors))
		} else {
			t.Change = changeOf(before.states[start:start+sectors], after.states[start:start+sectors])
		}
		c.Total.add(t.Change)
		start += sectors
	}
	return c, nil
}

// changeOf compares sector by sector.
func changeOf(before, after []State) Change {
	var n [3][3]int
	for i, b := range before {
		n[kindOf(b)][kindOf(after[i])]++
	}
	return change(n, true)
}

// The kinds of states that a comparison tells apart.
const (
	kindGood = iota
	kindUnread
	kindUntried
)

// kindOf joins bad and missing: a comparison asks whether the sector came back, not how it failed. Anything that is no
// known state counts as untried, which claims nothing.
func kindOf(s State) int {
	switch {
	case s == Good:
		return kindGood
	case s.Unread():
		return kindUnread
	}
	return kindUntried
}

// leastChange compares counts. It supposes that as many sectors as the counts allow stayed what they were; with three
// kinds that leaves one way to share out the rest, because each kind has either too many before or too many after.
func leastChange(before, after Counts) Change {
	b := [3]int{before.Good, before.Unread(), before.Untried}
	a := [3]int{after.Good, after.Unread(), after.Untried}
	exact := true
	for i := range 2 {
		// Untried needs no look: with good and unread fixed both before and after, the rest of the table is fixed.
		for j := range 2 { // sure when the fewest and the most that the margins allow are the same
			exact = exact && max(0, b[i]+a[j]-before.Total()) == min(b[i], a[j])
		}
	}
	var n [3][3]int
	for k := range n {
		n[k][k] = min(b[k], a[k])
		b[k], a[k] = b[k]-n[k][k], a[k]-n[k][k]
	}
	// Every kind now has a remainder on one side at most, so that the order of this filling makes no difference.
	for i := range n {
		for j := range n {
			moved := min(b[i], a[j])
			n[i][j] += moved
			b[i], a[j] = b[i]-moved, a[j]-moved
		}
	}
	return change(n, exact)
}

// change names the nine counts, which are by kind before and kind after.
func change(n [3][3]int, exact bool) Change {
	return Change{
		Regained: n[kindUnread][kindGood], NewlyLost: n[kindGood][kindUnread],
		StillMissing: n[kindUnread][kindUnread], StillGood: n[kindGood][kindGood],
		FirstGood: n[kindUntried][kindGood], FirstMissing: n[kindUntried][kindUnread],
		DroppedGood: n[kindGood][kindUntried], DroppedMissing: n[kindUnread][kindUntried],
		NeverTried: n[kindUntried][kindUntried], Exact: exact,
	}
}

// add adds the counts of another track. One track that leaves something open leaves the whole open.
func (c *Change) add(d Change) {
	c.Regained += d.Regained
	c.NewlyLost += d.NewlyLost
	c.StillMissing += d.StillMissing
	c.StillGood += d.StillGood
	c.FirstGood += d.FirstGood
	c.FirstMissing += d.FirstMissing
	c.DroppedGood += d.DroppedGood
	c.DroppedMissing += d.DroppedMissing
	c.NeverTried += d.NeverTried
	c.Exact = c.Exact && d.Exact
}
