package main

import (
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"fullery/recipe/drying"
	"fullery/recipe/forecast"
)

// The plan as a person reads it: one screen, the figures first, what they assume below.

const planWidth = 110

func (p *plan) print(w io.Writer) {
	r, t := p.program.Recipe(), p.f.Total
	fmt.Fprintf(w, "%s (%s) on bench %q\n", r.Title, r.Name, p.program.Bench().Name)
	fmt.Fprintf(w, "About %.0f min%s, at the latest %.0f min; %.1f mL of at most %.1f mL.\n\n",
		t.Median, intervalWords(t), p.most().Minutes(), p.dose(), r.Limits.Liquid*1e6)
	p.printStages(w)
	p.printDry(w)
	if v := p.f.Vapour; v != nil {
		p.printDuct(w, v)
		printRoom(w, v)
		printNeed(w, v, p.program.Bench().Fan.Through)
		fmt.Fprintln(w, wrap("Assumed: "+strings.Join(v.Assumptions, "; ")+".", planWidth, ""))
		fmt.Fprintln(w, wrap(v.Heater, planWidth, ""))
	}
	if list := cautions(r.Liquid, r.Rinse); len(list) > 0 {
		fmt.Fprintln(w, wrap("Caution: "+strings.Join(list, " "), planWidth, ""))
	}
	for _, warn := range p.warnings {
		fmt.Fprintln(w, wrap(warn, planWidth, ""))
	}
}

func (p *plan) printStages(w io.Writer) {
	head := fmt.Sprintf("  %-18s %9s %9s %9s", "stage", "planned", "at most", "liquid")
	if p.f.Vapour != nil {
		head += "   duct, % of limit"
	}
	fmt.Fprintln(w, head)
	for i, s := range p.stages {
		f, dose := p.f.Stages[i], ""
		if s.Liquid > 0 {
			dose = fmt.Sprintf("%.1f mL", s.Liquid*1e6)
		}
		line := fmt.Sprintf("  %-18s %9s %9s %9s", p.program.StageName(i), clockOf(math.Round(f.Seconds.Median)), clockOf(s.AtMost.Seconds()), dose)
		if p.f.Vapour != nil {
			line += fmt.Sprintf("   %16.0f", f.OfLimit*100)
		}
		fmt.Fprintln(w, strings.TrimRight(line, " "))
	}
}

func (p *plan) printDry(w io.Writer) {
	d := p.f.Dry
	if d == nil {
		fmt.Fprintln(w)
		return
	}
	text := "Dry: never, in this air."
	if !d.Never {
		text = fmt.Sprintf("Dry after about %.0f min%s.", d.Minutes.Median, intervalWords(d.Minutes))
	}
	if e := p.evidence(); e != "" {
		text += " Ends by " + evidenceWords(e) + "."
	}
	for _, said := range p.blind() {
		text += " " + said
	}
	fmt.Fprintln(w, "\n"+wrap(text+" "+strings.Join(append([]string{d.Basis}, d.Notes...), " "), planWidth, ""))
}

func (p *plan) printDuct(w io.Writer, v *forecast.Vapour) {
	verdict := "below the 10 % that is worth a warning"
	switch {
	case v.Duct.OfLimit >= forecast.StopAt:
		verdict = "ABOVE the 25 % at which to stop"
	case v.Duct.OfLimit >= forecast.WarnAt:
		verdict = "above the 10 % that is worth a warning, below the 25 % at which to stop"
	}
	text := fmt.Sprintf("Duct: at most %.0f %% of the lower flammable limit (%.1f %% by volume, %s), after %s in %s: %s (%s; %s).",
		v.Duct.OfLimit*100, v.Limit.Fraction*100, dated(v.Limit.Source, v.Limit.Date), clockOf(math.Round(v.Duct.At)),
		p.program.StageName(v.Duct.Stage), verdict, forecast.StopSource, forecast.WarnSource)
	fmt.Fprintln(w, wrap(text, planWidth, ""))
}

