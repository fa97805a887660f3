package main

import (
	"bytes"
	"encoding/json"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"fullery/recipe/drying"
	"fullery/recipe/endpoint"
	"fullery/recipe/liquid"
)

// computedTrace writes a trace of two minutes of dry disk and a drying of water by the model, every so many seconds, with
// all that a logger can log. Its noise is made up: a pattern that repeats. It returns when 1 % was left, s.
func computedTrace(t *testing.T, path string, every float64) (dry float64) {
	t.Helper()
	water, err := liquid.Parse("water")
	if err != nil {
		t.Fatal(err)
	}
	c := drying.Case{Liquid: water, Kept: 1e-6, Air: 294.15, Humidity: 0.5, Film: 0.3, Flow: 0.5e-3, Until: 0.001}
	run, err := drying.Run(c, drying.Options{Curve: true})
	if err != nil {
		t.Fatal(err)
	}
	var b strings.Builder
	b.WriteString("t_s,in_c,in_rh,out_c,out_rh,surface_c,weight_g,hub_coast_s\n")
	row := func(s, outlet, humidity, liner, kg float64) {
		wave := math.Sin(7 * s)
		fmt.Fprintf(&b, "%g,%.3f,%.3f,%.3f,%.3f,%.3f,%.4f,%.5f\n", s, 21+0.01*wave, 50+0.1*wave, outlet-273.15-0.01*wave, humidity*100,
			(21+liner-273.15)/2-0.01*wave, 20+kg*1e3+0.0001*wave, 1/(0.25+3000*kg))
	}
	for s := -120.0; s < 0; s += every {
		row(s, 294.15, 0.5, 294.15, 0)
	}
	next, was := 0.0, run.Curve[0]
	for _, p := range run.Curve {
		kg := p.Amounts[liquid.Water]
		if kg > 0.01*run.KeptMass {
			dry = p.Seconds
		}
		for ; next <= p.Seconds; next += every {
			part := 0.0
			if p.Seconds > was.Seconds {
				part = (next - was.Seconds) / (p.Seconds - was.Seconds)
			}
			mix := func(x, y float64) float64 { return x + part*(y-x) }
			row(next, mix(was.Outlet, p.Outlet), mix(was.Humidity, p.Humidity), mix(was.Liner, p.Liner), mix(was.Amounts[liquid.Water], kg))
		}
		was = p
	}
	if err := os.WriteFile(path, []byte(b.String()), 0o644); err != nil {
		t.Fatal(err)
	}
	return dry
}

// traceCommand runs a command line and returns what it printed.
func traceCommand(t *testing.T, args ...string) (status int, out string) {
	t.Helper()
	t.Setenv("XDG_DATA_HOME", t.TempDir())
	var stdout, stderr bytes.Buffer
	status = execute(append([]string{"dry", "trace"}, args...), strings.NewReader(""), &stdout, &stderr)
	if stderr.Len() > 0 {
		t.Fatal(stderr.String())
	}
	return status, stdout.String()
}

// The JSON has the promised form: dry_s and evidence, at most 200 estimates, evenly in time, up to the moment of dryness.
func TestTraceJSON(t *testing.T) {
	file := filepath.Join(t.TempDir(), "logger.csv")
	dry := computedTrace(t, file, 2)
	status, out := traceCommand(t, file, "--liquid", "water", "--flow", "0.5L/s", "--json")
	var got traceJSON
	d := json.NewDecoder(strings.NewReader(out))
	d.DisallowUnknownFields()
	if err := d.Decode(&got); err != nil || status != statusDone {
		t.Fatal(status, err, out)
	}
	if got.DryS == nil || got.Evidence != "weighed" || math.Abs(*got.DryS/dry-1) > 0.1 || got.Liquid != "water" || got.Flow != "0.5 L/s" {
		t.Errorf("%v s (1 %% left at %.0f s) by %q, %s, %s", got.DryS, dry, got.Evidence, got.Liquid, got.Flow)
	}
	n := len(got.Estimates)
	if n < 190 || n > 200 || got.Estimates[0].TS != 0 || got.Estimates[n-1].TS != *got.DryS {
		t.Fatalf("%d estimates", n)
	}
	for i, e := range got.Estimates {
		if even := *got.DryS * float64(i) / float64(n-1); math.Abs(e.TS-even) > 4 {
			t.Errorf("estimate %d is at %v s, not near %.0f s", i, e.TS, even)
		}
		if l := e.LeftMin; l == nil || l.Low > l.Median || l.Median > l.High || l.Low < 0 {
			t.Errorf("%v s: %+v", e.TS, l)
		}
	}
	if len(got.Sights) != 4 || !got.Sights[0].Visible || got.Sights[0].Unit != "mg" || math.Abs(*got.Sights[0].AtLimit-20) > 1 || len(got.Notes) == 0 {
		t.Errorf("%+v", got.Sights)
	}
}

