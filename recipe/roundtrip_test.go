package recipe

import (
	"fmt"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// sameRecipe compares all but the places.
func sameRecipe(t interface{ Errorf(string, ...any) }, got, want Recipe) {
	got.places, want.places = nil, nil
	if !reflect.DeepEqual(got, want) {
		t.Errorf("got\n%+v\nwant\n%+v", got, want)
	}
}

// draft draws whole numbers of units, so that the SI value can be computed in the test without the code under test.
type draft struct {
	*rapid.T
	text strings.Builder
}

func (d *draft) number(name string, least, most int) int {
	return rapid.IntRange(least, most).Draw(d.T, name)
}

func (d *draft) chance(name string) bool { return rapid.Bool().Draw(d.T, name) }

// line writes key = "value unit", sometimes without the space, with other spacing or a comment.
func (d *draft) line(key string, value int, unit string) {
	forms := []string{"%s = \"%d %s\"\n", "%s=\"%d%s\"\n", "  %s   = '%d %s' # as told\n", "%s = \"%d \\u0025\"\n"}
	form := rapid.SampledFrom(forms[:3]).Draw(d.T, "form")
	fmt.Fprintf(&d.text, form, key, value, unit)
}

func (d *draft) seconds(key string, least, most int) time.Duration {
	n := d.number(key, least, most)
	d.line(key, n, "s")
	return time.Duration(n) * time.Second
}

// stage draws a stage of a kind with exactly the keys that it may have.
func (d *draft) stage(kind Kind, line int) Stage {
	fmt.Fprintf(&d.text, "[[stage]]\ndo = %q\n", kind.String())
	s := Stage{Do: kind, Line: line}
	rate := func(key string, to *float64, must bool, least, most int) {
		if must || d.chance(key+" there") {
			n := d.number(key, least, most)
			d.line(key, n, "rpm")
			*to = float64(n) / 60
		}
	}
	if kind == Wet || kind == Rinse {
		n := d.number("flow", 1, 100)
		d.line("flow", n, "mL/min")
		s.Flow = float64(n) / 60e6
	}
	if kind == Scrub || kind == Rinse {
		rate("pads", &s.Pads, kind == Scrub, 1, 600)
	}
	rate("hub", &s.Hub, kind == Scrub || kind == Rinse || kind == SpinOut, 1, 600)
	if kind == Dry || d.chance("fan there") {
		n := d.number("fan", 1, 100)
		d.line("fan", n, "%")
		s.Fan = float64(n) / 100
	}
	if kind == Dry && d.chance("until dry") {
		s.UntilDry = true
		d.text.WriteString("until = \"dry\"\n")
		s.AtMost = d.seconds("at-most", 1, 7200)
	} else {
		s.For = d.seconds("for", 3, 600)
		if s.AtMost = s.For + time.Minute; d.chance("at-most there") {
			s.AtMost = d.seconds("at-most", int(s.For/time.Second), 7200)
		}
	}
	if kind == Scrub && d.chance("reverse there") {
		s.Reverse = d.seconds("reverse", 2, int(s.For/time.Second)-1)
	}
	if kind == Dry && d.chance("warm there") {
		n := d.number("warm", 10, 50)
		d.line("warm", n, "°C")
		s.Warm = float64(n) + 273.15
	}
	return s
}

// recipe draws a recipe that is right, and writes it.
func (d *draft) recipe() Recipe {
	r := Recipe{Name: "drawn", Title: rapid.StringN(1, 20, 60).Filter(oneLine).Draw(d.T, "title"), Repeat: d.number("repeat", 1, 20)}
	r.Media = mediaSizes[:d.number("media", 1, 3)]
	r.Liquid, r.Rinse = "distilled-water", "distilled-water"
	fmt.Fprintf(&d.text, "title = %s\nmedia = [\"%s\"]\nliquid = %q\nrinse = %q\nrepeat = %d\n[pads]\n", tomlText(r.Title),
		strings.Join(r.Media, `", "`), r.Liquid, r.Rinse, r.Repeat)
	r.Pads = Pads{Pressure: float64(d.number("pressure", 200, 5000)), Within: 0.2, Balance: 0.1}
	d.line("pressure", int(r.Pads.Pressure), "Pa")
	d.text.WriteString("within = \"20 %\"\nbalance = \"10 %\"\n[limits]\nliquid = \"5 L\"\ntime = \"24 h\"\n")
	r.Limits = Limits{5e-3, 24 * time.Hour}
	kinds := []Kind{Wet, Rinse}
	for range d.number("more", 0, 4) {
		kinds = append(kinds, rapid.SampledFrom([]Kind{Wet, Scrub, Rinse, SpinOut, Soak}).Draw(d.T, "kind"))
	}
	for range d.number("dries", 1, 2) {
		kinds = append(kinds, Dry)
	}
	for _, kind := range kinds {
		r.Stages = append(r.Stages, d.stage(kind, strings.Count(d.text.String(), "\n")+1))
	}
	r.Text = d.text.String()
	return r
}

func oneLine(s string) bool {
	return strings.TrimSpace(s) != "" && !strings.ContainsAny(s, "\r\n\x00\uFEFF") && strconv.CanBackquote(s) && !strings.Contains(s, "\uFFFD")
}

// tomlText quotes a text as TOML does, which has no \x.
func tomlText(s string) string {
	return `"` + strings.NewReplacer(`\`, `\\`, `"`, `\"`, "\t", `\t`).Replace(s) + `"`
}

func TestWrittenRecipeReadsBackEqual(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := (&draft{T: t}).recipe()
		dose := 0.0
		for _, s := range want.Unrolled() {
			dose += s.Flow * s.For.Seconds()
		}
		got, problems := Read("drawn.toml", []byte(want.Text))
		var sum time.Duration
		for _, s := range want.Unrolled() {
			sum += s.For
		}
		if dose > want.Limits.Liquid || sum > want.Limits.Time {
			if len(problems.Errors()) == 0 {
				t.Fatalf("%v m³ in %v pass a limit of %+v", dose, sum, want.Limits)
			}
			return
		}
		if len(problems) > 0 {
			t.Fatalf("%v\n%s", problems, want.Text)
		}
		sameRecipe(t, got, want)
		for i, s := range got.Stages {
			if p := got.Place(fmt.Sprint("stage.", i)); p.Line != s.Line || p.Column != 1 {
				t.Fatalf("stage %d of line %d is placed at %v", i, s.Line, p)
			}
		}
	})
}

// One slip in a right recipe is found, and told in the line where it is.
func TestEverySlipIsFoundInItsLine(t *testing.T) {
	slips := []func(string) string{
		func(l string) string { return strings.Replace(l, "=", "x =", 1) },                  // unknown key
		func(l string) string { return l[:strings.Index(l, "=")] + "= 5" },                  // no unit
		func(l string) string { return l[:strings.Index(l, "=")] + `= "5 furlong"` },        // no such unit
		func(l string) string { return l[:strings.Index(l, "=")] + `= "1,5 s"` },            // decimal comma
		func(l string) string { return l[:strings.Index(l, "=")] + `= "-1 s"` },             // negative
		func(l string) string { return l[:strings.Index(l, "=")] + "= 1979-05-27" },         // a date
		func(l string) string { return l + "\n" + l },                                       // twice
		func(l string) string { return strings.Replace(l, "=", "", 1) },                     // not TOML
		func(l string) string { return l[:strings.Index(l, "=")] + `= "1e9 mL"` },           // exponent
		func(l string) string { return l[:strings.Index(l, "=")] + `= "99999999999999 h"` }, // out of all ranges
	}
	rapid.Check(t, func(t *rapid.T) {
		lines := strings.Split((&draft{T: t}).recipe().Text, "\n")
		var quantities []int
		for i, l := range lines {
			if i > 5 && strings.Contains(l, "=") && !strings.HasPrefix(l, "do") && !strings.HasPrefix(l, "until") {
				quantities = append(quantities, i)
			}
		}
		at := rapid.SampledFrom(quantities).Draw(t, "line")
		lines[at] = rapid.SampledFrom(slips).Draw(t, "slip")(lines[at])
		text := strings.Join(lines, "\n")
		_, problems := Read("drawn.toml", []byte(text))
		found := slices.ContainsFunc(problems.Errors(), func(p Problem) bool { return p.Place.Line == at+1 || p.Place.Line == at+2 })
		if !found {
			t.Fatalf("the slip %q in line %d is not found: %v\n%s", lines[at], at+1, problems, text)
		}
	})
}

func TestUnrolled(t *testing.T) {
	wet, scrub, dry := Stage{Do: Wet}, Stage{Do: Scrub}, Stage{Do: Dry}
	tests := []struct {
		stages []Stage
		repeat int
		want   string
	}{
		{[]Stage{wet, scrub, dry}, 1, "wet scrub dry"},
		{[]Stage{wet, scrub, dry, dry}, 2, "wet scrub wet scrub dry dry"},
		{[]Stage{dry}, 3, "dry"},
		{[]Stage{wet}, 0, "wet"},
		{nil, 2, ""},
	}
	for _, test := range tests {
		var words []string
		for _, s := range (Recipe{Stages: test.stages, Repeat: test.repeat}).Unrolled() {
			words = append(words, s.Do.String())
		}
		if got := strings.Join(words, " "); got != test.want {
			t.Errorf("repeat %d: %q, want %q", test.repeat, got, test.want)
		}
	}
	if got := Kind(99).String(); got != "unknown stage" {
		t.Errorf("no kind is called %q", got)
	}
}

// Whatever bytes come, Read returns; without errors the recipe keeps what it promises.
func FuzzRecipe(f *testing.F) {
	f.Add([]byte(sound))
	f.Add([]byte("\xEF\xBB\xBF" + strings.ReplaceAll(sound, "\n", "\r\n")))
	f.Add([]byte("stage = [{do = \"dry\", fan = \"1 %\", until = \"dry\"}, 3, [[]]]\nlimits.time = \"1 s\"\npads = []"))
	f.Add([]byte("title = 1,5\n[stage]\n[[stage.x]]\nliquid.a = 1"))
	f.Fuzz(func(t *testing.T, data []byte) {
		KindOf(data)
		r, problems := Read("f.toml", data)
		checkPlaces(t, problems)
		if len(problems.Errors()) > 0 {
			return
		}
		all := r.Unrolled()
		for i, s := range all {
			if s.Do < Wet || s.Do > Dry || s.AtMost <= 0 || s.For > s.AtMost || s.Flow < 0 || (s.For == 0) != s.UntilDry {
				t.Fatalf("stage %d is %+v", i, s)
			}
			if s.Pads > 0 && (r.Pads.Pressure < 200 || r.Pads.Within <= 0 || r.Pads.Balance <= 0) || s.Warm > 323.15 {
				t.Fatalf("stage %d is %+v with %+v", i, s, r.Pads)
			}
		}
		if len(all) == 0 || r.Dose() > r.Limits.Liquid*1.001 || r.Limits.Time <= 0 || r.Repeat < 1 || r.Title == "" || len(r.Media) == 0 {
			t.Fatalf("%+v", r)
		}
	})
}

// checkPlaces checks that every problem has a place and something to say on one line.
func checkPlaces(t *testing.T, problems Problems) {
	t.Helper()
	for _, p := range problems {
		if p.Place.File != "f.toml" || p.Place.Line < 1 || p.Place.Column < 1 || p.Said == "" || strings.ContainsAny(p.String(), "\r\n\x00") {
			t.Fatalf("%q", p.String())
		}
	}
}
