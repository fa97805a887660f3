package sweep

import (
	"math"
	"slices"

	"fullery/recipe/drying"
)

// Figures are what the cycles of one choice came to, over all draws.
type Figures struct {
	Draws    int
	Minutes  drying.Spread // median and 80 % interval; +Inf where a draw that was cut short stands
	Liquid   float64       // m³, the most
	Peak     float64       // fraction of the lower flammable limit, the worst
	Warmest  float64       // K, the worst
	Slide    float64       // m, the most
	Damp     int           // draws that were called dry with more than DampFrom left
	CutShort int           // draws that did not complete
	Cause    string        // what cut most of them short
	Unproven int           // draws whose drying the clock ended
}

// Sum brings outcomes together, one of every draw. A draw that was cut short counts as longer than any other.
func Sum(all []Outcome) Figures {
	f := Figures{Draws: len(all)}
	minutes := make([]float64, 0, len(all))
	causes := map[string]int{}
	for _, o := range all {
		took := o.Seconds / 60
		switch {
		case !o.Complete:
			took = math.Inf(1)
			f.CutShort++
			if causes[o.Cause]++; causes[o.Cause] > causes[f.Cause] {
				f.Cause = o.Cause
			}
		case o.Left > DampFrom:
			f.Damp++
		}
		if o.Complete && o.Unproven {
			f.Unproven++
		}
		minutes = append(minutes, took)
		f.Liquid, f.Peak = max(f.Liquid, o.Liquid), max(f.Peak, o.Peak)
		f.Warmest, f.Slide = max(f.Warmest, o.Warmest), max(f.Slide, o.Slide)
	}
	slices.Sort(minutes)
	f.Minutes = drying.Spread{Median: quantile(minutes, 0.5), Low: quantile(minutes, 0.1), High: quantile(minutes, 0.9)}
	return f
}

// quantile interpolates between the two nearest of sorted values, as Hyndman and Fan's definition 7 (The American
// Statistician 50, 1996). Of no values it is NaN.
func quantile(sorted []float64, q float64) float64 {
	if len(sorted) == 0 {
		return math.NaN()
	}
	at := q * float64(len(sorted)-1)
	low := int(at)
	rest := at - float64(low)
	if rest == 0 || math.IsInf(sorted[low], 1) {
		return sorted[low]
	}
	return sorted[low] + rest*(sorted[low+1]-sorted[low])
}

// Goals are the figures that count, each the less the better, as they are shown: finer differences than that are none.
type Goals struct {
	Minutes float64 // whole, tenths below ten
	Liquid  float64 // mL, tenths
	Peak    float64 // % of the limit, whole
	Warmest float64 // °C, whole
	Slide   float64 // m, whole, tenths below ten
	Failed  float64 // draws that ended damp or were cut short
}

// Shown returns the figures that count.
func (f Figures) Shown() Goals {
	return Goals{coarse(f.Minutes.Median), round(f.Liquid*1e6, 10), round(f.Peak*100, 1), round(f.Warmest-celsius, 1),
		coarse(f.Slide), float64(f.Damp + f.CutShort)}
}

// coarse rounds to what can be told apart: whole, tenths below ten, where a whole would hide a tenth of the figure.
func coarse(x float64) float64 {
	if x < 9.95 {
		return round(x, 10)
	}
	return round(x, 1)
}

// round rounds to so many parts of one.
func round(x, per float64) float64 { return math.Round(x*per) / per }
