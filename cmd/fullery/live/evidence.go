package live

import (
	"fmt"
	"strings"
	"time"

	"fullery/cmd/fullery/draw"
	"fullery/controller"
)

// How each evidence of dryness is shown: its signal in a unit that people read, and in words.

// shownSignal is what an evidence shows now, in the unit that is shown.
func shownSignal(e controller.Evidence, s *controller.State) float64 {
	if !e.Proven() {
		return 0
	}
	return s.Drying.Seen.Tracks[e-1].Now * shownScale(e)
}

// shownScale turns a signal into the unit that is shown.
func shownScale(e controller.Evidence) float64 {
	if e == controller.ByWeight {
		return 1e6 // kg to mg
	}
	return 1
}

func shownUnit(e controller.Evidence) string {
	switch e {
	case controller.ByWeight:
		return "mg"
	case controller.ByDrag:
		return "1/s"
	default:
		return "K"
	}
}

// signalWords writes a signal with its unit.
func signalWords(e controller.Evidence, x float64) string {
	if e == controller.ByWeight {
		return fmt.Sprintf("%.0f mg", x)
	}
	return fmt.Sprintf("%.1f %s", x, shownUnit(e))
}

// saySignal says what an evidence shows.
func saySignal(e controller.Evidence, x float64) string {
	said := signalWords(e, x)
	switch e {
	case controller.ByWeight:
		return "the cartridge is " + said + " heavier than dry"
	case controller.BySurface:
		return "the jacket is " + said + " colder than the air"
	case controller.ByAir:
		return "the air leaves " + said + " colder than it came"
	default:
		return "the hub is slowed by " + said + " more than dry"
	}
}

// left is how long the drying that runs will yet take; the zero value when nothing is known of that.
func left(p *controller.Program, s *controller.State) draw.Interval {
	l, ok := p.Left(s)
	if !ok || l.Never {
		return draw.Interval{}
	}
	minutes := func(x float64) time.Duration { return time.Duration(x * float64(time.Minute)) }
	return draw.Interval{Low: minutes(l.Low), Median: minutes(l.Median), High: minutes(l.High)}
}

// sayLeft says how long the drying will yet take.
func sayLeft(x draw.Interval) string {
	if x.High < time.Minute {
		return "less than a minute left"
	}
	return fmt.Sprintf("about %.0f min left (%.0f to %.0f in 8 of 10)", x.Median.Minutes(), x.Low.Minutes(), x.High.Minutes())
}

func upper(s string) string { return strings.ToUpper(s[:1]) + s[1:] }
