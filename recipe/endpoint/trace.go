package endpoint

import (
	"fmt"
	"math"
	"slices"
)

// Trace is a drying that some data logger recorded. Its rows rise in time; at least one is at or after 0.
type Trace struct {
	Notes []string // what a person should know of how the file was read, a sentence each

	rows     []traceRow
	first    int                 // index of the first row at or after 0; the rows before it are of the dry disk
	every    [numColumns]float64 // s between the readings of a column, by the median; 0: it has at most one
	step     [numColumns]float64 // the least difference between two readings of a column; 0: they are all alike
	last     [numColumns]int     // index of the row of the last reading; -1: it has none
	usual    float64             // s between rows, by the median
	apart    int                 // readings left out because they stood alone
	asShares bool                // humidities were given as shares of one
}

// traceRow is one row: seconds and SI values, NaN where nothing was read.
type traceRow struct {
	v     [numColumns]float64
	line  int
	fresh columns // what was read in this very row; the rest of v is held from rows before, or NaN
}

// column is a column of a trace, whatever its place in the file.
type column uint8

// The columns: time, the air that comes and the air that leaves, the jacket, the cartridge, the hub.
const (
	colTime column = iota
	colInC
	colInRH
	colOutC
	colOutRH
	colSurface
	colWeight
	colCoast
	numColumns
)

// columns is a set of them.
type columns uint16

// setOf returns a set of columns.
func setOf(list ...column) (s columns) {
	for _, c := range list {
		s |= 1 << c
	}
	return s
}

func (s columns) has(c column) bool { return s&(1<<c) != 0 }

// longGap is how long nothing may be logged before it is said, s.
const longGap = 300.0

// heldFor is for how many of its usual spacings the last reading of a column counts: one that is missing is bridged,
// as a controller keeps a reading until it is stale.
const heldFor = 1.5

// standsApart is by how much a single reading must differ from the ones before and after it to be left out as a knock or
// a fault of transfer, where those two agree within a quarter of it: assumed. A coast is a measurement by itself.
var standsApart = [numColumns]float64{colInC: 3, colInRH: 0.2, colOutC: 3, colOutRH: 0.2, colSurface: 3, colWeight: 0.3e-3,
	colCoast: math.Inf(1)}

// dry and wet return the rows before the drying and of it.
func (t *Trace) dry() []traceRow { return t.rows[:t.first] }
func (t *Trace) wet() []traceRow { return t.rows[t.first:] }

// Rows returns how many rows are of the dry disk, and how many of its drying.
func (t *Trace) Rows() (dry, wet int) { return t.first, len(t.rows) - t.first }

// Begins returns when the first row was, in s from the beginning of the drying.
func (t *Trace) Begins() float64 { return t.rows[0].v[colTime] }

// Seconds returns when the last row was, in s from the beginning of the drying.
func (t *Trace) Seconds() float64 { return t.rows[len(t.rows)-1].v[colTime] }

// Air returns the median temperature (K) and relative humidity of the air that entered while the disk dried; NaN for what
// was never read then.
func (t *Trace) Air() (k, humidity float64) {
	return median(t.fresh(t.wet(), colInC)), median(t.fresh(t.wet(), colInRH))
}

// Has tells whether the kind of evidence was read while the disk dried.
func (t *Trace) Has(e Evidence) bool {
	if !e.Proven() {
		return false
	}
	return slices.ContainsFunc(t.wet(), func(r traceRow) bool { return !math.IsNaN(signalOf[e-1].of(&r.v)) })
}

// fresh returns the readings of a column.
func (t *Trace) fresh(rows []traceRow, c column) (list []float64) {
	for i := range rows {
		if rows[i].fresh.has(c) {
			list = append(list, rows[i].v[c])
		}
	}
	return list
}

// reading is a row as the end point takes it. The sensors of a trace are at the cell's mouth, so that Air is not known
// apart from AirIn.
func (r *traceRow) reading() Reading {
	return Reading{AirIn: r.v[colInC], AirInRH: r.v[colInRH], Air: math.NaN(), AirOut: r.v[colOutC], AirOutRH: r.v[colOutRH],
		Surface: r.v[colSurface], Weight: r.v[colWeight], Coast: r.v[colCoast]}
}

