package batch

import (
	"fmt"
	"math/bits"
	"strings"
)

// placing puts disks into groups of the right sizes under the constraints, one by one; a disk that finds no place makes
// others move on (augmenting paths).
type placing struct {
	p       *problem
	group   []int   // of each item; -1 before it is placed
	members [][]int // of each group
	larger  int     // groups that have their one disk more
	seen    []bool
	order   []int // in which groups are tried
}

func (p *problem) place() *placing {
	a := &placing{p: p, group: make([]int, len(p.items)), members: make([][]int, len(p.methods)), order: make([]int, len(p.methods))}
	for i := range a.group {
		a.group[i] = -1
	}
	for g := range a.order {
		a.order[g] = g
	}
	return a
}

// feasible tells whether any deal keeps to the constraints, and otherwise which disks ask too much.
func (p *problem) feasible() error {
	if !p.bound {
		return nil
	}
	a := p.place()
	for i := range p.items {
		if !a.add(i) {
			return a.refusal()
		}
	}
	return nil
}

// refusal names the methods that were tried in vain: more disks are confined to them than they have places.
func (a *placing) refusal() error {
	var tried uint64
	var names []string
	for g, seen := range a.seen {
		if seen {
			tried |= 1 << g
			names = append(names, quoted(a.p.methods[g]))
		}
	}
	confined := 0
	for _, it := range a.p.items {
		if it.allowed&^tried == 0 {
			confined++
		}
	}
	places := bits.OnesCount64(tried)*a.p.size + min(bits.OnesCount64(tried), a.p.larger)
	return fmt.Errorf("cannot deal %d disks into groups of equal size: %d of them may only get %s, where there are %d places; "+
		"let some get another method, or leave some out", len(a.p.items), confined, strings.Join(names, " or "), places)
}

// add finds a place for one more disk, and tells whether there is one.
func (a *placing) add(i int) bool {
	a.seen = make([]bool, len(a.members))
	return a.move(i)
}

// move puts an item into a group in which it is not, making room if need be. Each group is tried once.
func (a *placing) move(i int) bool {
	for _, g := range a.order {
		if a.p.items[i].allowed>>g&1 == 0 || a.seen[g] {
			continue
		}
		a.seen[g] = true
		if a.room(g) || a.clear(g) || len(a.members[g]) == a.p.size && a.giveUp() {
			a.put(i, g)
			return true
		}
	}
	return false
}

// room tells whether a group can take one more disk as things are.
func (a *placing) room(g int) bool {
	n := len(a.members[g])
	return n < a.p.size || n == a.p.size && a.larger < a.p.larger
}

// clear makes one disk of a group go elsewhere.
func (a *placing) clear(g int) bool {
	for _, o := range a.members[g] {
		if a.move(o) {
			return true
		}
	}
	return false
}

// giveUp makes a group give up its one disk more, so that another may have one.
func (a *placing) giveUp() bool {
	for _, g := range a.order {
		if !a.seen[g] && len(a.members[g]) > a.p.size {
			a.seen[g] = true
			if a.clear(g) {
				return true
			}
		}
	}
	return false
}

// put moves an item into a group and keeps the counts.
func (a *placing) put(i, g int) {
	if from := a.group[i]; from >= 0 {
		m := a.members[from]
		for at, o := range m {
			if o == i {
				a.members[from] = append(m[:at:at], m[at+1:]...)
				break
			}
		}
	}
	a.group[i], a.members[g] = g, append(a.members[g], i)
	a.larger = 0
	for _, m := range a.members {
		if len(m) > a.p.size {
			a.larger++
		}
	}
}
