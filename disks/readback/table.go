package readback

import (
	"fmt"
	"slices"
	"strings"
)

// State is what became of one sector in one reading. The zero value claims nothing.
type State uint8

// The states of a sector.
const (
	Untried State = iota // nobody tried to read it, which is not the same as bad
	Good                 // read without error
	Bad                  // found, but its data did not check
	Missing              // not found on its track
	numStates
)

var stateNames = [numStates]string{"untried", "good", "bad", "missing"}

// String returns the state's word in a table.
func (s State) String() string {
	if s < numStates {
		return stateNames[s]
	}
	return "unknown"
}

// Unread tells whether the sector was tried and did not come back.
func (s State) Unread() bool { return s == Bad || s == Missing }

// ParseState reads a state's word, in upper or lower case. The error names them all.
func ParseState(word string) (State, error) {
	for s, name := range stateNames {
		if strings.EqualFold(word, name) {
			return State(s), nil
		}
	}
	return Untried, fmt.Errorf("the state %q is not known; write good, bad, missing or untried", word)
}

// Table is what one reading of one disk gave: a state for every sector, or, where only counts were at hand, how many
// sectors of each track were not read. In the latter it is not known which ones.
type Table struct {
	format  Format
	states  []State // by sector, in the order of an image; nil when the table is by track
	missing []int   // by track: sectors not read, or -1 for a track not tried; nil when the table is by sector
}

// NewTable returns a table of which every sector is untried. The error is that of Format.Validate.
func NewTable(f Format) (*Table, error) {
	if err := f.Validate(); err != nil {
		return nil, err
	}
	f.Other = slices.Clone(f.Other)
	return &Table{format: f, states: make([]State, f.Total())}, nil
}

// NewTrackTable returns a table of counts by track, of which every track is untried. The error is that of
// Format.Validate.
func NewTrackTable(f Format) (*Table, error) {
	if err := f.Validate(); err != nil {
		return nil, err
	}
	f.Other = slices.Clone(f.Other)
	return &Table{format: f, missing: slices.Repeat([]int{-1}, f.Tracks())}, nil
}

// Format returns the format that the table was read with.
func (t *Table) Format() Format { return t.format }

// ByTrack tells whether the table has only counts by track.
func (t *Table) ByTrack() bool { return t.missing != nil }

// Set notes the state of one sector. The error says what the format has instead, or that the table is by track.
func (t *Table) Set(a Address, s State) error {
	lba, err := t.format.LBA(a)
	switch {
	case err != nil:
		return err
	case t.ByTrack():
		return fmt.Errorf("%s cannot be set: the table has only counts by track", a)
	case s >= numStates:
		return fmt.Errorf("%s cannot be set to a state that does not exist", a)
	}
	t.states[lba] = s
	return nil
}

// SetMissing notes how many sectors of a track were not read; -1 makes it untried. The error says what the format has
// instead, or that the table is by sector.
func (t *Table) SetMissing(cylinder, head, n int) error {
	if err := t.format.checkCylinderHead(cylinder, head); err != nil {
		return err
	}
	if !t.ByTrack() {
		return fmt.Errorf("track %d/%d cannot be set to a count: the table is by sector", cylinder, head)
	}
	if sectors, _ := t.format.TrackAt(cylinder, head); n < -1 || n > sectors {
		return fmt.Errorf("%d sectors of track %d/%d cannot be missing: it has %d", n, cylinder, head, sectors)
	}
	t.missing[t.format.track(cylinder, head)] = n
	return nil
}

// State returns the state of a sector, by its place in an image. known is false where the table has only a count for its
// track, some of it came back, and nobody noted which; the state is Missing then, because nothing else is proven: what
// is Good is always known to be.
// Outside of the disk it is Untried and known.
func (t *Table) State(lba int) (s State, known bool) {
	// Beside the disk nothing was tried, and that is certain: a caller's loop that runs over the end reads no good sector.
	if lba < 0 || lba >= t.format.Total() {
		return Untried, true
	}
	if !t.ByTrack() {
		return t.states[lba], true
	}
	track, _ := t.format.trackOf(lba)
	return t.trackState(track)
}

// trackState is State for any sector of a track of a table by track.
func (t *Table) trackState(track int) (State, bool) {
	sectors, _ := t.format.TrackAt(track/t.format.Heads, track%t.format.Heads)
	// Only the two ends say something of every sector: all came back, or none did.
	switch n := t.missing[track]; n {
	case -1:
		return Untried, true
	case 0:
		return Good, true
	default:
		return Missing, n == sectors
	}
}

// onTrack returns the states of one track's sectors, the first of which is start. They are not to be changed.
func (t *Table) onTrack(track, start, sectors int) []State {
	if !t.ByTrack() {
		return t.states[start : start+sectors]
	}
	s, _ := t.trackState(track)
	return slices.Repeat([]State{s}, sectors)
}

// Equal tells whether two tables say the same of the same geometry.
func (t *Table) Equal(u *Table) bool {
	return t.format.SameGeometry(u.format) && t.ByTrack() == u.ByTrack() &&
		slices.Equal(t.states, u.states) && slices.Equal(t.missing, u.missing)
}

// Counts is how many sectors are in each state. A table by track knows no bad ones: all that was not read is missing.
type Counts struct{ Good, Bad, Missing, Untried int }

// Unread returns the sectors that were tried and did not come back.
func (c Counts) Unread() int { return c.Bad + c.Missing }

// Total returns the sectors that the format has.
func (c Counts) Total() int { return c.Good + c.Bad + c.Missing + c.Untried }

// Share returns the readable share: sectors read without error, of all that the format has, from 0 to 1. What was not
// tried counts as not read.
func (c Counts) Share() float64 {
	if c.Total() == 0 {
		return 0
	}
	return float64(c.Good) / float64(c.Total())
}

// add counts n sectors of one state.
func (c *Counts) add(s State, n int) {
	switch s {
	case Good:
		c.Good += n
	case Bad:
		c.Bad += n
	case Missing:
		c.Missing += n
	default:
		c.Untried += n
	}
}

// join adds the counts of another part of the disk.
func (c *Counts) join(d Counts) {
	c.Good, c.Bad, c.Missing, c.Untried = c.Good+d.Good, c.Bad+d.Bad, c.Missing+d.Missing, c.Untried+d.Untried
}

// TrackCounts is the counts of one track.
type TrackCounts struct {
	Cylinder, Head int
	Counts
}

// Tracks returns the counts of every track, in the order of an image: cylinder 0 under head 0, cylinder 0 under head 1, …
func (t *Table) Tracks() []TrackCounts {
	f := t.format
	list := make([]TrackCounts, f.Tracks())
	start := 0
	for i := range list {
		list[i].Cylinder, list[i].Head = i/f.Heads, i%f.Heads
		sectors, _ := f.TrackAt(list[i].Cylinder, list[i].Head)
		list[i].Counts = t.count(i, start, sectors)
		start += sectors
	}
	return list
}

// count counts one track, whose first sector is start.
func (t *Table) count(track, start, sectors int) (c Counts) {
	// Of a table by track it is all one what the sectors' states are: the count itself is what was noted.
	if !t.ByTrack() {
		for _, s := range t.states[start : start+sectors] {
			c.add(s, 1)
		}
		return c
	}
	if n := t.missing[track]; n >= 0 {
		return Counts{Good: sectors - n, Missing: n}
	}
	return Counts{Untried: sectors}
}

// Total returns the counts of the whole disk.
func (t *Table) Total() (c Counts) {
	for _, track := range t.Tracks() {
		c.join(track.Counts)
	}
	return c
}
