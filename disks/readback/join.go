package readback

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strconv"
)

// Fill stands in a joined image where no sector was chosen, over and over to the sector's end: words, so that whoever
// opens a file with a hole sees the hole. Every sector length is a multiple of its sixteen bytes. It is one for what was
// never read and what is disputed, so that a joined image can be joined again and stays what it was; the table tells them
// apart.
const Fill = "sector unknown  "

// Source is which reading something came from.
type Source struct {
	Number int    // of the round, from 0
	Name   string // tells several readings of one round apart, or stands for the number; may be empty
}

// String returns the name, or the number where there is none.
func (s Source) String() string {
	if s.Name != "" {
		return s.Name
	}
	return strconv.Itoa(s.Number)
}

func (s Source) compare(t Source) int {
	return cmp.Or(cmp.Compare(s.Number, t.Number), cmp.Compare(s.Name, t.Name))
}

// Round is one reading that goes into a join. Give each reading once: a copy of a copy would count as a witness.
type Round struct {
	Source
	Table *Table
	Image []byte // flat, of the size of the table's format; nil: the reading has no image, and no bytes come from it
}

// Dispute is a sector of which the good copies differ. Copies lists the rounds by what they hold, as places in
// Joined.Rounds: those in one list hold the same bytes. The largest list is first; of equal ones that with the first
// round.
type Dispute struct {
	LBA    int
	Copies [][]int
}

// Joined is the good sectors of several rounds as one image. It does not depend on the order of the rounds.
type Joined struct {
	Image []byte
	// Table is good where a sector was chosen and bad where it is disputed: it was found, but which copy is right is
	// not known. Elsewhere it is what the rounds came nearest to: bad, else missing, else untried.
	Table  *Table
	Rounds []Source // sorted by number, then name
	From   []int    // per sector, the first of Rounds that holds the chosen bytes, or -1

	Disputed []Dispute // no strict majority of three or more copies: nothing was chosen
	Outvoted []Dispute // the first of Copies was chosen by such a majority
	// WithoutImage lists sectors that some round read, but none that gave an image, so that their bytes are not in the
	// joined one. The table calls them missing.
	WithoutImage []int
	// Unplaced says for each of Rounds how many sectors were read of tracks for which the table has only a count that
	// leaves open which they are. No bytes are taken from such a track.
	Unplaced []int
}

// Join joins the good sectors of all rounds. Copies that agree are taken. Where they differ, more than half of three or
// more must agree; otherwise the sector is disputed. What is disputed and what no round read is filled with Fill.
//
// The error says which round cannot be used and why: no table, another format, an image of another size, the same
// number and name twice; or that there is no image at all.
func Join(rounds []Round) (*Joined, error) {
	sorted := slices.Clone(rounds)
	slices.SortStableFunc(sorted, func(a, b Round) int { return a.compare(b.Source) })
	if err := checkRounds(sorted); err != nil {
		return nil, err
	}
	table, err := NewTable(sorted[0].Table.format)
	if err != nil {
		return nil, err
	}
	f := table.format
	f.Media = mediaOf(sorted)
	table.format = f
	// From and the lists below are places in sorted, which is what makes them free of the order in which rounds came.
	j := &joiner{rounds: sorted, conflict: make([]bool, f.Total()), Joined: &Joined{Image: make([]byte, f.Size()), Table: table,
		From: slices.Repeat([]int{-1}, f.Total()), Unplaced: make([]int, len(sorted))}}
	for i, r := range sorted {
		j.Rounds = append(j.Rounds, r.Source)
		j.Unplaced[i] = unplaced(r.Table)
	}
	// A track at a time, in the order of the image: fifty images of 3 MB do not fit into a processor's cache, fifty
	// tracks do.
	lba, offset := 0, 0
	for track := range f.Tracks() {
		sectors, size := f.TrackAt(track/f.Heads, track%f.Heads)
		j.track(track, lba, sectors, offset, size)
		j.settle(lba, sectors, offset, size)
		lba, offset = lba+sectors, offset+sectors*size
	}
	return j.Joined, nil
}

// checkRounds refuses what cannot be joined. The rounds are sorted.
func checkRounds(rounds []Round) error {
	// The images come last in each round: a size that is wrong is better told when the format is known to be right.
	images := 0
	for i, r := range rounds {
		first := rounds[0].Table
		switch {
		case r.Number < 0:
			return fmt.Errorf("round %d cannot be: rounds are numbered from 0", r.Number)
		case r.Table == nil:
			return fmt.Errorf("round %s has no table: without one nobody knows which of its sectors are good; give its readback table", r)
		case i > 0 && r.compare(rounds[i-1].Source) == 0:
			return fmt.Errorf("round %s is given twice: give every reading once, or give the readings different names", r)
		case !r.Table.format.SameGeometry(first.format):
			return fmt.Errorf("round %s has the format %s, and round %s %s: read both tables with the disk's own format",
				rounds[0], first.format, r, r.Table.format)
		}
		if r.Image == nil {
			continue
		}
		if images++; len(r.Image) != r.Table.format.Size() {
			return fmt.Errorf("round %s: %w", r, CheckImage(r.Table.format, int64(len(r.Image))))
		}
	}
	if images == 0 {
		return errors.New("no round has an image: there is nothing to join; give the flat image of at least one reading")
	}
	return nil
}

