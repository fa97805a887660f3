package endpoint

import (
	"fmt"
	"math"
	"math/rand/v2"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"fullery/recipe/drying"
)

// shownAs is a result as text, so that two can be compared, not-a-numbers included.
func shownAs(r Replayed) string { return fmt.Sprintf("%+v", r) }

// Columns in any order, another separator, another decimal mark: the same table, and so the same drying.
func TestReplayKnowsNoColumns(t *testing.T) {
	l := usualLogger(t)
	l.surface, l.weighed, l.drag, l.every, l.before = true, true, true, 20, 600
	csv, _, _ := l.record(t, 11)
	first, _, _ := replay(t, l, csv)
	lines := strings.Split(strings.TrimSpace(csv), "\n")
	for i, line := range lines {
		cells := strings.Split(line, ",")
		slices.Reverse(cells)
		lines[i] = strings.ReplaceAll(strings.Join(cells, ";"), ".", ",")
	}
	second, _, _ := replay(t, l, "\ufeff"+strings.Join(lines, "\r\n"))
	if first.By != ByWeight || shownAs(first) != shownAs(second) {
		t.Errorf("%q at %v s, and %q at %v s", first.By, first.Seconds, second.By, second.Seconds)
	}
}

// Without the dry disk nothing has a zero: the clock is left, if the trace is so long, and that is said.
func TestTraceWithoutDryRows(t *testing.T) {
	l := usualLogger(t)
	l.surface, l.weighed, l.every, l.before, l.after = true, true, 30, 0, 4*3600
	csv, _, _ := l.record(t, 1)
	csv = strings.Replace(csv, "0,", "0.0,", 1)
	r, p, notes := replay(t, l, csv)
	if r.By != ByClock || r.Seconds < p.ByClock() || r.Seconds > p.ByClock()+30 || !strings.Contains(notes, "nothing can be zeroed") {
		t.Errorf("%q at %.0f s, by the clock %.0f s\n%s", r.By, r.Seconds, p.ByClock(), notes)
	}
	l.after = -600
	csv, _, _ = l.record(t, 1)
	r, _, _ = replay(t, l, csv)
	if r.By != NoEvidence || !strings.Contains(r.Reason, "by the clock alone it would have gone on to") {
		t.Errorf("%q: %s", r.By, r.Reason)
	}
}

// A log that breaks off is never called dry, and the reason says how far it was.
func TestTraceThatEndsTooSoon(t *testing.T) {
	for _, c := range []struct {
		after float64
		want  string
	}{{-240, `^it ends after 6\d\.\d min with about \d(\.\d)? % of the liquid left, by surface$`},
		{-3600, `^it ends after 1\d\.\d min, before surface could show how much is left$`}} {
		l := usualLogger(t).only(BySurface)
		l.every, l.after = 5, c.after
		csv, _, _ := l.record(t, 1)
		if r, _, _ := replay(t, l, csv); r.By != NoEvidence || !regexp.MustCompile(c.want).MatchString(r.Reason) {
			t.Errorf("%q: %s, want %s", r.By, r.Reason, c.want)
		}
	}
}

// In air that takes nothing up nothing is ever dry, whatever the signals do.
func TestTraceInSoakedAir(t *testing.T) {
	l := usualLogger(t).only(BySurface)
	l.every = 20
	csv, _, _ := l.record(t, 1)
	tr := readTrace(t, csv)
	c := l.of
	c.Kept, c.Humidity = 0, 1
	p, _, err := PlanTrace(wide(c.Liquid), c, tr)
	if err != nil {
		t.Fatal(err)
	}
	r := p.Replay(tr)
	if r.By != NoEvidence || !r.Moments[0].Left.Never || !strings.Contains(r.Reason, "too damp") {
		t.Errorf("%q: %s", r.By, r.Reason)
	}
	c.Air = zeroC + 80
	if _, _, err := PlanTrace(wide(c.Liquid), c, tr); err == nil || !strings.Contains(err.Error(), "room air of 80 °C cannot be used") {
		t.Error(err)
	}
}

