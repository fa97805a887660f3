package endpoint

import (
	"encoding/binary"
	"math"
	"testing"

	"fullery/recipe"
	"fullery/recipe/drying"

	"pgregory.net/rapid"
)

// everything is a plan of a bench with every sensor, on which every evidence is taken to be visible.
func everything(t testing.TB, c drying.Case) *Plan {
	t.Helper()
	fitted := append(append(sensorsOf(ByAir), recipe.Surface), recipe.Weight)
	senses := ByBench(benchWith(fitted...), c)
	senses[ByDrag-1] = Sense{Fitted: true, Noise: 1e-4, Every: 1}
	p, err := New(drying.Belief{}, c, senses)
	if err != nil {
		t.Fatal(err)
	}
	for i := range p.Sights {
		p.Sights[i].Visible = !p.Expected.Never
	}
	return p
}

// holdsTogether tells what is wrong with a state; "" when nothing is.
func holdsTogether(p *Plan, s *State) string {
	by, dry := p.Dry(s)
	l := p.Left(s)
	switch {
	case *s != *s:
		return "the state does not equal itself"
	case dry && !by.Proven():
		return "dry without evidence"
	case dry && (!p.Sights[by-1].Visible || !s.Zeroed(by)):
		return "dry by what was not visible, or had no zero"
	case dry && s.Elapsed < p.shortest():
		return "dry too early"
	case !inOrder(l):
		return "the minutes left are no interval"
	case math.IsNaN(p.DryBelow(s)) == by.Proven():
		return "what it is dry below is known or not, against the evidence"
	case !(s.Since >= 0 && s.Since <= p.spans.lasting) || !(s.Elapsed >= 0 && s.Elapsed <= p.spans.elapsed):
		return "a span left its range"
	}
	for _, t := range s.Tracks {
		for _, x := range []float64{t.Zero, t.Read, t.Now, t.Most, t.Sum} {
			if math.IsInf(x, 0) {
				return "a track is infinite"
			}
		}
	}
	return ""
}

// nasty are figures that a broken sensor, or a broken file, may give.
var nasty = []float64{math.NaN(), math.Inf(1), math.Inf(-1), 0, -1, 1e300, -1e300, math.MaxFloat64, -math.MaxFloat64, 5e-324, 1e6,
	999999, -999999, 273.15, 300, 0.5, 1, 101325}

// TestAnyReadings: whatever is read, and in whatever steps, nothing panics, and the state holds together.
func TestAnyReadings(t *testing.T) {
	plans := []*Plan{everything(t, room(t, "water", 0.5, 0.5)), everything(t, room(t, "isopropanol-70", 0.5, 0.5)),
		everything(t, warmed(room(t, "water", 0.3, 3))), everything(t, saturated(t))}
	rapid.Check(t, func(r *rapid.T) {
		p := rapid.SampledFrom(plans).Draw(r, "plan")
		if only := rapid.SampledFrom([]Evidence{NoEvidence, ByWeight, BySurface, ByAir, ByDrag}).Draw(r, "coarse"); only.Proven() {
			p = p.Coarse(only)
		}
		figure := rapid.OneOf(rapid.SampledFrom(nasty), rapid.Float64(), rapid.Float64Range(270, 320), rapid.Float64Range(0, 1))
		var s State
		for range rapid.IntRange(1, 60).Draw(r, "steps") {
			var v [8]float64
			for i := range v {
				v[i] = figure.Draw(r, "figure")
			}
			x := Reading{v[0], v[1], v[2], v[3], v[4], v[5], v[6], v[7]}
			dt := rapid.OneOf(rapid.Just(1.0), rapid.SampledFrom(nasty), rapid.Float64Range(0, 1e4)).Draw(r, "dt")
			switch rapid.IntRange(0, 9).Draw(r, "what") {
			case 0:
				s.Begin()
			case 1:
				s.Pause()
			case 2:
				s.Forget(Evidence(rapid.IntRange(0, 7).Draw(r, "forgotten")))
			case 3, 4:
				p.Zero(&s, x, dt)
			default:
				p.Step(&s, x, dt)
			}
			if wrong := holdsTogether(p, &s); wrong != "" {
				r.Fatalf("%s: %+v, left %+v", wrong, s, p.Left(&s))
			}
		}
	})
}