// mediaOf returns the size of the cartridge that the rounds agree on; what one leaves unsaid another may say.
func mediaOf(rounds []Round) Media {
	// Two that contradict each other leave it unsaid; the geometry is the same, so that the join itself stands.
	var m Media
	for _, r := range rounds {
		said := r.Table.format.Media
		if m != 0 && said != 0 && said != m {
			return 0
		}
		m = max(m, said)
	}
	return m
}

// unplaced counts the sectors that a table by track says were read without saying which.
func unplaced(t *Table) int {
	n := 0
	for track, missing := range t.missing {
		if _, known := t.trackState(track); !known {
			sectors, _ := t.format.TrackAt(track/t.format.Heads, track%t.format.Heads)
			n += sectors - missing
		}
	}
	return n
}

// joiner is a join going on.
type joiner struct {
	*Joined
	rounds   []Round
	conflict []bool // per sector: two good copies differ
}

// track takes from every round the good sectors of one track that no earlier round had, and compares the others. Round by
// round through one track the output stays in the processor's cache, and each image is read once from end to end.
func (j *joiner) track(track, lba, sectors, offset, size int) {
	for i, r := range j.rounds {
		if r.Image == nil {
			continue
		}
		for s, state := range r.Table.onTrack(track, lba, sectors) {
			if state != Good {
				continue
			}
			ours := j.Image[offset+s*size : offset+(s+1)*size]
			theirs := r.Image[offset+s*size : offset+(s+1)*size]
			if j.From[lba+s] < 0 {
				copy(ours, theirs)
				j.From[lba+s] = i
			} else if !j.conflict[lba+s] && !bytes.Equal(ours, theirs) {
				j.conflict[lba+s] = true
			}
		}
	}
}

// settle gives every sector of a track its state, and its bytes where the copies differ or there are none.
func (j *joiner) settle(lba, sectors, offset, size int) {
	for s := range sectors {
		here := j.Image[offset+s*size : offset+(s+1)*size]
		switch {
		// A conflict comes first: From is set there too, by whichever copy was first.
		case j.conflict[lba+s]:
			j.vote(lba+s, offset+s*size, here)
		case j.From[lba+s] >= 0:
			j.Table.states[lba+s] = Good
		default:
			j.Table.states[lba+s] = j.nearest(lba + s)
			fill(here)
		}
	}
}

// vote looks for a strict majority among three or more copies of a sector.
func (j *joiner) vote(lba, offset int, here []byte) {
	d := Dispute{LBA: lba, Copies: j.copies(lba, offset, len(here))}
	n := 0
	for _, same := range d.Copies {
		n += len(same)
	}
	// Of two that differ neither has more than half, so that the three follows from the majority; it is asked for all
	// the same, because it is the promise.
	if winners := d.Copies[0]; n >= 3 && 2*len(winners) > n {
		copy(here, j.rounds[winners[0]].Image[offset:])
		j.From[lba], j.Table.states[lba] = winners[0], Good
		j.Outvoted = append(j.Outvoted, d)
		return
	}
	fill(here)
	j.From[lba], j.Table.states[lba] = -1, Bad
	j.Disputed = append(j.Disputed, d)
}

// copies sorts the rounds that hold a good copy of a sector by what they hold.
func (j *joiner) copies(lba, offset, size int) [][]int {
	var groups [][]int
	for i, r := range j.rounds {
		if state, _ := r.Table.State(lba); r.Image == nil || state != Good {
			continue
		}
		// Compared with one of each group: those in it are equal. There are rarely more than two groups.
		at := slices.IndexFunc(groups, func(g []int) bool {
			return bytes.Equal(j.rounds[g[0]].Image[offset:offset+size], r.Image[offset:offset+size])
		})
		if at < 0 {
			groups = append(groups, nil)
			at = len(groups) - 1
		}
		groups[at] = append(groups[at], i)
	}
	// Groups were begun in the order of the rounds, and a stable sort keeps that among equals.
	slices.SortStableFunc(groups, func(a, b []int) int { return len(b) - len(a) })
	return groups
}

// nearest returns the state of a sector that no round has good bytes of.
func (j *joiner) nearest(lba int) State {
	// Bad is nearer than missing: there is a sector, and one more reading may get it. What was read in a round without
	// an image is missing from this one.
	nearest, elsewhere := Untried, false
	for _, r := range j.rounds {
		switch state, _ := r.Table.State(lba); {
		case state == Good: // read, but there is no image
			elsewhere = true
		case state == Bad, state == Missing && nearest == Untried:
			nearest = state
		}
	}
	if elsewhere {
		j.WithoutImage = append(j.WithoutImage, lba)
		nearest = Missing
	}
	return nearest
}

// fill writes Fill over a sector.
func fill(sector []byte) {
	for i := 0; i < len(sector); i += len(Fill) {
		copy(sector[i:], Fill)
	}
}
