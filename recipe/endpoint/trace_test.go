package endpoint

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"fullery/recipe/drying"
	"fullery/recipe/liquid"
)

// The traces of these tests are computed, not measured: a drying by the model, seen through made-up sensors. They say
// whether the file comes through the end point unharmed; how the end point does on a plant that is not its own model is
// tested elsewhere.

// logger makes a trace.
type logger struct {
	of       drying.Case
	every    float64 // s
	before   float64 // s of the dry disk
	after    float64 // s logged after 1 % is left; negative: the log breaks off so much earlier
	heat     float64 // K, noise of each temperature
	damp     float64 // relative, noise of each humidity
	scale    float64 // kg, noise of the weight
	coast    float64 // share, noise of a coast
	jacket   float64 // share of the liner's depression that the jacket shows
	surface  bool
	weighed  bool
	drag     bool
	noOut    bool    // the cells of the air leaving stay empty
	offsets  float64 // K, humidity points and g that the sensors are off by: the zero must take it away
	stretch  float64 // factor on all times; 0 is 1
	decimals int     // of what is written; 0 is 5
}

// curve is the drying far beyond its end, and when 1 % was left, s.
func (l logger) curve(t interface {
	Helper()
	Fatal(...any)
}) (points []drying.Point, kept, dry float64) {
	t.Helper()
	c := l.of
	c.Until = 0.001
	r, err := drying.Run(c, drying.Options{Curve: true, Tolerance: 1e-5})
	if err != nil || r.Never {
		t.Fatal(r.Reason, err)
	}
	for i := range r.Curve {
		r.Curve[i].Seconds *= l.times()
		if content(r.Curve[i]) > r.KeptMass*most/2 {
			dry = r.Curve[i].Seconds
		}
	}
	return r.Curve, r.KeptMass, dry
}

func (l logger) times() float64 {
	if l.stretch == 0 {
		return 1
	}
	return l.stretch
}

func content(p drying.Point) float64 { return p.Amounts[0] + p.Amounts[1] + p.Amounts[2] }

// at is the drying at a moment, between the two points about it; beyond the end all is dry.
func at(points []drying.Point, s, in float64) (liner, outlet, humidity, kg float64) {
	for i := 1; i < len(points); i++ {
		a, b := points[i-1], points[i]
		if s > b.Seconds {
			continue
		}
		part := (s - a.Seconds) / (b.Seconds - a.Seconds)
		mix := func(x, y float64) float64 { return x + part*(y-x) }
		return mix(a.Liner, b.Liner), mix(a.Outlet, b.Outlet), mix(a.Humidity, b.Humidity), mix(content(a), content(b))
	}
	last := points[len(points)-1]
	fades := math.Exp(-(s - last.Seconds) / max(last.Seconds/50, 1))
	return in - (in-last.Liner)*fades, in - (in-last.Outlet)*fades, last.Humidity, content(last) * fades
}

// record writes the trace; dry is when 1 % was left, s, and left gives the share that was left at any time.
func (l logger) record(t interface {
	Helper()
	Fatal(...any)
}, seed uint64) (csv string, dry float64, left func(float64) float64) {
	t.Helper()
	points, kept, dry := l.curve(t)
	random := rand.New(rand.NewPCG(seed, 1))
	in := max(l.of.Air, l.of.Warm)
	dampDry := l.of.Humidity * liquid.Water.Saturation(l.of.Air) / liquid.Water.Saturation(in)
	var b strings.Builder
	b.WriteString("t_s,in_c,in_rh,out_c,out_rh")
	for _, c := range []struct {
		has  bool
		name string
	}{{l.surface, "surface_c"}, {l.weighed, "weight_g"}, {l.drag, "hub_coast_s"}} {
		if c.has {
			b.WriteString("," + c.name)
		}
	}
	b.WriteString("\n")
	digits := 5
	if l.decimals > 0 {
		digits = l.decimals
	}
	put := func(x, noise float64) { fmt.Fprintf(&b, ",%.*f", digits, x+noise*random.NormFloat64()) }
	for s := -l.before; s <= dry+l.after; s += l.every {
		liner, outlet, humidity, kg := in, in, dampDry, 0.0
		if s >= 0 {
			liner, outlet, humidity, kg = at(points, s, in)
		}
		fmt.Fprintf(&b, "%.6g", s)
		put(in-zeroC, l.heat)
		put(dampDry*100, l.damp*100)
		if l.noOut {
			b.WriteString(",,")
		} else {
			put(outlet-zeroC+l.offsets, l.heat)
			put(humidity*100+l.offsets, l.damp*100)
		}
		if l.surface {
			put(in-l.jacket*(in-liner)-zeroC+l.offsets, l.heat)
		}
		if l.weighed {
			put(20+l.offsets+kg*1e3, l.scale*1e3)
		}
		if l.drag {
			coast := 1 / (0.25 + 3*kg/kept)
			put(coast, l.coast*coast)
		}
		b.WriteString("\n")
	}
	return b.String(), dry, func(s float64) float64 { _, _, _, kg := at(points, s, in); return kg / kept }
}