// The picture is well-formed whatever the file is called and whatever is in the trace, says in words what it shows, and
// is the same every time.
func TestTracePicture(t *testing.T) {
	dir := t.TempDir()
	full := filepath.Join(dir, "a <b> & \"c\" \x01.csv")
	computedTrace(t, full, 5)
	text, err := os.ReadFile(full)
	if err != nil {
		t.Fatal(err)
	}
	lines := bytes.SplitAfter(text, []byte("\n"))
	write := func(name string, rows ...[]byte) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, bytes.Join(rows, nil), 0o644); err != nil {
			t.Fatal(err)
		}
		return path
	}
	const legend = "measured dry disk estimate in 8 of 10 cases"
	for _, c := range []struct {
		file  string
		wants []string
	}{
		{full, []string{"a <b> & \"c\"", "upright line: called dry after", "by weighed", "weighed: heavier than the dry disk; dry by this",
			"surface: the jacket is colder than the air; sees the last 2 %, not needed", "air: it leaves colder and moister, as kelvins",
			"drag: the hub stops sooner", "colder / K", "heavier / g", "minutes left", "time of drying / min", legend, "until called dry"}},
		{write("short.csv", lines[:40]...), []string{"never called dry", legend}},
		{write("no-zero.csv", append([][]byte{lines[0]}, lines[25:]...)...), []string{"as measured, for the dry disk was not read"}},
		{write("gap.csv", append(append([][]byte{}, lines[:60]...), lines[200:]...)...), []string{"surface: the jacket is colder than the air"}},
		{write("one.csv", lines[0], lines[25]), []string{"never called dry"}},
		{write("empty.csv", []byte("t_s,in_c,in_rh,out_c,out_rh\n5,,,,\n")), []string{"minutes left"}},
	} {
		picture := filepath.Join(dir, "trace.svg")
		var first []byte
		for range 2 {
			traceCommand(t, c.file, "--liquid", "water", "--flow", "0.5L/s", "--plot", picture, "--force")
			svg, err := os.ReadFile(picture)
			if err != nil {
				t.Fatal(err)
			}
			if first != nil && !bytes.Equal(first, svg) {
				t.Errorf("%s: two pictures of one trace differ", c.file)
			}
			first = svg
		}
		words := wordsOf(t, first)
		for _, want := range c.wants {
			if !strings.Contains(words, want) {
				t.Errorf("%s: the picture does not say %q:\n%s", c.file, want, words)
			}
		}
	}
}

// wordsOf reads a picture as XML, and returns its words with a space between them.
func wordsOf(t *testing.T, svg []byte) string {
	t.Helper()
	var words []string
	d := xml.NewDecoder(bytes.NewReader(svg))
	for {
		tok, err := d.Token()
		if errors.Is(err, io.EOF) {
			return strings.Join(words, " ")
		}
		if err != nil {
			t.Fatalf("not XML: %v\n%s", err, svg)
		}
		switch tok := tok.(type) {
		case xml.StartElement:
			for _, a := range tok.Attr {
				if strings.Contains(a.Value, "NaN") || strings.Contains(a.Value, "Inf") {
					t.Fatalf("%s has %s=%q", tok.Name.Local, a.Name.Local, a.Value)
				}
			}
		case xml.CharData:
			if text := strings.TrimSpace(string(tok)); text != "" {
				words = append(words, text)
			}
		}
	}
}

// What is believed of a bench that nobody knows leaves the time about 0.6 wide in the logarithm.
func TestUnknownBenchIsWide(t *testing.T) {
	for _, name := range []string{"water", "isopropanol-99"} {
		l, err := parseLiquid(name)
		if err != nil {
			t.Fatal(err)
		}
		c := drying.Case{Liquid: l, Air: 294.15, Humidity: 0.5, Film: 0.3, Flow: 5e-3}
		e, err := drying.Estimate(unknownBench(c), c, drying.Options{})
		if err != nil {
			t.Fatal(err)
		}
		if width := math.Log(e.Minutes.High/e.Minutes.Low) / 2 / 1.2816; math.Abs(width-0.6) > 0.06 {
			t.Errorf("%s: %.3f", name, width)
		}
	}
}

// The first and the last are kept, the order too, and never more than asked for.
func TestThinned(t *testing.T) {
	for _, n := range []int{0, 1, 2, 11, 12, 1000} {
		var all []endpoint.Moment
		for i := range n {
			all = append(all, endpoint.Moment{Seconds: float64(i * i)})
		}
		got := thinned(all, 11)
		if len(got) > 11 || n > 0 && (got[0] != all[0] || got[len(got)-1] != all[n-1]) || n <= 2 && len(got) != n {
			t.Errorf("of %d: %v", n, got)
		}
		for i := 1; i < len(got); i++ {
			if got[i].Seconds <= got[i-1].Seconds {
				t.Errorf("of %d: %v", n, got)
			}
		}
	}
}
