package simbench

import (
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"fullery/recipe"
)

func TestParseFault(t *testing.T) {
	s := time.Second
	for text, want := range map[string]FaultOrder{
		"lid-open@scrub+5s":           {"lid-open", recipe.Scrub, 5 * s, 0},
		"lid-open@scrub+5s..2s":       {"lid-open", recipe.Scrub, 5 * s, 2 * s},
		"reading-gone@dry+1.5s":       {"reading-gone", recipe.Dry, 1500 * time.Millisecond, 0},
		"fan-unproven@spin-out+200ms": {"fan-unproven", recipe.SpinOut, s / 5, 0},
		"tank-low@wet+2min..1h":       {"tank-low", recipe.Wet, 2 * time.Minute, time.Hour},
		"estop@soak":                  {"estop", recipe.Soak, 0, 0},
		"estop@rinse..3s":             {"estop", recipe.Rinse, 0, 3 * s},
		"estop@rinse+0s":              {"estop", recipe.Rinse, 0, 0},
		"estop@rinse+0.5min":          {"estop", recipe.Rinse, 30 * s, 0},
	} {
		got, err := ParseFault(text)
		if err != nil || got != want {
			t.Errorf("%s: %+v, %v; want %+v", text, got, err, want)
		}
	}
}

func TestParseFaultSaysWhatWouldBeRight(t *testing.T) {
	for text, want := range map[string]string{
		"":                                       "ID@STAGE+TIME",
		"lid-open":                               "ID@STAGE+TIME",
		"@scrub+5s":                              "ID@STAGE+TIME",
		"lid-opne@scrub+5s":                      "did you mean lid-open?",
		"LID-OPEN@scrub+5s":                      "did you mean lid-open?",
		"zebra@scrub+5s":                         "the command guards lists them",
		"lid-open@scrap+5s":                      "did you mean scrub?",
		"lid-open@drying+5s":                     "stages are wet, scrub, rinse, spin-out, soak, dry",
		"lid-open@+5s":                           "stages are",
		"lid-open@scrub+5":                       "write a number and ms, s, min or h",
		"lid-open@scrub+":                        "write a number",
		"lid-open@scrub+s":                       "write a number",
		"lid-open@scrub+5m":                      "minutes are min",
		"lid-open@scrub+1,5s":                    "decimal comma",
		"lid-open@scrub+-5s":                     "write a number",
		"lid-open@scrub+1e9s":                    "write a number",
		"lid-open@scrub+NaNs":                    "write a number",
		"lid-open@scrub+1.2.3s":                  "write a number",
		"lid-open@scrub+5s..0s":                  "longer than nothing",
		"lid-open@scrub+5s..":                    "write a number",
		"lid-open@scrub+5s..2s..1s":              "write a number",
		"lid-open@scrub+101h":                    "longer than 100 h",
		"lid-open@scrub+9999999999999999999999h": "longer than 100 h",
	} {
		got, err := ParseFault(text)
		if err == nil || !strings.Contains(err.Error(), want) || got != (FaultOrder{}) {
			t.Errorf("%q: %+v, %v; want an error with %q", text, got, err, want)
		}
	}
}

func FuzzParseFault(f *testing.F) {
	for _, s := range []string{"lid-open@scrub+5s", "lid-open@scrub+5s..2s", "estop@dry+1.5min", "a@b+c..d", "@+..", "\xff@\x00"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		o, err := ParseFault(text)
		if err != nil {
			if o != (FaultOrder{}) {
				t.Fatalf("an order beside an error: %+v", o)
			}
			return
		}
		again, err := ParseFault(o.String())
		if err != nil || again != o {
			t.Fatalf("%q gives %+v, written %q, read again %+v, %v", text, o, o.String(), again, err)
		}
	})
}

func TestOrdersRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		o := FaultOrder{
			ID:    rapid.SampledFrom(faultIDs()).Draw(t, "id"),
			Stage: recipe.Kind(rapid.IntRange(int(recipe.Wet), int(recipe.Dry)).Draw(t, "stage")),
			After: time.Duration(rapid.IntRange(0, 1e8).Draw(t, "after")) * time.Millisecond,
			Lasts: time.Duration(rapid.IntRange(0, 1e8).Draw(t, "lasts")) * time.Millisecond,
		}
		if got, err := ParseFault(o.String()); err != nil || got != o {
			t.Fatalf("%+v written %q, read %+v, %v", o, o.String(), got, err)
		}
	})
}

// An order acts when its stage has run that long, once, and ends when it has lasted.
func TestOrdersActOnceInTheirStage(t *testing.T) {
	a := newAt(t, testSpec(), "water")
	for _, s := range []string{"lid-open@scrub+5s..2s", "estop@dry+1s", "loop-late@scrub+6s..100ms"} {
		o, err := ParseFault(s)
		if err == nil {
			err = a.Order(o)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := a.Order(FaultOrder{ID: "lid-opne"}); err == nil || !strings.Contains(err.Error(), "lid-open") {
		t.Errorf("an unknown order: %v", err)
	}
	var began map[string]time.Duration
	play := func(kind recipe.Kind, span time.Duration) {
		began = map[string]time.Duration{}
		for since := time.Duration(0); since < span; since += tick {
			a.AtStage(kind, since)
			a.read()
			for _, id := range []string{"lid-open", "estop", "loop-late"} {
				if a.Armed(id) {
					if _, ok := began[id+" from"]; !ok {
						began[id+" from"] = since
					}
					began[id+" to"] = since
				}
			}
			a.now += tick
		}
	}
	want := func(what string, at time.Duration) {
		t.Helper()
		if got, ok := began[what]; !ok || got != at {
			t.Errorf("%s %v (%v), want %v", what, got, ok, at)
		}
	}
	play(recipe.Wet, 10*time.Second)
	if len(began) > 0 {
		t.Errorf("acted in another stage: %v", began)
	}
	play(recipe.Scrub, 10*time.Second)
	want("lid-open from", 5*time.Second)
	want("lid-open to", 7*time.Second-tick)
	want("loop-late from", 6*time.Second)
	want("loop-late to", 6*time.Second+tick)
	play(recipe.Scrub, 10*time.Second)
	if len(began) > 0 {
		t.Errorf("acted twice: %v", began)
	}
	play(recipe.Dry, 10*time.Second)
	want("estop from", time.Second)
	want("estop to", 10*time.Second-tick)
}

func TestHint(t *testing.T) {
	names := []string{"lid-open", "estop", "pad-light"}
	for word, want := range map[string]string{
		"lidopen": " (did you mean lid-open?)", "stop": " (did you mean estop?)", "pad-lihgt": " (did you mean pad-light?)",
		"x": "", "": "", strings.Repeat("lid-open", 10): "",
	} {
		if got := hint(word, names); got != want {
			t.Errorf("%q: %q, want %q", word, got, want)
		}
	}
	for _, c := range []struct {
		a, b string
		want int
	}{{"kitten", "sitting", 3}, {"", "abc", 3}, {"abc", "", 3}, {"same", "same", 0}} {
		if got := edits(c.a, c.b); got != c.want {
			t.Errorf("edits(%q, %q) = %d, want %d", c.a, c.b, got, c.want)
		}
	}
}
