package main

import (
	"fmt"
	"io"
	"strings"
	"time"

	"fullery/disks/record"
	"fullery/recipe"
	"fullery/recipe/drying"
	"fullery/recipe/liquid"
)

// What is said back of a drying that was logged.

// loggedJSON is one logged drying as it was stored. What nobody told is null.
type loggedJSON struct {
	Log         int64    `json:"log"` // its number in the record
	Record      string   `json:"record"`
	Liquid      string   `json:"liquid"`
	Bench       string   `json:"bench"`
	Simulated   bool     `json:"simulated"`
	Rack        bool     `json:"rack"`
	Disk        *string  `json:"disk"`
	Started     *string  `json:"started"`
	Ended       *string  `json:"ended"`
	Minutes     float64  `json:"minutes"`
	Bound       string   `json:"bound"`
	Evidence    string   `json:"evidence"`
	BeforeG     *float64 `json:"weight_before_g"`
	AfterG      *float64 `json:"weight_after_g"`
	KeptML      *float64 `json:"kept_ml"`
	AirC        *float64 `json:"air_c"`
	HumidityPct *float64 `json:"humidity_percent"`
	WarmC       *float64 `json:"warm_c"`
	LearnedFrom []string `json:"learned_from"` // "time", "weights", both or none
}

func loggedJSONOf(n int64, d record.HandDrying, b recipe.Bench, path string) loggedJSON {
	out := loggedJSON{Log: n, Record: path, Liquid: d.Liquid, Bench: d.Bench, Simulated: d.Simulated, Rack: d.Rack, Disk: told(d.Disk),
		Started: moment(d.Started), Ended: moment(d.Ended), Minutes: roundTo(d.Time.Minutes(), 1e-4), Bound: d.Says, Evidence: d.Evidence,
		BeforeG: d.WeightBeforeG, AfterG: d.WeightAfterG, AirC: d.AirC, HumidityPct: d.AirPct, WarmC: d.WarmC, LearnedFrom: []string{}}
	l, _ := liquid.Parse(d.Liquid)
	if kept := logCase(d, l, b).Kept; kept > 0 {
		ml := roundTo(kept*1e6, 1e-4)
		out.KeptML = &ml
	}
	if timeTells(d) {
		out.LearnedFrom = append(out.LearnedFrom, "time")
	}
	if out.KeptML != nil {
		out.LearnedFrom = append(out.LearnedFrom, "weights")
	}
	return out
}

// told is a text, nil when there is none.
func told(text string) *string {
	if text == "" {
		return nil
	}
	return &text
}

// moment writes a moment with its date and zone, nil for none.
func moment(t time.Time) *string {
	if t.IsZero() {
		return nil
	}
	return told(t.Format(time.RFC3339))
}

// timeTells is false where the time says nothing of the bench's liners: on a rack, or when nobody looked.
func timeTells(d record.HandDrying) bool {
	return !d.Rack && (d.Evidence != string(drying.ByClock) || d.Says != "exact")
}

// printLogged says what was written, and what will come of it.
func printLogged(w io.Writer, n int64, d record.HandDrying, b recipe.Bench) {
	l, _ := liquid.Parse(d.Liquid)
	place := fmt.Sprintf("bench %q", b.Name)
	if d.Rack {
		place = "a rack, for " + place
	}
	fmt.Fprintln(w, wrap(fmt.Sprintf("Log %d: %s on %s%s, %s%s, evidence: %s.", n, l.Title, place, diskWord(d.Disk),
		boundWord(d.Says), minutesWord(d.Time.Minutes()), evidenceWords(d.Evidence)), 96, ""))
	kept := logCase(d, l, b).Kept
	if kept > 0 {
		fmt.Fprintf(w, "Its weights say that the liner kept %s.\n", recipe.SayMillilitres(kept))
	} else if d.WeightBeforeG != nil {
		fmt.Fprintln(w, "It was still damp, so its weights are kept but not learned from.")
	}
	if d.AirC == nil || d.AirPct == nil {
		fmt.Fprintf(w, "What was not said of the air will be taken from the bench file: %s, %s.\n", recipe.SayTemperature(b.Room.Air),
			recipe.SayShare(b.Room.Humidity))
	}
	switch {
	case !timeTells(d) && kept == 0:
		fmt.Fprintln(w, wrap(unusableWord(d), 96, ""))
	case !timeTells(d):
		fmt.Fprintln(w, "A fit learns from its weights, not from its time.")
	default:
		fmt.Fprintln(w, "Learn from it with: fullery dry fit")
	}
	if l.Flammable && d.WarmC != nil {
		fmt.Fprintln(w, wrap("Caution: "+strings.Join(l.Cautions[:1], " "), 96, ""))
	}
}

func unusableWord(d record.HandDrying) string {
	if d.Rack {
		return "A fit cannot use it: on a rack only weights tell something of the liner. Weigh the next one wet and dried."
	}
	return "A fit cannot use it: nobody looked whether the liner was dry. Next time say what dry rests on (--evidence), or " +
		"whether it was still damp (--bound at-least) or found dry (--bound at-most)."
}

func boundWord(says string) string {
	return map[string]string{"at-least": "still damp after ", "at-most": "found dry after "}[says]
}
