// Package batch deals disks to methods so that the groups start alike, orders the work, and says which disks may be
// exchanged when the methods are compared.
//
// # What alike means
//
// A group has a mean and a spread of missing sectors; the spread is the standard deviation, with n − 1, as for any
// sample. Both are rounded to thousandths of a sector. The imbalance of a deal is the largest difference between the
// means of two groups plus the largest difference between the spreads of two groups. It is a whole number of thousandths,
// so that deals are compared exactly, and alike on every machine. A group of one disk has no spread: spreads are compared
// among the groups that have one. Sizes of groups differ at most by one. No deal has a smaller imbalance than an optimal
// one; see search.go for how that is proved, and bound.go for what is known when it is not.
//
// # What chance does, and what it does not
//
// Chance chooses among the optimal deals, each as likely as any other: which disks go together, and which group gets which
// method. Nobody's hopes for a method can then have a hand in it. The seed is part of the result; with the same disks,
// methods, seed and nodes the same deal comes out again. The order in which disks and methods are named does not matter.
//
// Chance alone does not carry a permutation test here: where only one deal is optimal, all that is drawn is which
// group gets which method, and no test could find more than that allows. The comparison rests on something else, which
// holds for any deal of this package: a deal looks at missing sectors and constraints, at nothing else, and at nothing that
// comes afterwards. If methods make no difference, and disks that start alike and stand under the same constraints fare
// alike, then what is measured on such disks may be exchanged among them. See Block.
package batch

import (
	"cmp"
	"slices"
	"strconv"
)

// What can be dealt. More sectors than MaxMissing no flexible disk has; beyond these limits sums could overflow.
const (
	MaxDisks   = 10_000
	MaxMethods = 64
	MaxMissing = 500_000
)

// DefaultNodes is an amount of search that deals 24 disks to 4 methods exactly. Most need a hundredth of it; not even
// all of it was enough where missing sectors grow from disk to disk by a factor of 1.7.
const DefaultNodes = 40_000_000

// Disk is one disk to be dealt.
type Disk struct {
	Name    string   // unlike all others
	Missing int      // sectors not read so far, 0 to MaxMissing; sectors never tried are not missing
	Only    string   // the one method that it may get; "" for any
	Never   []string // methods that it must not get
}

// Dealt is a deal.
type Dealt struct {
	Groups    []Group  `json:"groups"`    // in the order in which the methods were given
	Imbalance float64  `json:"imbalance"` // sectors, to a thousandth: see the package comment
	Optimal   bool     `json:"optimal"`   // proved: no deal has a smaller imbalance
	Bound     float64  `json:"bound"`     // sectors: no deal has a smaller imbalance than this
	Seed      uint64   `json:"seed"`
	Uniform   bool     `json:"uniform"` // every optimal deal was as likely as this one; false when there were too many to look at
	Equal     float64  `json:"equal"`   // how many deals are optimal, methods told apart; 0 when not Uniform
	Nodes     int      `json:"nodes"`   // groups looked at in the search
	Disks     []Placed `json:"disks"`   // by name
}

// Group is what one method gets.
type Group struct {
	Name   string   `json:"name"`  // the method
	Disks  []string `json:"disks"` // by name
	Mean   float64  `json:"mean"`  // missing sectors, to a thousandth
	Spread *float64 `json:"spread"`
	// Spread is the standard deviation of missing sectors, to a thousandth; nil (null) for a group of one disk.
}

// Placed is a disk of a deal.
type Placed struct {
	Name    string `json:"disk"`
	Missing int    `json:"missing"`
	Group   string `json:"group"`
	// Block tells which disks may be exchanged in a permutation test: those of the same block. Blocks count from 1 in the
	// order of missing sectors, constraint by constraint. 0 is a disk that only one method may get: it was placed, not
	// dealt, has nobody to be exchanged with, and is no evidence for or against its method.
	Block int `json:"block"`
}

// Numbered names n groups, for a deal without methods: "group 1" to "group n".
func Numbered(n int) []string {
	names := make([]string, 0, max(0, min(n, MaxMethods+1)))
	for i := range cap(names) {
		names = append(names, "group "+strconv.Itoa(i+1))
	}
	return names
}

// Deal deals disks to methods. nodes limits the search: how many groups of disks it may look at. With up to 24 disks and 4
// methods DefaultNodes are enough for the optimum; with more, the best deal that was found comes with a bound.
// The error says which disk or method is wrong, or why no deal keeps to the constraints.
func Deal(disks []Disk, methods []string, seed uint64, nodes int) (Dealt, error) {
	p, err := pose(disks, methods)
	if err != nil {
		return Dealt{}, err
	}
	if err := p.feasible(); err != nil {
		return Dealt{}, err
	}
	found := p.improve(stream(seed, forImproving), nodes)
	s := newSearch(p, found.cost.imbalance, stream(seed, forChoosing), nodes)
	if len(p.items) <= mostExact {
		s.run()
	}
	// The search comes in a fixed order: what it had found when its nodes ran out is no fair draw among equals. What was
	// improved from a random start is at least not always the same.
	group := found.group
	chance := stream(seed, forDealing)
	if s.kept != nil && (s.complete || s.best < found.cost.imbalance) {
		group = p.handOut(s.kept, chance)
	} else {
		group = p.mix(group, chance)
	}
	return p.result(group, s, seed, methods), nil
}

// result tells a deal in the order in which the methods were given.
func (p *problem) result(group []int, s *search, seed uint64, methods []string) Dealt {
	t := p.tallyOf(group)
	d := Dealt{Imbalance: sectors(t.imbalance()), Seed: seed, Nodes: s.nodes}
	bound := max(p.root(t.imbalance()), 0)
	if s.complete {
		bound, d.Uniform, d.Equal = t.imbalance(), true, s.weight
	}
	d.Bound, d.Optimal = sectors(bound), bound == t.imbalance()
	blocks := p.blocks(group)
	for i, it := range p.items {
		d.Disks = append(d.Disks, Placed{it.name, int(it.x + p.least), p.methods[group[i]], blocks[i]})
	}
	slices.SortFunc(d.Disks, func(a, b Placed) int { return cmp.Compare(a.Name, b.Name) })
	for _, m := range methods {
		d.Groups = append(d.Groups, groupOf(m, d.Disks))
	}
	return d
}

// groupOf gathers the disks of a method.
func groupOf(method string, disks []Placed) Group {
	g, n, sum, squares := Group{Name: method}, int64(0), int64(0), int64(0)
	for _, d := range disks {
		if d.Group == method {
			x := int64(d.Missing)
			g.Disks, n, sum, squares = append(g.Disks, d.Name), n+1, sum+x, squares+x*x
		}
	}
	g.Mean = sectors(mean1000(n, sum))
	if n > 1 {
		spread := sectors(spread1000(n, sum, squares))
		g.Spread = &spread
	}
	return g
}