// settle is done once for all rows, and not row by row as a controller must: a file can be looked at as a whole, and
// what its sensors are like is not written in it. It works out, once all rows are read, how each column was logged,
// takes out what stands apart, and bridges what is missing.
func (t *Trace) settle() {
	t.first = slices.IndexFunc(t.rows, func(r traceRow) bool { return r.v[colTime] >= 0 })
	t.usual = t.spacing(setOf(colTime), func(*traceRow) bool { return true })
	for c := colTime + 1; c < numColumns; c++ {
		t.leaveOut(t.dry(), c)
		t.leaveOut(t.wet(), c)
		t.every[c] = t.spacing(setOf(c), func(r *traceRow) bool { return true })
		t.step[c] = leastStep(t.fresh(t.rows, c))
		t.last[c] = -1
		for i := range t.rows {
			if t.rows[i].fresh.has(c) {
				t.last[c] = i
			}
		}
		t.hold(t.dry(), c)
		t.hold(t.wet(), c)
	}
	t.note()
}

// leaveOut makes missing what stands alone between two readings that agree. A controller takes such readings out before
// anything is decided on them, and so must this: one knock at the right moment would look like a dry liner.
func (t *Trace) leaveOut(rows []traceRow, c column) {
	var at []int
	var value []float64
	for i := range rows {
		if rows[i].fresh.has(c) {
			at, value = append(at, i), append(value, rows[i].v[c])
		}
	}
	for k := 1; k+1 < len(at); k++ {
		off := min(math.Abs(value[k]-value[k-1]), math.Abs(value[k]-value[k+1]))
		if off <= standsApart[c] || math.Abs(value[k+1]-value[k-1]) > standsApart[c]/4 {
			continue
		}
		r := &rows[at[k]]
		if t.apart++; t.apart == 1 {
			t.Notes = append(t.Notes, fmt.Sprintf("%s in line %d stands alone between two readings that agree, and was left out as a "+
				"knock or a fault of transfer.", columnNames[c], r.line))
		}
		r.v[c], r.fresh = math.NaN(), r.fresh&^setOf(c)
	}
}

// hold bridges short gaps of a column with its last reading.
func (t *Trace) hold(rows []traceRow, c column) {
	value, when := math.NaN(), 0.0
	for i := range rows {
		r := &rows[i]
		if r.fresh.has(c) {
			value, when = r.v[c], r.v[colTime]
		} else if r.v[colTime]-when <= heldFor*t.every[c] {
			r.v[c] = value
		}
	}
}

// spacing returns the median of the seconds between the rows in which any of these columns was read and that count: of
// the drying, or of the dry disk when there are none. 0: there are not two.
func (t *Trace) spacing(any columns, counts func(*traceRow) bool) float64 {
	for _, rows := range [][]traceRow{t.wet(), t.dry()} {
		var apart []float64
		before := math.NaN()
		for i := range rows {
			r := &rows[i]
			if r.fresh&any == 0 || !counts(r) {
				continue
			}
			if !math.IsNaN(before) {
				apart = append(apart, r.v[colTime]-before)
			}
			before = r.v[colTime]
		}
		if len(apart) > 0 {
			return median(apart)
		}
	}
	return 0
}

// note says what was done with the file.
func (t *Trace) note() {
	if t.apart > 1 {
		t.Notes = append(t.Notes, fmt.Sprintf("%d readings in all were left out in the same way.", t.apart))
	}
	if t.asShares {
		t.Notes = append(t.Notes, "No humidity is above 1: they were taken as shares of one, so that 0.5 is 50 %. Write 0.5 % for half a "+
			"per cent.")
	}
	gaps, longest, from, before := 0, 0.0, 0.0, 0.0
	for i := range t.wet() {
		now := t.wet()[i].v[colTime]
		if gap := now - before; gap > longGap {
			if gaps++; gap > longest {
				longest, from = gap, before
			}
		}
		before = now
	}
	switch {
	case gaps == 1:
		t.Notes = append(t.Notes, fmt.Sprintf("Nothing was logged for %.1f min from %.1f min on.", longest/60, from/60))
	case gaps > 1:
		t.Notes = append(t.Notes, fmt.Sprintf("%d times nothing was logged for more than 5 minutes, the longest time for %.1f min from "+
			"%.1f min on.", gaps, longest/60, from/60))
	}
}

// gapBefore tells whether a step of the drying is so long, beside what is usual in this file, that its end says nothing
// of what was in between.
func (t *Trace) gapBefore(dt float64) bool {
	return dt > longGap && dt > heldFor*t.usual
}

// median is what one bad reading cannot shift. It returns NaN for nothing. It sorts the list.
func median(list []float64) float64 {
	if len(list) == 0 {
		return math.NaN()
	}
	slices.Sort(list)
	return (list[(len(list)-1)/2] + list[len(list)/2]) / 2
}

// leastStep returns the least difference between two values that are not the same: what a sensor or its logger rounds to.
func leastStep(list []float64) (least float64) {
	slices.Sort(list)
	for i := 1; i < len(list); i++ {
		if d := list[i] - list[i-1]; d > 1e-9*math.Abs(list[i]) && (least == 0 || d < least) {
			least = d
		}
	}
	return least
}