// edit changes one column of the rows for which it is asked, by the seconds of the row.
func edit(csv, name string, change func(s float64, cell string) string) string {
	lines := strings.Split(strings.TrimSpace(csv), "\n")
	at := slices.Index(strings.Split(lines[0], ","), name)
	for i, line := range lines[1:] {
		cells := strings.Split(line, ",")
		s, _ := strconv.ParseFloat(cells[0], 64)
		cells[at] = change(s, cells[at])
		lines[i+1] = strings.Join(cells, ",")
	}
	return strings.Join(lines, "\n") + "\n"
}

// A single reading that stands apart changes nothing; two in a row are no knock, and count.
func TestKnocks(t *testing.T) {
	l := usualLogger(t).only(BySurface)
	l.every = 20
	csv, dry, _ := l.record(t, 1)
	clean, _, _ := replay(t, l, csv)
	late := math.Ceil(0.9*dry/20)*20 - l.before + 60
	knocked := edit(csv, "surface_c", func(s float64, cell string) string {
		if s == -40 || s == late {
			return "60"
		}
		return cell
	})
	tr := readTrace(t, knocked)
	r, _, notes := replay(t, l, knocked)
	if tr.apart != 2 || r.By != BySurface || math.Abs(r.Seconds-clean.Seconds) > 60 {
		t.Errorf("%d knocks; %q at %v s, undisturbed at %v s", tr.apart, r.By, r.Seconds, clean.Seconds)
	}
	if !strings.Contains(notes, "surface_c in line 3 stands alone") || !strings.Contains(notes, "2 readings in all") {
		t.Error(notes)
	}
	twice := edit(csv, "surface_c", func(s float64, cell string) string {
		if s == late || s == late+20 {
			return "60"
		}
		return cell
	})
	if tr := readTrace(t, twice); tr.apart != 0 {
		t.Errorf("%d knocks of a change that stays", tr.apart)
	}
}

// A sensor that falls silent gives way to the next best.
func TestSensorThatEnds(t *testing.T) {
	l := usualLogger(t)
	l.surface, l.every = true, 10
	csv, _, left := l.record(t, 1)
	silent := edit(csv, "surface_c", func(s float64, cell string) string {
		if s > 1800 {
			return ""
		}
		return cell
	})
	r, _, notes := replay(t, l, silent)
	if r.By != ByAir || left(r.Seconds) > most || !strings.Contains(notes, "surface: its readings end before 35.2 min") {
		t.Errorf("%q at %v s\n%s", r.By, r.Seconds, notes)
	}
	// A few that are missing here and there are bridged.
	holes := edit(csv, "surface_c", func(s float64, cell string) string {
		if math.Mod(s, 70) == 0 {
			return ""
		}
		return cell
	})
	whole, _, _ := replay(t, l, csv)
	if r, _, notes = replay(t, l, holes); r.By != BySurface || math.Abs(r.Seconds-whole.Seconds) > 120 {
		t.Errorf("%q at %v s, without holes at %v\n%s", r.By, r.Seconds, whole.Seconds, notes)
	}
}

// After a gap one row alone does not end the drying, and the gap is said.
func TestGaps(t *testing.T) {
	l := usualLogger(t).only(ByWeight)
	l.every = 10
	csv, dry, _ := l.record(t, 1)
	lines := strings.SplitAfter(csv, "\n")
	lines = slices.DeleteFunc(lines, func(line string) bool {
		s, err := strconv.ParseFloat(strings.Split(line, ",")[0], 64)
		return err == nil && s > dry-900 && s < dry+120
	})
	r, _, notes := replay(t, l, strings.Join(lines, ""))
	tr := readTrace(t, strings.Join(lines, ""))
	after := slices.IndexFunc(tr.rows, func(r traceRow) bool { return r.v[colTime] >= dry+120 })
	if r.By != ByWeight || r.Seconds != tr.rows[after+2].v[colTime] {
		t.Errorf("%q at %v s; the rows after the gap are at %v s", r.By, r.Seconds, tr.rows[after].v[colTime])
	}
	if !strings.Contains(notes, "Nothing was logged for 17.") {
		t.Error(notes)
	}
	// Where every row is as far from the next, none of the distances is a gap of the decision.
	l.every, l.before = 400, 4000
	csv, _, _ = l.record(t, 1)
	if r, _, notes = replay(t, l, csv); r.By != ByWeight || !strings.Contains(notes, "times nothing was logged for more than 5 minutes") {
		t.Errorf("%q\n%s", r.By, notes)
	}
}

