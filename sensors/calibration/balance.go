package calibration

import (
	"errors"
	"fmt"
	"math"
	"strings"
)

// Window is what the two pads of a bench shall press with.
type Window struct {
	Area   float64 // m², of each pad
	Want   float64 // Pa
	Within float64 // share of Want that each pad may be off
	Share  float64 // most that the pads may differ, as a share of their mean

	// How a pad is brought closer and moved away on this bench, in its builder's words; "" when nobody has written it
	// down, and then nothing is said of screws.
	Closer, Away string
}

// most is the largest difference of two pads as a share of their mean: one of them does not press at all.
const most = 2

// Balance is how two pads press, and what to do.
type Balance struct {
	Front, Back float64 // Pa
	Low, High   float64 // Pa, the window
	Difference  float64 // share of their mean, at most 2
	Good        bool    // both in the window, and even
	Verdict     string  // one sentence
	Do          []string
}

// Balance compares the forces of the two pads (N) with the window.
func (w Window) Balance(front, back float64) (Balance, error) {
	switch {
	case !(w.Area > 0) || !(w.Want > 0) || !finite(w.Area) || !finite(w.Want):
		return Balance{}, errors.New("pad area and pressure must be more than nothing")
	case !(w.Within >= 0 && w.Within < 1 && w.Share >= 0):
		return Balance{}, errors.New("how far the pads may be off must lie between 0 % and 100 %, and how far they may differ not below 0 %")
	case !finite(front) || !finite(back):
		return Balance{}, errors.New("a pad's force is not known: both cells must be read and calibrated")
	}
	b := Balance{Front: front / w.Area, Back: back / w.Area, Low: w.Want * (1 - w.Within), High: w.Want * (1 + w.Within)}
	if mean := (b.Front + b.Back) / 2; b.Front != b.Back {
		b.Difference = most
		if mean > 0 {
			b.Difference = min(math.Abs(b.Front-b.Back)/mean, most)
		}
	}
	// Asked as the guard pads-uneven asks it, so that what is good here does not trip there.
	uneven := math.Abs(b.Front-b.Back) > w.Share*(b.Front+b.Back)/2
	// A pad outside of the window comes first: evening two pads that press wrongly would be work for nothing.
	off := w.off(&b, "front", b.Front)
	off = append(off, w.off(&b, "back", b.Back)...)
	switch {
	case off != nil:
		b.Verdict = strings.Join(off, ", ")
	case uneven:
		b.Verdict = fmt.Sprintf("both pads are in the window, but differ by %.0f %%, and %.0f %% is allowed", 100*b.Difference, 100*w.Share)
		w.even(&b)
	default:
		b.Good = true
		b.Verdict = "both pads are in the window, and even"
	}
	return b, nil
}

// off says whether a pad is outside of the window, and adds what to do.
func (w Window) off(b *Balance, pad string, pressure float64) []string {
	switch {
	case pressure < b.Low:
		w.closer(b, pad)
		return []string{fmt.Sprintf("the %s pad presses too lightly (%.2f kPa, at least %.2f)", pad, pressure/1000, b.Low/1000)}
	case pressure > b.High:
		w.away(b, pad)
		return []string{fmt.Sprintf("the %s pad presses too hard (%.2f kPa, at most %.2f)", pad, pressure/1000, b.High/1000)}
	}
	return nil
}

// even moves the pad that is farther from what is wanted.
func (w Window) even(b *Balance) {
	light, heavy, low, high := "front", "back", b.Front, b.Back
	if low > high {
		light, heavy, low, high = heavy, light, high, low
	}
	if w.Want-low >= high-w.Want {
		w.closer(b, light)
	} else {
		w.away(b, heavy)
	}
}

// closer adds that a pad is to be brought closer.
func (w Window) closer(b *Balance, pad string) {
	b.Do = append(b.Do, w.words("bring the "+pad+" pad closer", w.Closer))
}

// away adds that a pad is to be moved away.
func (w Window) away(b *Balance, pad string) {
	b.Do = append(b.Do, w.words("move the "+pad+" pad away", w.Away))
}

// words adds how it is done, where the bench's builder has said so.
func (w Window) words(what, how string) string {
	if how == "" {
		return what
	}
	return what + ": " + how
}
