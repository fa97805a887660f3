package batch

import (
	"cmp"
	"fmt"
	"math/bits"
	"slices"
	"strconv"
	"strings"

	"fullery/recipe/tomltree"
)

// problem is a deal to be made, in an order of its own: methods by name, disks by missing sectors, most first. Whoever
// asks in another order has the same problem.
type problem struct {
	methods []string
	items   []item
	least   int64 // missing sectors of the best disk; items are counted from it
	size    int   // disks in a smaller group
	larger  int   // how many groups have one disk more
	bound   bool  // some disk may not go everywhere
}

// item is a disk. Two of one class cannot be told apart by a deal, but for their names.
type item struct {
	name    string
	x       int64  // missing sectors above the least
	allowed uint64 // bit g: method g may get it
	class   int
}

// pose checks what was asked.
func pose(disks []Disk, methods []string) (*problem, error) {
	p := &problem{methods: slices.Sorted(slices.Values(methods))}
	k := len(methods)
	if err := p.check(disks); err != nil {
		return nil, err
	}
	p.size, p.larger = len(disks)/k, len(disks)%k
	for _, d := range disks {
		allowed, err := p.allowed(d)
		if err != nil {
			return nil, err
		}
		p.bound = p.bound || bits.OnesCount64(allowed) < k
		p.items = append(p.items, item{name: d.Name, x: int64(d.Missing), allowed: allowed})
	}
	slices.SortFunc(p.items, func(a, b item) int {
		return cmp.Or(cmp.Compare(b.x, a.x), cmp.Compare(a.allowed, b.allowed), cmp.Compare(a.name, b.name))
	})
	p.least = p.items[len(p.items)-1].x
	for i := range p.items {
		it := &p.items[i]
		it.x -= p.least
		if i > 0 {
			before := p.items[i-1]
			it.class = before.class
			if it.x != before.x || it.allowed != before.allowed {
				it.class++
			}
		}
	}
	return p, nil
}

// check looks at numbers and names. p.methods are sorted, so that doubles stand side by side.
func (p *problem) check(disks []Disk) error {
	n, k := len(disks), len(p.methods)
	switch {
	case k < 2:
		return fmt.Errorf("cannot deal to %d methods; name at least two to compare", k)
	case k > MaxMethods:
		return fmt.Errorf("cannot deal to %d methods; %d are the most", k, MaxMethods)
	case n < k:
		return fmt.Errorf("cannot deal %d disks to %d methods; every method needs at least one disk", n, k)
	case n > MaxDisks:
		return fmt.Errorf("cannot deal %d disks at once; %d are the most, so deal them in batches", n, MaxDisks)
	}
	for i, m := range p.methods {
		switch {
		case strings.TrimSpace(m) == "":
			return fmt.Errorf("a method has no name; name each of them")
		case i > 0 && m == p.methods[i-1]:
			return fmt.Errorf("the method %s is named twice; name each once", quoted(m))
		}
	}
	seen := make(map[string]bool, n)
	for _, d := range disks {
		switch {
		case strings.TrimSpace(d.Name) == "":
			return fmt.Errorf("a disk has no name; give each one its label")
		case seen[d.Name]:
			return fmt.Errorf("the disk %s is there twice; name each disk once", quoted(d.Name))
		case d.Missing < 0 || d.Missing > MaxMissing:
			return fmt.Errorf("the disk %s cannot have %d sectors missing; give 0 to %d", quoted(d.Name), d.Missing, MaxMissing)
		}
		seen[d.Name] = true
	}
	return nil
}

// allowed is the set of methods that a disk may get.
func (p *problem) allowed(d Disk) (uint64, error) {
	set := ^uint64(0) >> (64 - len(p.methods))
	if d.Only != "" {
		g, err := p.method(d.Only, d.Name)
		if err != nil {
			return 0, err
		}
		set = 1 << g
	}
	for _, never := range d.Never {
		g, err := p.method(never, d.Name)
		if err != nil {
			return 0, err
		}
		set &^= 1 << g
	}
	if set == 0 {
		return 0, fmt.Errorf("no method is left for the disk %s; take one of its constraints away, or leave the disk out", quoted(d.Name))
	}
	return set, nil
}

// method finds a method by its name, in capitals or not: spreadsheets like to begin a cell with a capital.
func (p *problem) method(name, disk string) (int, error) {
	if g := slices.Index(p.methods, name); g >= 0 {
		return g, nil
	}
	folded, found := strings.TrimSpace(name), -1
	for g, m := range p.methods {
		if strings.EqualFold(strings.TrimSpace(m), folded) {
			if found >= 0 {
				return 0, fmt.Errorf("the disk %s names the method %s, which could be %s or %s; write it exactly", quoted(disk),
					quoted(name), quoted(p.methods[found]), quoted(m))
			}
			found = g
		}
	}
	if found >= 0 {
		return found, nil
	}
	hint := "the methods are " + strings.Join(p.methods, ", ")
	if near := tomltree.Nearest(name, p.methods); near != "" {
		hint = "did you mean " + quoted(near) + "?"
	}
	return 0, fmt.Errorf("the disk %s names the method %s, which is not dealt to; %s", quoted(disk), quoted(name), hint)
}

// tallyOf measures a deal: group[i] is the method of item i.
func (p *problem) tallyOf(group []int) tally {
	var t tally
	for _, s := range p.sumsOf(group) {
		t = t.with(s.n, s.sum, s.squares)
	}
	return t
}

// sums are what the measure needs to know of a group.
type sums struct{ n, sum, squares int64 }

// with is the group with one disk more; without is it with one less.
func (s sums) with(x int64) sums    { return sums{s.n + 1, s.sum + x, s.squares + x*x} }
func (s sums) without(x int64) sums { return sums{s.n - 1, s.sum - x, s.squares - x*x} }

// sumsOf adds up the groups of a deal.
func (p *problem) sumsOf(group []int) []sums {
	all := make([]sums, len(p.methods))
	for i, it := range p.items {
		all[group[i]] = all[group[i]].with(it.x)
	}
	return all
}

// quoted shows a person's text in a message, cut when it is long.
func quoted(text string) string {
	if r := []rune(text); len(r) > 40 {
		text = string(r[:40]) + "…"
	}
	return strconv.Quote(text)
}