// The error that a plan reckons with is the one that a sensor of that noise has: by drawing many.
func TestErrorFromDryRows(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	for _, c := range []struct {
		count int
		every float64
	}{{5, 1}, {60, 1}, {20, 5}, {8, 60}} {
		const sigma, draws = 0.05, 4000
		d := seenDry{count: c.count, deviation: sigma / (1 + 1/math.Sqrt(2*float64(c.count-1))), every: c.every, wet: 9}
		sense, taken := d.sense(1, 0)
		averaged := sense.Noise * math.Sqrt(min(sense.Every/20, 1))
		reckoned := math.Sqrt2 * averaged
		square := 0.0
		for range draws {
			zero, now := 0.0, 0.0
			for range c.count {
				zero += sigma * random.NormFloat64() / float64(c.count)
			}
			for range 200 { // as a Track smooths
				now += (sigma*random.NormFloat64() - now) * min(c.every/10, 1)
			}
			square += (now - zero) * (now - zero) / draws
		}
		if found := math.Sqrt(square); taken || math.Abs(reckoned/found-1) > 0.12 {
			t.Errorf("%d readings every %v s: reckoned with %.4f, found %.4f", c.count, c.every, reckoned, found)
		}
	}
}

func TestNoiseOfFewOrRoundedReadings(t *testing.T) {
	const common = 0.05
	for _, c := range []struct {
		name  string
		d     seenDry
		step  float64
		taken bool
		least float64 // of the noise of one reading
		most  float64
	}{
		{"four readings", seenDry{count: 4, deviation: 1e-6, every: 20, wet: 1}, 0, true, common * 0.7, common},
		{"five readings", seenDry{count: 5, deviation: 0.2, every: 20, wet: 1}, 0, false, 0.2, 0.3},
		{"all alike, nothing known", seenDry{count: 50, deviation: 0, every: 20, wet: 1}, 0, true, common * 0.7, common},
		{"all alike, rounded to 0.1", seenDry{count: 50, deviation: 0, every: 20, wet: 1}, 0.1, false, 0.1 / math.Sqrt(12.01), 0.1},
		{"rounded far below the noise", seenDry{count: 500, deviation: 0.2, every: 20, wet: 1}, 0.1, false, 0.14, 0.16},
		{"one reading of the drying", seenDry{count: 9, deviation: 0.2, wet: 1}, 0, false, 0.15, 0.25},
	} {
		s, taken := c.d.sense(common, c.step)
		if taken != c.taken || s.Noise < c.least || s.Noise > c.most || !s.Fitted || s.Every <= 0 {
			t.Errorf("%s: %+v, usual %v", c.name, s, taken)
		}
	}
}

// What is rounded, too few, or read in other air is told.
func TestWhatDryRowsLack(t *testing.T) {
	l := usualLogger(t)
	l.surface, l.weighed = true, true
	for _, c := range []struct {
		name   string
		change func(string) string
		want   string
	}{
		{"few rows", func(csv string) string { return edit(csv, "surface_c", emptyBefore(-5)) }, "a usual noise was taken for surface (assumed)."},
		{"no row", func(csv string) string { return edit(csv, "weight_g", emptyBefore(0)) }, "weighed: not read on the dry disk, so that it has no zero"},
		{"other air", func(csv string) string {
			return edit(csv, "in_c", func(s float64, cell string) string {
				if s < 0 {
					return "25.5"
				}
				return cell
			})
		}, "The dry disk was read in other air (25.5 °C, 50 %) than it dried in (21.0 °C, 50 %, by the medians)"},
	} {
		l.every, l.before = 2, 60
		csv, _, _ := l.record(t, 1)
		if _, _, notes := replay(t, l, c.change(csv)); !strings.Contains(notes, c.want) {
			t.Errorf("%s:\n%s\nwant %s", c.name, notes, c.want)
		}
	}
}

