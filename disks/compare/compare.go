// Package compare sets disks before and after their cleaning beside each other, method by method, and says no more than
// the disks can carry.
//
// A change is missing sectors after less missing sectors before: below zero is better. Three things are computed.
//
// Within a method every disk is its own comparison. If cleaning did nothing but chance, each disk's change could as well
// have had the other sign; p_signflip counts, over all choices of signs, how often the sum of changes comes out at least
// as far from zero. The counting is exact up to where it would take seconds, and drawn with a stated seed beyond.
//
// Between two methods the labels are what chance dealt. If the methods do the same, any other deal within the same blocks
// would have left every disk as it is; so the labels are permuted among the disks of each block, and nothing else is.
// What is summed is the change less what the start alone foretells: a straight line of change on start, fitted within the
// blocks without looking at the labels. Because the line knows no labels, the count stays exact whether or not the line
// is right. It is exact because of the deal: where a person chose which disk got which method, the count is only as good
// as that choice was blind, and where the starts differ by more than chance no method is called better at all.
//
// Estimates are those of Hodges and Lehmann, with intervals from the exact distribution of the rank statistic that
// belongs to them; 95 % throughout. p-values of several pairs are adjusted by Holm's method.
//
// Everything is pure: no clock, no file, no state but the arguments; randomness enters as a seed.
package compare

import (
	"cmp"
	"slices"
)

// Level is the confidence of every interval, and one less the risk that is taken of calling noise a difference.
const Level = 0.95

const alpha = 1 - Level

// Row is one disk: how many sectors were missing before its cleaning and after.
type Row struct {
	Disk   string // must differ from row to row
	Block  string // disks that were dealt among themselves; empty everywhere where there was one deal of all
	Method string

	Before, After int // missing sectors

	// Split is set where it is known which sectors they were. Regained is how many were missing before and came back,
	// NewlyLost how many came before and do not now: After is Before less Regained plus NewlyLost.
	Split               bool
	Regained, NewlyLost int

	Sectors int // of the whole disk; 0 is unknown
}

func (r Row) change() int { return r.After - r.Before }

// Options are what chance and plans need. The zero value will do.
type Options struct {
	Seed  uint64 // of the draws, where there are too many cases to count
	Draws int    // how many draws then; 0 is 20 000

	// Difference is the difference in missing sectors a disk that is worth knowing. NeededPerGroup is then about it;
	// 0 asks about the difference that was seen.
	Difference float64
}

// Method is what became of the disks of one method. Numbers of sectors are missing sectors a disk.
type Method struct {
	Name string `json:"name"`
	N    int    `json:"n"` // disks

	Before       float64 `json:"before"` // mean
	After        float64 `json:"after"`  // mean
	BeforeMedian float64 `json:"before_median"`
	AfterMedian  float64 `json:"after_median"`
	MedianChange float64 `json:"median_change"` // after less before; below zero is better

	Shift    float64     `json:"shift"`    // the change by Hodges and Lehmann: the median of all means of two changes
	Interval *[2]float64 `json:"interval"` // of Shift, 95 %; nil where so few disks have none (under six)

	P         float64 `json:"p_signflip"` // two-sided
	Exact     bool    `json:"exact"`      // counted; otherwise drawn
	Error     float64 `json:"p_error"`    // standard error of a drawn P
	SmallestP float64 `json:"smallest_p"` // the smallest P that so many disks can give: 2/2^n

	Better    int  `json:"disks_better"` // disks with fewer missing sectors after
	Worse     int  `json:"disks_worse"`  // disks with more
	Net       int  `json:"net"`          // sectors of all disks: missing before less missing after
	Counted   int  `json:"counted"`      // disks of which it is known which sectors came and went
	Regained  *int `json:"regained"`     // sectors of the counted disks; nil where none was
	NewlyLost *int `json:"newly_lost"`
}