func named(t interface{ Fatal(...any) }, name string) liquid.Liquid {
	l, err := liquid.Parse(name)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// usualLogger is a water-wet disk on the shipped bench with little air thrown away.
func usualLogger(t interface{ Fatal(...any) }) logger {
	return logger{of: drying.Case{Liquid: named(t, "water"), Kept: 2e-6, Air: zeroC + 21, Humidity: 0.5, Film: 0.3, Flow: 0.5e-3},
		every: 1, before: 60, after: 600, heat: 0.02, damp: 0.003, scale: 1e-6, coast: 1e-4, jacket: 0.6, offsets: 0.3}
}

// wide is the belief for a bench that nobody knows, as the command takes it.
func wide(l liquid.Liquid) drying.Belief {
	return drying.Belief{Liquids: []string{l.Name}, Mean: []float64{0, math.Log(drying.DefaultKept)},
		Cov: [][]float64{{0.176, 0}, {0, 0.176}}, Jitter: 0.1}
}

// readTrace reads a trace that must be well.
func readTrace(t interface {
	Helper()
	Fatal(...any)
}, csv string) *Trace {
	t.Helper()
	tr, err := ReadTrace("made-up.csv", strings.NewReader(csv))
	if err != nil {
		t.Fatal(err)
	}
	return tr
}

// replay reads a trace and puts it through the end point of a bench that nobody knows, whose film is taken to be 0.3 W/K.
func replay(t interface {
	Helper()
	Fatal(...any)
}, l logger, csv string) (r Replayed, p *Plan, notes string) {
	t.Helper()
	tr := readTrace(t, csv)
	c := drying.Case{Liquid: l.of.Liquid, Film: UsualFilm, Flow: l.of.Flow}
	c.Air, c.Humidity = tr.Air()
	b := wide(c.Liquid)
	if kept := tr.Kept(c.Liquid); kept > 0 {
		b = b.Pin(c.Liquid, kept)
	}
	p, said, err := PlanTrace(b, c, tr)
	if err != nil {
		t.Fatal(err)
	}
	r = p.Replay(tr)
	return r, p, strings.Join(slices.Concat(tr.Notes, said, r.Notes), "\n")
}

// only leaves a logger one kind of evidence.
func (l logger) only(e Evidence) logger {
	l.weighed, l.surface, l.drag, l.noOut = e == ByWeight, e == BySurface, e == ByDrag, e != ByAir
	return l
}

// Every kind of evidence ends a drying of water and of alcohol, in damp air too, not before 2 % are left and, give or
// take a minute of smoothing and of waiting, not a tenth of its time too late.
func TestTraceIsCalledDry(t *testing.T) {
	for _, e := range kinds() {
		for _, c := range []struct {
			liquid   string
			humidity float64
			every    float64
		}{
			{"water", 0.5, 1}, {"water", 0.5, 10}, {"water", 0.5, 60}, {"water", 0.75, 10},
			{"isopropanol-99", 0.5, 1}, {"isopropanol-99", 0.5, 10}, {"isopropanol-70", 0.7, 10}, {"ethanol-96", 0.3, 10},
		} {
			l := usualLogger(t).only(e)
			l.of.Liquid, l.of.Humidity, l.every, l.before = named(t, c.liquid), c.humidity, c.every, 60*c.every
			csv, dry, left := l.record(t, 3)
			r, p, notes := replay(t, l, csv)
			what := fmt.Sprintf("%s, %s at %.0f %%, every %.0f s", e, c.liquid, 100*c.humidity, c.every)
			if r.By != e || r.Reason != "" {
				t.Errorf("%s: called dry by %q: %s\n%v\n%s", what, r.By, r.Reason, p.Sights[e-1], notes)
				continue
			}
			if share := left(r.Seconds); share > most || r.Seconds > 1.1*dry+60+c.every {
				t.Errorf("%s: called dry at %.1f min, with %.4f left; 1 %% were left at %.1f min", what, r.Seconds/60, share, dry/60)
			}
		}
	}
}

// A quick drying that is logged once a minute is called dry within a tenth of its time and the row that follows.
func TestQuickDryingLoggedSlowly(t *testing.T) {
	for _, liquid := range []string{"isopropanol-99", "isopropanol-91", "water"} {
		for _, e := range []Evidence{ByWeight, BySurface, ByAir} {
			l := usualLogger(t).only(e)
			l.of.Liquid, l.every, l.before, l.heat, l.damp = named(t, liquid), 60, 1200, 0.01, 0.001
			csv, dry, left := l.record(t, 5)
			r, _, _ := replay(t, l, csv)
			if late := r.Seconds - dry; r.By != e || left(r.Seconds) > most || late > 0.1*dry+60 {
				t.Errorf("%s by %s: called dry by %q at %.1f min of %.1f", liquid, e, r.By, r.Seconds/60, dry/60)
			}
		}
	}
}

// A bench that keeps a quarter or more than twice of what is believed, and is exposed a third or nearly twice as much.
func TestTraceOfABenchNobodyKnows(t *testing.T) {
	for _, liquid := range []string{"water", "isopropanol-91"} {
		for _, kept := range []float64{0.5e-6, 5e-6} {
			for _, film := range []float64{0.1, 0.5} {
				for _, e := range []Evidence{ByWeight, BySurface, ByAir} {
					l := usualLogger(t).only(e)
					l.of.Liquid, l.of.Kept, l.of.Film = named(t, liquid), kept, film
					l.every, l.before, l.after, l.scale, l.heat, l.damp = 5, 300, 3600, 1e-7, 0.01, 0.001
					if kept < 1e-6 && e == ByWeight {
						continue // a scale does not see the last 2 % of so little
					}
					csv, dry, left := l.record(t, 7)
					r, p, _ := replay(t, l, csv)
					if r.By == NoEvidence || left(r.Seconds) > most || r.Seconds > 1.25*dry+60 {
						t.Errorf("%s, %.1f mL, %.1f W/K by %s: called dry by %q at %.1f min of %.1f, with %.4f left\n%v", liquid, kept*1e6, film,
							e, r.By, r.Seconds/60, dry/60, left(r.Seconds), p.Sights[e-1])
					}
				}
			}
		}
	}
}

// A liner that keeps more than is believed dries out with a longer tail, and an alcohol in air in which it just leaves
// water behind as well: the first had been called dry with more than 2 % left.
func TestTailOfALinerThatKeepsMore(t *testing.T) {
	for _, c := range []struct {
		liquid                     string
		kept, film, humidity, flow float64
	}{
		{"isopropanol-99", 3.7e-6, 0.16, 0.33, 0.64e-3}, {"isopropanol-70", 1.8e-6, 0.14, 0.58, 0.52e-3},
		{"isopropanol-91", 2.5e-6, 0.12, 0.24, 1.1e-3},
	} {
		worst := 0.0
		for seed := range uint64(8) {
			l := usualLogger(t).only(ByAir)
			l.of.Liquid = named(t, c.liquid)
			l.of.Kept, l.of.Film, l.of.Humidity, l.of.Flow = c.kept, c.film, c.humidity, c.flow
			l.every, l.before, l.after, l.heat = 10, 200, 1800, 0.01
			csv, _, left := l.record(t, seed)
			if r, _, _ := replay(t, l, csv); r.By.Proven() {
				worst = max(worst, left(r.Seconds))
			}
		}
		if worst == 0 || worst > most {
			t.Errorf("%+v: called dry with %.4f left at the worst", c, worst)
		}
		t.Logf("%+v: %.4f", c, worst)
	}
}

// Whatever the liquid, the air and the sensors: nothing is called dry on evidence with more than 2 % left.
func TestTraceNeverDryTooSoon(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		e := rapid.SampledFrom([]Evidence{ByWeight, BySurface, ByAir, ByDrag}).Draw(t, "evidence")
		l := usualLogger(t).only(e)
		l.of.Liquid = named(t, rapid.SampledFrom([]string{"water", "isopropanol-99", "isopropanol-70"}).Draw(t, "liquid"))
		l.of.Kept = rapid.Float64Range(1.4e-6, 2.8e-6).Draw(t, "kept")
		l.of.Film = rapid.Float64Range(0.2, 0.45).Draw(t, "film")
		l.of.Humidity = rapid.Float64Range(0.3, 0.7).Draw(t, "humidity")
		l.of.Air = zeroC + rapid.Float64Range(15, 28).Draw(t, "air")
		l.every = rapid.Float64Range(1, 30).Draw(t, "every")
		l.before = 30 * l.every
		l.heat = rapid.Float64Range(0.001, 0.02).Draw(t, "heat")
		l.damp = rapid.Float64Range(0.0005, 0.002).Draw(t, "damp")
		l.scale = rapid.Float64Range(1e-8, 3e-6).Draw(t, "scale")
		l.coast = rapid.Float64Range(1e-5, 1e-3).Draw(t, "coast")
		csv, _, left := l.record(t, rapid.Uint64().Draw(t, "seed"))
		r, p, _ := replay(t, l, csv)
		if r.By.Proven() && (!p.Sights[r.By-1].Visible || left(r.Seconds) > most) {
			t.Fatalf("called dry by %s with %.4f left; %+v", r.By, left(r.Seconds), p.Sights[r.By-1])
		}
	})
}

// A liner that keeps so many times more and takes so many times longer is called dry with the same share left.
func TestTraceScales(t *testing.T) {
	for _, e := range []Evidence{ByWeight, BySurface, ByAir} {
		share := [2]float64{}
		for i, times := range []float64{1, 2} {
			l := usualLogger(t).only(e)
			l.heat, l.damp, l.scale = 0.001, 1e-4, 1e-8
			l.stretch, l.every, l.before = times, 2*times, 100*times
			csv, _, left := l.record(t, 1)
			r, _, _ := replay(t, l, csv)
			if share[i] = left(r.Seconds); r.By != e {
				t.Fatalf("%s, %g times as long: %q", e, times, r.By)
			}
		}
		if math.Abs(share[0]-share[1]) > 0.004 {
			t.Errorf("%s: dry with %.4f left, and with %.4f when all takes twice as long", e, share[0], share[1])
		}
	}
}