func emptyBefore(end float64) func(float64, string) string {
	return func(s float64, cell string) string {
		if s < end {
			return ""
		}
		return cell
	}
}

// A scale tells what the liner kept, and the air that leaves how much of it passed.
func TestKeptAndThrough(t *testing.T) {
	l := usualLogger(t)
	l.weighed, l.every, l.of.Kept = true, 5, 1.3e-6
	csv, _, _ := l.record(t, 1)
	tr := readTrace(t, csv)
	if kept := tr.Kept(l.of.Liquid); math.Abs(kept/1.3e-6-1) > 0.02 {
		t.Errorf("kept %.3f mL", kept*1e6)
	}
	c := l.of
	b := wide(c.Liquid)
	for _, assumed := range []float64{5e-3, 3e-3, 0.1e-3} {
		c.Flow = assumed
		if flow, ok := tr.Through(b, c); !ok || math.Abs(flow/0.5e-3-1) > 0.1 {
			t.Errorf("from %.1f L/s: %.3f L/s, %v", assumed*1e3, flow*1e3, ok)
		}
	}
	c.Flow = 0.6e-3
	if flow, ok := tr.Through(b, c); ok {
		t.Errorf("0.6 L/s was near enough, and became %.3f L/s", flow*1e3)
	}
	without := readTrace(t, edit(edit(csv, "weight_g", emptyBefore(1e9)), "out_c", emptyBefore(1e9)))
	if _, ok := without.Through(b, c); ok || without.Kept(l.of.Liquid) != 0 || without.Has(ByAir) {
		t.Error("something was found in empty cells")
	}
}

// Signals start at nothing on the dry disk; one that was never read dry is shown as it was measured.
func TestSignals(t *testing.T) {
	l := usualLogger(t)
	l.weighed, l.surface, l.drag, l.every = true, true, true, 10
	csv, _, _ := l.record(t, 1)
	tr := readTrace(t, edit(csv, "weight_g", emptyBefore(0)))
	c := drying.Case{Liquid: l.of.Liquid, Film: UsualFilm, Flow: l.of.Flow, Air: l.of.Air, Humidity: l.of.Humidity}
	p, _, err := PlanTrace(wide(c.Liquid), c, tr)
	if err != nil {
		t.Fatal(err)
	}
	list := p.Signals(tr)
	if len(list) != 4 || list[0].Zeroed || !list[1].Zeroed || !list[2].Damp || list[1].Damp {
		t.Fatalf("%d signals", len(list))
	}
	for _, s := range list[1:] {
		sum, n := 0.0, 0.0
		for i, at := range s.Seconds {
			if at < 0 {
				sum, n = sum+s.Values[i], n+1
			}
		}
		if n != 6 || math.Abs(sum/n) > 1e-9 {
			t.Errorf("%s: %v on the dry disk, in %v readings", s.Evidence, sum/n, n)
		}
	}
	if first := list[0].Values[0]; math.Abs(first-0.0223) > 1e-4 {
		t.Errorf("the first weight is %v kg", first)
	}
}

// A hub whose coasts hardly repeat tells nothing of the last 2 %, one whose coasts repeat well does.
func TestDragByItsRepeatability(t *testing.T) {
	for coast, visible := range map[float64]bool{0.0005: true, 0.03: false} {
		l := usualLogger(t).only(ByDrag)
		l.every, l.coast = 10, coast
		csv, _, _ := l.record(t, 1)
		r, p, _ := replay(t, l, csv)
		sight := p.Sights[ByDrag-1]
		if sight.Visible != visible || math.Abs(sight.Peak-3) > 0.3 || visible != (r.By == ByDrag) {
			t.Errorf("coasts within %v: %+v, dry by %q", coast, sight, r.By)
		}
	}
}
