package endpoint

import (
	"fmt"
	"math"
	"math/rand/v2"
	"sort"
	"testing"
	"time"

	"fullery/recipe"
	"fullery/recipe/drying"
	"fullery/recipe/liquid"
)

// parse is liquid.Parse for names that are known.
func parse(t testing.TB, name string) liquid.Liquid {
	t.Helper()
	l, err := liquid.Parse(name)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// room is a drying in a spare room: 21 °C, 0.3 W/K, as much as the belief holds.
func room(t testing.TB, name string, humidity, litres float64) drying.Case {
	t.Helper()
	return drying.Case{Liquid: parse(t, name), Air: zeroC + 21, Humidity: humidity, Film: 0.3, Flow: litres * 1e-3}
}

// warmed is that with the air warmed to 36 °C.
func warmed(c drying.Case) drying.Case { c.Warm = zeroC + 36; return c }

// benchWith is a simulated bench with these sensors only, each as noisy as a small digital one.
func benchWith(fitted ...recipe.Sensor) *recipe.Bench {
	b := &recipe.Bench{
		Name: "test", Simulated: true, Room: recipe.Room{Volume: 30, Air: zeroC + 21, Humidity: 0.5},
		Fan: recipe.Fan{Fastest: 50, Least: 0.3, Through: 3e-3, Stirring: 2, DuctArea: 2e-3},
		Sim: recipe.Sim{Kept: 2e-6, Film: 0.3},
	}
	for _, s := range fitted {
		spec := recipe.SensorSpec{Fitted: true, Every: time.Second, Stale: 3 * time.Second}
		switch s {
		case recipe.AirInRH, recipe.AirOutRH:
			spec.Noise, spec.Step = 0.003, 1e-4
		case recipe.Weight:
			spec.Noise, spec.Step = 2e-6, 1e-6
		default:
			spec.Noise, spec.Step = 0.03, 0.01
		}
		b.Sensors[s] = spec
	}
	return b
}

// sensorsOf lists what has to be fitted for a kind of evidence.
func sensorsOf(e Evidence) []recipe.Sensor {
	switch e {
	case ByWeight:
		return []recipe.Sensor{recipe.Weight}
	case BySurface:
		return []recipe.Sensor{recipe.Air, recipe.Surface}
	default:
		return []recipe.Sensor{recipe.Air, recipe.AirIn, recipe.AirInRH, recipe.AirOut, recipe.AirOutRH}
	}
}

// planOf is the plan of a case as a bench with the sensors of one kind of evidence would make it.
func planOf(t testing.TB, c drying.Case, only Evidence) *Plan {
	t.Helper()
	p, err := New(drying.Belief{}, c, ByBench(benchWith(sensorsOf(only)...), c))
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// truth is a drying as it really goes, by the fine model, to be asked at any moment.
type truth struct {
	c       drying.Case
	in      float64 // K
	points  []drying.Point
	kept    float64 // kg
	minutes float64 // until 1 % is left
}

// really dries a case; one that names no volume keeps 2 mL.
func really(t testing.TB, c drying.Case) truth {
	t.Helper()
	if c.Kept == 0 {
		c.Kept = drying.DefaultKept
	}
	c.Until = 0.001
	r, err := drying.Run(c, drying.Options{Curve: true, Tolerance: 1e-6})
	if err != nil || r.Never {
		t.Fatalf("%s at %.0f %%: %v, %s", c.Liquid.Name, 100*c.Humidity, err, r.Reason)
	}
	w := truth{c: c, in: max(c.Air, c.Warm), points: r.Curve, kept: r.KeptMass}
	w.minutes = w.when(0.01) / 60
	return w
}

// now is what is true at one moment.
type now struct{ left, liner, outlet, humidity float64 } // share, K below the air, K below the air, relative

// at returns what is true at a moment; beyond the curve all goes on fading as it did.
func (w *truth) at(seconds float64) now {
	pts := w.points
	i := sort.Search(len(pts), func(i int) bool { return pts[i].Seconds > seconds })
	i = min(max(i, 1), len(pts)-1)
	a, b := pts[i-1], pts[i]
	f := (seconds - a.Seconds) / (b.Seconds - a.Seconds)
	mix := func(x, y float64) float64 {
		if x > 0 && y > 0 {
			return x * math.Pow(y/x, f)
		}
		return x + min(f, 1)*(y-x)
	}
	n := now{
		left: mix(a.Amounts.Total(), b.Amounts.Total()) / w.kept, liner: mix(w.in-a.Liner, w.in-b.Liner),
		outlet: mix(w.in-a.Outlet, w.in-b.Outlet),
	}
	// The outlet's humidity fades to what the air that enters has at the outlet's temperature.
	dry := w.unwetted(n.outlet)
	n.humidity = a.Humidity + min(f, 1)*(b.Humidity-a.Humidity)
	if f > 1 {
		n.humidity = dry + (b.Humidity-dry)*n.left*w.kept/b.Amounts.Total()
	}
	return n
}

// unwetted is the relative humidity of the air that enters, at the outlet's temperature.
func (w *truth) unwetted(outlet float64) float64 {
	return w.c.Humidity * liquid.Water.Saturation(w.c.Air) / liquid.Water.Saturation(w.in-outlet)
}

// when returns the second at which so much is left.
func (w *truth) when(left float64) float64 {
	low, high := 0.0, 4*w.points[len(w.points)-1].Seconds
	for range 60 {
		if mid := (low + high) / 2; w.at(mid).left > left {
			low = mid
		} else {
			high = mid
		}
	}
	return high
}

// rig is how the sensors of a bench stand to the truth. The zero value reads it exactly, through a jacket that is as
// cold as the liner.
type rig struct {
	scale  float64 // of every signal that goes with a rate; 0 is 1
	noise  float64 // of what the plan's bench says; 0: none
	lag    float64 // s
	offset float64 // K, kg times 1e-3, and shares times 0.1: each sensor's own, drawn up to this
	seed   uint64
	every  float64 // s between steps; 0 is 1
}

// reader makes readings of a drying.
type reader struct {
	rig
	w       truth
	specs   *[recipe.NumSensors]recipe.SensorSpec
	rand    *rand.Rand
	offsets [recipe.NumSensors]float64
	lagged  [recipe.NumSensors]float64
	begun   bool
}

func (g rig) reads(w truth) *reader {
	if g.scale == 0 {
		g.scale = 1
	}
	if g.every == 0 {
		g.every = 1
	}
	all := make([]recipe.Sensor, 0, recipe.NumSensors)
	for s := range recipe.NumSensors {
		all = append(all, s)
	}
	r := &reader{rig: g, w: w, specs: &benchWith(all...).Sensors, rand: rand.New(rand.NewPCG(g.seed, 7))}
	for s := range r.offsets {
		r.offsets[s] = g.offset * (2*r.rand.Float64() - 1)
	}
	r.offsets[recipe.Weight] *= 1e-3
	r.offsets[recipe.AirInRH] *= 0.1
	r.offsets[recipe.AirOutRH] *= 0.1
	return r
}

// sees passes a true value through a sensor.
func (r *reader) sees(s recipe.Sensor, x float64) float64 {
	if !r.begun || r.lag == 0 {
		r.lagged[s] = x
	}
	r.lagged[s] += (x - r.lagged[s]) * (1 - math.Exp(-r.every/max(r.lag, 1e-9)))
	x = r.lagged[s] + r.offsets[s]
	if r.noise > 0 {
		spec := &r.specs[s]
		x += r.noise * spec.Noise * r.rand.NormFloat64()
		x = math.Round(x/spec.Step) * spec.Step
	}
	return x
}

// shows makes a reading of what is true.
func (r *reader) shows(n now) Reading {
	w := &r.w
	dry := w.unwetted(n.outlet)
	x := Reading{
		AirIn: r.sees(recipe.AirIn, w.c.Air), AirInRH: r.sees(recipe.AirInRH, w.c.Humidity), Air: r.sees(recipe.Air, w.in),
		AirOut: r.sees(recipe.AirOut, w.in-r.scale*n.outlet), AirOutRH: r.sees(recipe.AirOutRH, dry+r.scale*(n.humidity-dry)),
		Surface: r.sees(recipe.Surface, w.in-r.scale*n.liner), Weight: r.sees(recipe.Weight, 0.4+n.left*w.kept),
		Coast: 1 / (0.5 + n.left*freeCoast),
	}
	r.begun = true
	return x
}

// dryDisk is a reading before anything is wetted.
func (r *reader) dryDisk() Reading {
	return r.shows(now{humidity: r.w.unwetted(0)})
}

// zeroed is the state of a bench that has read the dry disk for half a minute.
func (r *reader) zeroed(p *Plan) State {
	var s State
	for range 30 {
		p.Zero(&s, r.dryDisk(), 1)
	}
	s.Begin()
	return s
}

// outcome is how a drying ended.
type outcome struct {
	at   float64 // s of drying; +Inf when it was not called dry in three times its length
	left float64 // share that was left then
	by   Evidence
}

func (o outcome) String() string {
	return fmt.Sprintf("dry by %v after %.0f s with %.2f %% left", o.by, o.at, 100*o.left)
}

// watch lets a plan look at a drying until it calls it dry. A twist may change every reading, or drop it.
func watch(p *Plan, r *reader, twist func(seconds float64, x *Reading)) outcome {
	s := r.zeroed(p)
	for at := 0.0; at < 3*60*r.w.minutes; at += r.every {
		x := r.shows(r.w.at(at))
		if twist != nil {
			twist(at, &x)
		}
		p.Step(&s, x, r.every)
		if by, dry := p.Dry(&s); dry {
			return outcome{at, r.w.at(at).left, by}
		}
	}
	return outcome{math.Inf(1), 0, s.By}
}

// unread is a moment at which no sensor says anything.
func unread() Reading {
	n := math.NaN()
	return Reading{n, n, n, n, n, n, n, n}
}

// signalAtWork is what the evidence at work shows now; NaN for the clock.
func signalAtWork(s *State) float64 {
	if !s.By.Proven() {
		return math.NaN()
	}
	return s.Tracks[s.By-1].Now
}