// FuzzStep reads the bytes as a plan, then as steps of a second or so with figures near what sensors read.
func FuzzStep(f *testing.F) {
	plans := []*Plan{everything(f, room(f, "water", 0.5, 0.5)), everything(f, room(f, "isopropanol-70", 0.5, 0.5)),
		everything(f, warmed(room(f, "water", 0.3, 3))), everything(f, saturated(f))}
	f.Add([]byte{0, 10, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, 16, 17})
	f.Add([]byte{1, 255, 255, 255, 255, 255, 255, 255, 255, 0, 0, 0, 0, 0, 0, 0, 0})
	f.Fuzz(func(t *testing.T, data []byte) {
		if len(data) == 0 {
			return
		}
		p := plans[int(data[0])%len(plans)]
		data = data[1:]
		var s State
		for n := 0; len(data) >= 17; data, n = data[17:], n+1 {
			word := func(i int) float64 { return float64(binary.LittleEndian.Uint16(data[1+2*i:])) }
			kelvin := func(i int) float64 { return odd(word(i), 260+word(i)/1000) }
			x := Reading{AirIn: kelvin(0), AirInRH: odd(word(1), word(1)/6e4), Air: kelvin(2), AirOut: kelvin(3),
				AirOutRH: odd(word(4), word(4)/6e4), Surface: kelvin(5), Weight: odd(word(6), word(6)*1e-5), Coast: odd(word(7), word(7)/1e3)}
			dt := odd(float64(data[0])*256, float64(data[0]))
			if n < 3 {
				p.Zero(&s, x, dt)
			} else {
				p.Step(&s, x, dt*dt)
			}
			if wrong := holdsTogether(p, &s); wrong != "" {
				t.Fatalf("%s: %+v, left %+v", wrong, s, p.Left(&s))
			}
		}
	})
}

// odd makes a nasty figure of one word in a thousand and twenty-four, and else the usual one.
func odd(word, usual float64) float64 {
	if n := int(word); n%1024 == 7 {
		return nasty[n/1024%len(nasty)]
	}
	return usual
}

// TestStepAllocatesNothing: a controller steps once a second for hours on a small board.
func TestStepAllocatesNothing(t *testing.T) {
	c := room(t, "isopropanol-91", 0.5, 0.5)
	p, w := everything(t, c), really(t, c)
	r := rig{scale: 0.5}.reads(w)
	s := r.zeroed(p)
	x := r.shows(w.at(600))
	if n := testing.AllocsPerRun(100, func() {
		p.Step(&s, x, 1)
		p.Left(&s)
		p.DryBelow(&s)
		p.Dry(&s)
	}); n != 0 {
		t.Errorf("a step allocates %g times", n)
	}
}

func BenchmarkStep(b *testing.B) {
	c := room(b, "water", 0.5, 0.5)
	p, w := everything(b, c), really(b, c)
	r := rig{scale: 0.5}.reads(w)
	s := r.zeroed(p)
	x := r.shows(w.at(1800))
	b.ReportAllocs()
	for b.Loop() {
		p.Step(&s, x, 1)
	}
}

func BenchmarkLeft(b *testing.B) {
	c := room(b, "isopropanol-91", 0.5, 0.5)
	p, w := everything(b, c), really(b, c)
	r := rig{scale: 0.5}.reads(w)
	s := r.zeroed(p)
	for at := range 1200 {
		p.Step(&s, r.shows(w.at(float64(at))), 1)
	}
	b.ReportAllocs()
	for b.Loop() {
		p.Left(&s)
	}
}

func BenchmarkNew(b *testing.B) {
	c := room(b, "isopropanol-91", 0.5, 3)
	senses := ByBench(benchWith(sensorsOf(BySurface)...), c)
	for b.Loop() {
		if _, err := New(drying.Belief{}, c, senses); err != nil {
			b.Fatal(err)
		}
	}
}
