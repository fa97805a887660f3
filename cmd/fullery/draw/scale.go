package draw

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"
)

// share deals width cells to spans in proportion to their lengths, but at least one cell to each as long as there
// are enough: a stage of half a minute beside an hour of drying must still be seen. What rounding leaves over goes to
// the largest remainders. The sum is always width, unless there is nothing to deal to.
func share(lengths []time.Duration, width int) []int {
	out := make([]int, len(lengths))
	if len(lengths) == 0 || width < 1 {
		return out
	}
	small := make([]bool, len(lengths))
	if len(lengths) <= width {
		width -= tooSmall(lengths, width, small, out)
	}
	var order []int
	rest := make([]float64, len(lengths))
	total, dealt := sum(lengths, small), 0
	for i, d := range lengths {
		if small[i] {
			continue
		}
		// The margin keeps an exact whole from being rounded down.
		exact := weight(d) / total * float64(width)
		out[i] = int(exact + 1e-9)
		rest[i] = exact - float64(out[i])
		dealt += out[i]
		order = append(order, i)
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(rest[b], rest[a]) })
	for k := range width - dealt {
		out[order[k%len(order)]]++
	}
	return out
}

// tooSmall gives one cell each to the spans that would get less in proportion, marks them, and returns how many they
// are. At least one span is never among them.
func tooSmall(lengths []time.Duration, width int, small []bool, out []int) (n int) {
	for again := true; again; {
		again = false
		total, left := sum(lengths, small), float64(width-n)
		for i, d := range lengths {
			if !small[i] && weight(d)*left < total && n < len(lengths)-1 {
				small[i], out[i], again = true, 1, true
				n++
			}
		}
	}
	return n
}

// sum adds the weights of the spans that are not left out.
func sum(lengths []time.Duration, leftOut []bool) (total float64) {
	for i, d := range lengths {
		if !leftOut[i] {
			total += weight(d)
		}
	}
	return total
}

// weight is a length as a number above zero, so that lengths of nothing still have a place.
func weight(d time.Duration) float64 { return max(d.Seconds(), 1e-3) }

// scale maps time to columns through knots: straight between two, and the same for everything drawn above each
// other.
type scale struct {
	at  []time.Duration // rising, from 0
	col []float64       // likewise
}

// newScale lays spans of time beside each other over the shared cells.
func newScale(lengths []time.Duration, shared []int) scale {
	s := scale{at: []time.Duration{0}, col: []float64{0}}
	for i, d := range lengths {
		last := len(s.at) - 1
		s.at = append(s.at, add(s.at[last], d))
		s.col = append(s.col, s.col[last]+float64(shared[i]))
	}
	return s
}

// column returns where a moment is; moments outside the scale are at its ends.
func (s scale) column(t time.Duration) float64 {
	i, _ := slices.BinarySearch(s.at, t)
	switch {
	case i == 0:
		return 0
	case i == len(s.at):
		return s.col[i-1]
	}
	part := float64(t-s.at[i-1]) / float64(s.at[i]-s.at[i-1])
	return s.col[i-1] + part*(s.col[i]-s.col[i-1])
}

// end is the last moment of the scale.
func (s scale) end() time.Duration { return s.at[len(s.at)-1] }

// add adds two lengths of time without wrapping round.
func add(a, b time.Duration) time.Duration {
	if b = max(b, 0); a > 1<<62-b {
		return 1 << 62
	}
	return a + b
}

// steps are the distances between two marks of a time axis; beyond the last they double.
var steps = []time.Duration{
	10 * time.Second, 30 * time.Second, time.Minute, 2 * time.Minute, 5 * time.Minute, 10 * time.Minute,
	15 * time.Minute, 30 * time.Minute, time.Hour, 2 * time.Hour, 6 * time.Hour, 24 * time.Hour,
}

// mostMarks is far more marks than fit a line; closer steps are not tried.
const mostMarks = 200

// apart is the least number of empty cells between two labels.
const apart = 4

// mark is one labelled moment of an axis.
type mark struct {
	col  int
	text string
}

// axis chooses the closest marks whose labels keep well apart, and the unit they are in.
func (s scale) axis(width int) (unit string, marks []mark) {
	unit, per := unitFor(s.end())
	for i := 0; ; i++ {
		step := steps[min(i, len(steps)-1)] << max(i-len(steps)+1, 0)
		if s.end()/step > mostMarks {
			continue
		}
		if marks, ok := s.marks(step, per, width); ok {
			return unit, marks
		}
	}
}

// unitFor chooses the unit in which a length is read most easily.
func unitFor(end time.Duration) (string, time.Duration) {
	switch {
	case end < 3*time.Minute:
		return "seconds", time.Second
	case end < 6*time.Hour:
		return "minutes", time.Minute
	default:
		return "hours", time.Hour
	}
}

// marks places a label at every step; ok is false when two would touch or one would be a fraction.
func (s scale) marks(step, per time.Duration, width int) (out []mark, ok bool) {
	free := 0
	for t := time.Duration(0); t <= s.end(); t += step {
		if t%per != 0 {
			return nil, false
		}
		m := mark{col: int(s.column(t)), text: fmt.Sprint(int64(t / per))}
		if m.col < free {
			return nil, false
		}
		if m.col+len(m.text) <= width {
			out = append(out, m)
		}
		free = m.col + len(m.text) + apart
	}
	return out, true
}

// labels writes marks into a line of width cells.
func labels(marks []mark, width int) string {
	row := []rune(strings.Repeat(" ", max(width, 0)))
	for _, m := range marks {
		for i, r := range m.text {
			if at := m.col + i; at >= 0 && at < len(row) {
				row[at] = r
			}
		}
	}
	return string(row)
}
