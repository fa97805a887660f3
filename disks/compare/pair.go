package compare

// comparePair compares two of the methods, one of so many pairs.
func comparePair(rows []Row, a, b string, pairs int, o Options) Pair {
	shared := share(rows, a, b)
	p := Pair{A: a, B: b, Exact: true, P: 1, Adjusted: 1, SmallestP: 1, StartP: 1}
	if len(shared) == 0 {
		return p
	}
	for _, block := range shared {
		p.Disks[0] += block.a
		p.Disks[1] += len(block.disks) - block.a
	}
	line := fit(shared)
	p.Slope = line.slope
	p.StartDifference = sane(line.startDifference)

	p.P, p.Error, p.Exact = dealt(shared, func(d disk) float64 { return d.change - line.blind*d.before }, o)
	p.SmallestP = min(1, max(2/deals(shared), leastP))
	p.StartP, _, _ = dealt(shared, func(d disk) float64 { return d.before }, o)

	estimate, interval := shift(shared, line)
	p.Difference, p.Interval = sane(estimate), interval
	p.Detectable = line.detectable(p.SmallestP, pairs)
	wanted := estimate
	if o.Difference > 0 {
		wanted = o.Difference
	}
	if n, ok := NeededPerGroup(line.scatter, wanted, pairs); ok && line.spare > 0 {
		p.Needed = &n
	}
	return p
}

// judge says which method is better, if any can be called so.
func (p *Pair) judge() {
	if p.Interval == nil || p.Adjusted > alpha || p.StartP <= alpha {
		return
	}
	switch {
	case p.Interval[1] < 0:
		p.Better = p.A
	case p.Interval[0] > 0:
		p.Better = p.B
	}
}

// holm adjusts the p-values of all pairs that were compared, so that the risk of calling any noise a difference stays
// what it is for one pair: the smallest is multiplied by the number of pairs, the next by one less, and so on, and none
// may come out below one before it. S. Holm, Scandinavian Journal of Statistics 6 (1979) 65.
func holm(pairs []Pair) {
	var order []*Pair
	for i := range pairs {
		if pairs[i].Difference != nil {
			order = append(order, &pairs[i])
		}
	}
	sortPairs(order)
	least := 0.0
	for i, p := range order {
		least = max(least, min(1, p.P*float64(len(order)-i)))
		p.Adjusted = least
	}
}

// disk is one disk of a pair.
type disk struct{ before, change float64 }

// shared is a block that holds both methods of a pair: its disks, A's first.
type shared struct {
	disks []disk
	a     int
}

// share returns the blocks that hold both methods. The rows are sorted by block.
func share(rows []Row, a, b string) (out []shared) {
	for start := 0; start < len(rows); {
		end := start
		for end < len(rows) && rows[end].Block == rows[start].Block {
			end++
		}
		block := shared{}
		for _, name := range []string{a, b} {
			block.a = len(block.disks) // in the end, how many came before the last name's
			for _, r := range of(rows[start:end], name) {
				block.disks = append(block.disks, disk{float64(r.Before), float64(r.change())})
			}
		}
		if block.a > 0 && block.a < len(block.disks) {
			out = append(out, block)
		}
		start = end
	}
	return out
}