// Pair compares two methods, A before B in the alphabet. Only disks of blocks that hold both methods count.
type Pair struct {
	A     string `json:"a"`
	B     string `json:"b"`
	Disks [2]int `json:"disks"` // of A and of B in the blocks that they share

	// Difference is how many more sectors A changed the missing of a disk by than B, at equal start: below zero A left
	// fewer missing. It is the estimate of Hodges and Lehmann. Nil where no block holds both.
	Difference *float64    `json:"difference"`
	Interval   *[2]float64 `json:"interval"` // of Difference, 95 %; nil where so few disks have none

	P         float64 `json:"p"` // two-sided; 1 where no block holds both
	Exact     bool    `json:"exact"`
	Error     float64 `json:"p_error"`    // standard error of a drawn P
	SmallestP float64 `json:"smallest_p"` // the smallest P that this deal can give
	Adjusted  float64 `json:"adjusted"`   // P after Holm, over all pairs that were compared

	Slope           float64  `json:"start_slope"`      // change that goes with one more sector missing at the start; 0: not adjusted
	StartDifference *float64 `json:"start_difference"` // mean start of A less that of B, within blocks
	StartP          float64  `json:"start_p"`          // how often a deal within the blocks would give starts as unlike

	// Detectable is the true difference that these disks would have shown in four of five such trials. Needed is how
	// many disks a method would take to show the difference asked about. Both take the scatter of these very disks.
	Detectable *float64 `json:"detectable"`
	Needed     *int     `json:"needed"`

	// Better is the method that left fewer missing, where that is shown: Adjusted at most 0.05, the interval clear of
	// zero, and starts no more unlike than chance deals them. Otherwise empty.
	Better string `json:"better"`
}

// Result is the comparison of all methods, in the order of their names.
type Result struct {
	Methods []Method `json:"methods"`
	Pairs   []Pair   `json:"pairs"`

	// SmallestDetectable is the largest Detectable of the pairs: a difference as large would have shown between any two.
	// With one method it is the change that its disks would have shown. Nil where nothing could have shown.
	SmallestDetectable *float64 `json:"smallest_detectable"`
	// NeededPerGroup is Needed of the pair that is nearest to being shown; with a stated difference, of the pair that
	// takes most disks. Nil where no number will do.
	NeededPerGroup *int `json:"needed_per_group"`

	Words []string `json:"words"` // plain sentences, in the order in which they are to be read
	Level float64  `json:"level"`
	Seed  uint64   `json:"seed"`
}

// Compare compares the methods of the rows. An error tells which disk cannot be as it stands.
func Compare(rows []Row, o Options) (Result, error) {
	if err := check(rows); err != nil {
		return Result{}, err
	}
	rows = slices.Clone(rows)
	slices.SortFunc(rows, func(a, b Row) int { return cmp.Or(cmp.Compare(a.Block, b.Block), cmp.Compare(a.Disk, b.Disk)) })
	if o.Draws <= 0 {
		o.Draws = 20000
	}
	names := methodsOf(rows)
	result := Result{Methods: []Method{}, Pairs: []Pair{}, Level: Level, Seed: o.Seed}
	for _, name := range names {
		result.Methods = append(result.Methods, summarise(name, of(rows, name), o))
	}
	pairs := len(names) * (len(names) - 1) / 2
	for i, a := range names {
		for _, b := range names[i+1:] {
			result.Pairs = append(result.Pairs, comparePair(rows, a, b, pairs, o))
		}
	}
	holm(result.Pairs)
	for i := range result.Pairs {
		result.Pairs[i].judge()
	}
	result.plan(rows, o)
	result.Words = words(result, o)
	return result, nil
}

// methodsOf returns the names of the methods, sorted.
func methodsOf(rows []Row) []string {
	var names []string
	for _, r := range rows {
		names = append(names, r.Method)
	}
	slices.Sort(names)
	return slices.Compact(names)
}

// of returns the rows of one method.
func of(rows []Row, method string) (some []Row) {
	for _, r := range rows {
		if r.Method == method {
			some = append(some, r)
		}
	}
	return some
}

// plan sets what the whole comparison could have shown, and what it would take.
func (r *Result) plan(rows []Row, o Options) {
	if len(r.Methods) == 1 {
		r.SmallestDetectable, r.NeededPerGroup = alone(rows, o)
		return
	}
	nearest := 2.0
	for _, p := range r.Pairs {
		if p.Detectable != nil && (r.SmallestDetectable == nil || *p.Detectable > *r.SmallestDetectable) {
			r.SmallestDetectable = p.Detectable
		}
		switch {
		case p.Needed == nil:
		case o.Difference > 0:
			if r.NeededPerGroup == nil || *p.Needed > *r.NeededPerGroup {
				r.NeededPerGroup = p.Needed
			}
		case p.P < nearest:
			nearest, r.NeededPerGroup = p.P, p.Needed
		}
	}
}
