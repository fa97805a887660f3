package batch

import (
	"slices"
)

// Line is one line of a run sheet: one disk, in the order of work.
type Line struct {
	No         int    `json:"no"` // from 1
	Disk       string `json:"disk"`
	Method     string `json:"method"`
	Missing    int    `json:"missing"` // sectors, before
	Block      int    `json:"block"`
	Changeover bool   `json:"changeover"` // not the method of the line before: change liquid and pads first
}

// Ticks are the boxes to tick for every line, in the order of the work. The drive's heads are cleaned twice: a disk may
// dirty them, and the next one must not suffer for it (common practice, no source).
func Ticks() []string {
	return []string{"heads cleaned", "method done", "dry", "heads cleaned", "read again"}
}

// Sheet puts a deal into an order of work.
//
// The work goes in rounds, and in a round every method has its turn once. The order of a round is drawn, and the next round
// goes backwards: A B C, C B A. A bench that warms up, pads that wear and a person who tires then favour no method: what
// grows evenly with time falls on all alike in two rounds. It also halves the changeovers. Disks of one block are done near
// each other, blocks in an order that is drawn, so that those that will be compared are compared at one time.
func (d Dealt) Sheet() []Line {
	c := stream(d.Seed, forOrdering)
	queues, longest := d.queues(c), 0
	for _, q := range queues {
		longest = max(longest, len(q))
	}
	var lines []Line
	var order []int
	for round := range longest {
		if round%2 == 0 {
			order = c.order(len(queues))
		} else {
			slices.Reverse(order)
		}
		for _, g := range order {
			if round >= len(queues[g]) {
				continue
			}
			p := queues[g][round]
			n := len(lines)
			lines = append(lines, Line{n + 1, p.Name, p.Group, p.Missing, p.Block, n > 0 && lines[n-1].Method != p.Group})
		}
	}
	return lines
}

// queues lists the disks of each method, in the order of their blocks; within a block they are shuffled. Methods come by
// name: the order in which they were given does not matter.
func (d Dealt) queues(c chance) [][]Placed {
	blocks := 0
	for _, p := range d.Disks {
		blocks = max(blocks, p.Block)
	}
	rank := c.order(blocks + 1)
	names := make([]string, len(d.Groups))
	for g, group := range d.Groups {
		names[g] = group.Name
	}
	slices.Sort(names)
	all := make([][]Placed, len(names))
	for g, name := range names {
		for _, p := range d.Disks {
			if p.Group == name {
				all[g] = append(all[g], p)
			}
		}
		mixed := make([]Placed, len(all[g]))
		for to, from := range c.order(len(mixed)) {
			mixed[to] = all[g][from]
		}
		slices.SortStableFunc(mixed, func(a, b Placed) int { return rank[a.Block] - rank[b.Block] })
		all[g] = mixed
	}
	return all
}
