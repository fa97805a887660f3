package compare

import "math"

// spareDisks is how many disks must be left over after the blocks, the methods and the line took their share, before a
// line is laid through the starts. With fewer no pair can be called different anyway.
const spareDisks = 3

// line is what the start foretells of the change in a pair, and what is left of the scatter.
type line struct {
	blind float64 // slope of change on start within the blocks, fitted without looking at the labels: for the test
	slope float64 // the same fitted beside the methods' difference: for the scatter
	pull  float64 // slope of the labels on start: how far the starts tell which method a disk got

	startDifference float64
	scatter         float64 // standard deviation of a disk around block, method and line; sectors
	spare           float64 // degrees of freedom of scatter
	weight          float64 // the variance of the estimated difference is scatter² over this
}

// fit lays the line. Everything is centred within the blocks first: a block says nothing but how its disks differ.
//
// The slope beside the methods' difference is the textbook's analysis of covariance: that of change on start after the
// labels were taken out of both.
func fit(blocks []shared) line {
	var labels, starts, changes []float64
	for _, b := range blocks {
		labels = append(labels, b.centred(func(i int) float64 { return is(i < b.a) })...)
		starts = append(starts, b.centred(func(i int) float64 { return b.disks[i].before })...)
		changes = append(changes, b.centred(func(i int) float64 { return b.disks[i].change })...)
	}
	l := line{spare: float64(len(labels) - len(blocks) - 1), weight: dot(labels, labels)}
	l.startDifference = dot(labels, starts) / l.weight
	cleanStarts := without(starts, labels)
	if l.spare-1 >= spareDisks && dot(starts, starts) > 0 && dot(cleanStarts, cleanStarts) > 1e-9*dot(starts, starts) {
		l.blind = dot(starts, changes) / dot(starts, starts)
		l.pull = dot(starts, labels) / dot(starts, starts)
		l.slope = dot(cleanStarts, changes) / dot(cleanStarts, cleanStarts)
		l.spare--
		cleanLabels := without(labels, starts)
		l.weight = dot(cleanLabels, cleanLabels)
	}
	rest := without(changes, labels)
	for i := range rest {
		rest[i] -= l.slope * cleanStarts[i]
	}
	if l.spare > 0 {
		l.scatter = math.Sqrt(dot(rest, rest) / l.spare)
	}
	if l.scatter < 1e-6 { // rounding: the disks do not scatter at all
		l.scatter = 0
	}
	return l
}

// centred returns a figure of each disk less its mean over the block.
func (b shared) centred(figure func(i int) float64) []float64 {
	out, sum := make([]float64, len(b.disks)), 0.0
	for i := range out {
		out[i] = figure(i)
		sum += out[i]
	}
	for i := range out {
		out[i] -= sum / float64(len(out))
	}
	return out
}

// without returns y less what a multiple of x tells of it.
func without(y, x []float64) []float64 {
	share := 0.0
	if size := dot(x, x); size > 0 {
		share = dot(x, y) / size
	}
	out := make([]float64, len(y))
	for i := range y {
		out[i] = y[i] - share*x[i]
	}
	return out
}

func dot(x, y []float64) (sum float64) {
	for i := range x {
		sum += x[i] * y[i]
	}
	return sum
}

func is(yes bool) float64 {
	if yes {
		return 1
	}
	return 0
}