func printRoom(w io.Writer, v *forecast.Vapour) {
	r := v.Room
	fmt.Fprintf(w, "\nThe %s: vapour in ppm by volume (1 ppm is %.2f mg/m³ at %.0f °C)\n", roomWords(r.Box), r.Milligram, r.Kelvin-273.15)
	fmt.Fprintf(w, "  %-32s %6s %15s %10s\n", "", "peak", "15 minute mean", "8 h mean")
	row := func(name string, b forecast.Breathed) {
		fmt.Fprintf(w, "  %-32s %6.0f %15.0f %10.0f\n", name, b.Peak, b.Quarter, b.Day)
	}
	row("one cycle", r.Cycle)
	row(fmt.Sprintf("%d without a pause in 8 h", r.Cycles), r.WorkDay)
	var list []string
	for _, e := range r.Limits {
		list = append(list, exposureWords(e))
	}
	fmt.Fprintln(w, wrap("published: "+strings.Join(list, ", ")+"; from NIOSH, May 1994. Others ask for less.",
		planWidth, "  "))
	s := v.Spill
	if s.Liquid == 0 {
		return
	}
	airing := "no air change clears it"
	if !math.IsInf(s.Airing, 0) {
		airing = fmt.Sprintf("below %.0f ppm after %.0f min of airing", v.Need.PPM, math.Ceil(s.Airing/60))
	}
	fmt.Fprintln(w, wrap(fmt.Sprintf("Full tank spilt (%.0f mL, all evaporated, %.0f °C): %.0f ppm, %.0f %% of the limit, more near the floor; %s.",
		s.Liquid*1e6, s.Kelvin-273.15, s.PPM, s.OfLimit*100, airing), planWidth, ""))
}

func printNeed(w io.Writer, v *forecast.Vapour, through float64) {
	n := v.Need
	duct := "more than 1000 L/s through the duct"
	if n.ThroughOK {
		duct = fmt.Sprintf("%.1f L/s through the duct at full fan (this bench: %.1f)", upwards(n.Through*1e3, 0.1), through*1e3)
	}
	room := "more than 100 air changes an hour"
	if n.ChangesOK {
		room = fmt.Sprintf("%.2f air changes an hour (this room: %s)", upwards(n.Changes*3600, 0.01), tenth(v.Room.Box.Changes*3600))
	}
	fmt.Fprintln(w, "\n"+wrap(fmt.Sprintf("To stay below the figures this plan was asked to keep: %.3g %% of the limit in the duct takes %s; "+
		"%.0f ppm in the room as a 15 minute mean, all day, takes %s.", n.Duct*100, duct, n.PPM, room), planWidth, ""))
	if len(v.Flows) == 0 {
		return
	}
	rows := [5]string{"through-flow at full fan, L/s", "dry after, min", "duct, % of limit", "dry would rest on", "no other beats it in all three"}
	for i := range rows {
		rows[i] = fmt.Sprintf("  %-30s", rows[i])
	}
	for _, f := range v.Flows {
		minutes, mark := "never", ""
		if !math.IsInf(f.Minutes, 0) {
			minutes = fmt.Sprintf("%.0f", f.Minutes)
		}
		if f.Front {
			mark = "*"
		}
		for i, cell := range []string{fmt.Sprintf("%.2f", f.Through*1e3), minutes, fmt.Sprintf("%.0f", f.OfLimit*100), f.Rests, mark} {
			rows[i] += fmt.Sprintf(" %7s", cell)
		}
	}
	for _, row := range rows {
		fmt.Fprintln(w, strings.TrimRight(row, " "))
	}
	fmt.Fprintln(w, "  (the three: less air, less time, less vapour above the figure)")
}

// roomWords says how large a room is and how often its air changes.
func roomWords(b forecast.Box) string {
	changes := tenth(b.Changes * 3600)
	if changes == "1" {
		return fmt.Sprintf("room of %.0f m³ with 1 air change an hour", b.Volume)
	}
	return fmt.Sprintf("room of %.0f m³ with %s air changes an hour", b.Volume, changes)
}

// intervalWords is the 80 % interval of a time in minutes, "" where there is none.
func intervalWords(s drying.Spread) string {
	if s.High <= s.Low {
		return ""
	}
	return fmt.Sprintf(" (%.0f to %.0f in 8 of 10)", s.Low, s.High)
}

// tenth writes a number with a tenth only where there is one.
func tenth(x float64) string { return strconv.FormatFloat(math.Round(x*10)/10, 'f', -1, 64) }
