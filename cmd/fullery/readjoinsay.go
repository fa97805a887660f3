package main

import (
	"fmt"
	"io"
	"strings"

	"fullery/disks/readback"
)

const (
	// mostDisputed is how many disputed sectors are printed one by one. More are hardly one disk.
	mostDisputed = 100
	// manyDisputed is from how many on it is asked whether it is one disk.
	manyDisputed = 10
)

// print says what came of a join for a person: the disputed first, because a person must decide there.
func (x *joining) print(w io.Writer) {
	j := x.joined
	if n := len(j.Disputed); n > 0 {
		fmt.Fprintf(w, "Disputed, good copies differ and no majority of three or more decides: %s, filled with words.\n", sectors(n))
		for _, d := range j.Disputed[:min(n, mostDisputed)] {
			fmt.Fprintf(w, "  %s: %s\n", x.place(d.LBA), x.sides(d))
		}
		if n > mostDisputed {
			fmt.Fprintf(w, "  and %d more, which --json lists\n", n-mostDisputed)
		}
		if both := x.shared(); n >= manyDisputed && 2*n > both {
			fmt.Fprintf(w, "  That is most of the %d sectors that more than one reading has: are they readings of the same disk?\n", both)
		}
		fmt.Fprintln(w)
	}
	// What came of it, and what each reading was good for: one from which nothing was taken may still have been a witness.
	total := j.Table.Total()
	fmt.Fprintf(w, "%s: %s\n", onScreen(x.outs.image), countWords(total))
	taken := x.taken()
	for i, r := range x.readings {
		fmt.Fprintf(w, "  reading %d, %s: %s good, %d taken from it%s\n", r.Number, onScreen(r.table.path), sectors(r.Table.Total().Good), taken[i],
			x.remark(i))
	}
	if n := len(j.Outvoted); n > 0 {
		fmt.Fprintf(w, "  %s where a majority of the copies decided against another\n", sectors(n))
	}
	if n := len(j.WithoutImage); n > 0 {
		fmt.Fprintf(w, "  %s read in a reading without an image: not in the joined one, and missing in its table\n", sectors(n))
	}
	fmt.Fprintf(w, "Table %s, origin of each sector %s, SHA-256 of all files %s\n", onScreen(x.outs.table), onScreen(x.outs.provenance),
		onScreen(x.outs.sums))
}

// remark says why less came from a reading than was read. Rounds of the join are in the order of their numbers, as the
// readings are.
func (x *joining) remark(i int) string {
	switch n := x.joined.Unplaced[i]; {
	case x.readings[i].Image == nil:
		return "; it has no image"
	case n > 0:
		return fmt.Sprintf("; of %d only the count is known, so that they cannot be taken", n)
	}
	return ""
}

// taken counts the sectors that came from each reading.
func (x *joining) taken() []int {
	n := make([]int, len(x.readings))
	for _, from := range x.joined.From {
		if from >= 0 {
			n[from]++
		}
	}
	return n
}

// shared counts the sectors of which more than one reading has a good copy.
func (x *joining) shared() (both int) {
	for lba := range x.joined.From {
		copies := 0
		for _, r := range x.readings {
			if s, _ := r.Table.State(lba); r.Image != nil && s == readback.Good {
				copies++
			}
		}
		if copies > 1 {
			both++
		}
	}
	return both
}

// place is where a sector is; the join made its number, so that it is on the disk.
func (x *joining) place(lba int) readback.Address {
	a, _ := x.joined.Table.Format().At(lba)
	return a
}

// sides names the readings that agree with each other: "a.csv, c.csv against b.csv".
func (x *joining) sides(d readback.Dispute) string {
	var sides []string
	for _, names := range x.names(d) {
		for i := range names {
			names[i] = onScreen(names[i])
		}
		sides = append(sides, strings.Join(names, ", "))
	}
	return strings.Join(sides, " against ")
}

// names are the sides of a dispute, each by the names of its readings.
func (x *joining) names(d readback.Dispute) (sides [][]string) {
	for _, same := range d.Copies {
		var names []string
		for _, round := range same {
			names = append(names, x.joined.Rounds[round].String())
		}
		sides = append(sides, names)
	}
	return sides
}

// joinedJSON is the same for a program.
type joinedJSON struct {
	Format       string              `json:"format"`
	Counts       countsJSON          `json:"counts"`
	Readings     []joinedReadingJSON `json:"readings"`
	Disputed     []disputeJSON       `json:"disputed"`
	Outvoted     []disputeJSON       `json:"outvoted"`
	WithoutImage int                 `json:"without_image"`
	Written      []sumJSON           `json:"written"`
	Sums         string              `json:"sums"`
}

type joinedReadingJSON struct {
	Reading  int        `json:"reading"`
	Table    sumJSON    `json:"table"`
	Image    *sumJSON   `json:"image"`
	Counts   countsJSON `json:"counts"`
	Taken    int        `json:"taken"`    // sectors of the joined image that came from it
	Unplaced int        `json:"unplaced"` // sectors of which only the count is known
}

type sumJSON struct {
	File   string `json:"file"`
	SHA256 string `json:"sha256"`
}

// disputeJSON is a sector of which good copies differ. Copies lists the tables of the readings that agree; of an outvoted
// one the first list was chosen.
type disputeJSON struct {
	Cylinder int        `json:"cylinder"`
	Head     int        `json:"head"`
	Sector   int        `json:"sector"`
	LBA      int        `json:"lba"`
	Copies   [][]string `json:"copies"`
}

// json lists every dispute, however many there are.
func (x *joining) json() joinedJSON {
	out := joinedJSON{Format: x.joined.Table.Format().String(), Counts: countsOf(x.joined.Table.Total()),
		Disputed: x.disputes(x.joined.Disputed), Outvoted: x.disputes(x.joined.Outvoted), WithoutImage: len(x.joined.WithoutImage),
		Sums: x.outs.sums}
	taken := x.taken()
	for i, r := range x.readings {
		one := joinedReadingJSON{Reading: r.Number, Table: sumJSON{r.table.path, r.table.sha256}, Counts: countsOf(r.Table.Total()),
			Taken: taken[i], Unplaced: x.joined.Unplaced[i]}
		if r.Image != nil {
			one.Image = &sumJSON{r.image.path, r.image.sha256}
		}
		out.Readings = append(out.Readings, one)
	}
	for _, s := range x.written {
		out.Written = append(out.Written, sumJSON{s.path, s.sha256})
	}
	return out
}

// disputes gives the addresses with both numbers: tools count from zero, people by cylinder, head and sector.
func (x *joining) disputes(list []readback.Dispute) []disputeJSON {
	out := []disputeJSON{}
	for _, d := range list {
		a := x.place(d.LBA)
		out = append(out, disputeJSON{a.Cylinder, a.Head, a.Sector, d.LBA, x.names(d)})
	}
	return out
}
