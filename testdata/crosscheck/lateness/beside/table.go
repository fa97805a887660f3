package main

import (
	"fmt"
	"io"
	"math"
	"runtime"
	"slices"
)

// pair is what one build and the bare loops beside it measured: how late, ms, one list a round.
type pair struct{ ours, bare [][]float64 }

func (p *pair) add(ours, bare []float64) {
	slices.Sort(ours)
	slices.Sort(bare)
	p.ours, p.bare = append(p.ours, ours), append(p.bare, bare)
}

// quantile is the smallest of sorted figures that at least the share q of them does not pass.
func quantile(sorted []float64, q float64) float64 {
	if len(sorted) == 0 {
		return math.NaN()
	}
	i := int(math.Ceil(q*float64(len(sorted)))) - 1
	return sorted[min(max(i, 0), len(sorted)-1)]
}

// pooled is all rounds as one.
func pooled(rounds [][]float64) []float64 {
	all := slices.Concat(rounds...)
	slices.Sort(all)
	return all
}

// ratios are those of the rounds one by one at a quantile, smallest first.
func (p *pair) ratios(q float64) (all []float64) {
	for i := range p.ours {
		all = append(all, quantile(p.ours[i], q)/quantile(p.bare[i], q))
	}
	slices.Sort(all)
	return all
}

// show prints the table of one situation.
func show(w io.Writer, at situation, all []build, found []pair) {
	load := map[setting]string{
		busy:  fmt.Sprintf("%d busy processes on %d cores", runtime.NumCPU()+1, runtime.NumCPU()),
		idle:  "no load of ours",
		first: "before everything else",
	}[at.in]
	fmt.Fprintf(w, "\nevery %v, %s; %d rounds of %d ticks; how late, ms\n", at.period, load, len(found[0].ours), at.ticks)
	fmt.Fprintf(w, "%-22s %8s %8s %8s %8s\n", "", "p50", "p99", "p99.9", "max")
	for i, b := range all {
		ours, bare := pooled(found[i].ours), pooled(found[i].bare)
		row(w, b.name, ours)
		row(w, "  bare loop beside it", bare)
		each := found[i].ratios(0.999)
		fmt.Fprintf(w, "%-22s %8.2f %8.2f %8.2f %8.2f   p99.9 round by round: %.2f (%.2f to %.2f)\n", "  ratio",
			quantile(ours, 0.5)/quantile(bare, 0.5), quantile(ours, 0.99)/quantile(bare, 0.99),
			quantile(ours, 0.999)/quantile(bare, 0.999), quantile(ours, 1)/quantile(bare, 1),
			quantile(each, 0.5), each[0], each[len(each)-1])
	}
}

func row(w io.Writer, name string, sorted []float64) {
	fmt.Fprintf(w, "%-22s %8.3f %8.3f %8.3f %8.3f\n", name,
		quantile(sorted, 0.5), quantile(sorted, 0.99), quantile(sorted, 0.999), quantile(sorted, 1))
}
