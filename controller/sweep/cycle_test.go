package sweep

import (
	"math"
	"strings"
	"testing"
	"time"

	"fullery/controller"
	"fullery/recipe"
	"fullery/recipe/drying"
)

// outcomes runs a choice on so many draws.
func outcomes(t testing.TB, r recipe.Recipe, b recipe.Bench, c Choice, n int) (all []Outcome) {
	t.Helper()
	can := only(t, r, b, c)
	for i := range n {
		spec, err := Draws{drying.Prior(), 1}.Bench(b, can.Recipe, i)
		if err != nil {
			t.Fatal(err)
		}
		out, err := Run(can, spec)
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, out)
	}
	return all
}

// The shipped recipes complete on benches drawn from the prior, give what they say they give, and come to the same
// whenever they are run again.
func TestRunOfShippedRecipes(t *testing.T) {
	b := bench(t, "simulated")
	for _, name := range []string{"isopropanol-91", "water-detergent", "dry-only"} {
		r := shipped(t, name)
		one, again := outcomes(t, r, b, Own(r), 2), outcomes(t, r, b, Own(r), 2)
		for i, o := range one {
			if !o.Complete || o.Cause != "" || o.Seconds < 600 || o != again[i] {
				t.Errorf("%s, draw %d: %+v, again %+v", name, i, o, again[i])
			}
			if math.Abs(o.Liquid-r.Dose()) > 0.05e-6 {
				t.Errorf("%s: %g m³ given, the recipe gives %g", name, o.Liquid, r.Dose())
			}
			if burns := name == "isopropanol-91"; burns != (o.Peak > 0.01) || o.Peak > 0.25 {
				t.Errorf("%s: peak %g of the limit", name, o.Peak)
			}
			if warmed := name == "dry-only"; warmed != (o.Warmest > b.Room.Air+2) {
				t.Errorf("%s: air at %.1f K", name, o.Warmest)
			}
		}
		if name != "dry-only" && one[0] == one[1] { // which the clock may end
			t.Errorf("%s: two draws came to the same", name)
		}
	}
}

// A pad slides during the scrub, and only then where a press takes it away: 6 s at 60 rpm of a pad of 6 cm², on a disk
// that turns at 20 rpm 31 mm from its middle. √((6.283² + 2.094²)·6e-4/π/2 + (2.094·0.031)²) is 0.0912 m/s. Starting and
// stopping the motors adds or takes less than a second's worth.
func TestRunSlides(t *testing.T) {
	r, b := read(t, quickText), bench(t, "simulated")
	if o := outcomes(t, r, b, Own(r), 1)[0]; math.Abs(o.Slide-6*0.0912) > 0.1 {
		t.Errorf("%.3f m, want %.3f", o.Slide, 6*0.0912)
	}
	twice := Own(r)
	twice[Scrub] = 12
	if o := outcomes(t, r, b, twice, 1)[0]; math.Abs(o.Slide-12*0.0912) > 0.1 {
		t.Errorf("%.3f m, want %.3f", o.Slide, 12*0.0912)
	}
	b.Press = false // the disk is spun under its pads: 5 s at 240 rpm are 2π·4·0.031 m/s more, and the hub takes time
	if o := outcomes(t, r, b, Own(r), 1)[0]; o.Slide < 6*0.0912+2 {
		t.Errorf("%.3f m on a bench whose pads cannot be taken away", o.Slide)
	}
}

// Dried for 8 s by the clock the liner is as wet as before; and a stage that is longer than it may be is cut short.
func TestRunTellsDampAndCutShort(t *testing.T) {
	r, b := read(t, quickText), bench(t, "simulated")
	damp := outcomes(t, r, b, Own(r), 1)[0]
	if !damp.Complete || !damp.Unproven || damp.Left < 0.1 {
		t.Errorf("dried for 8 s: %+v", damp)
	}
	arrives := shipped(t, "dry-only") // wet, with all that its liner keeps
	arrives.Stages[0].UntilDry, arrives.Stages[0].For, arrives.Stages[0].AtMost = false, 10*time.Second, time.Minute
	if wet := outcomes(t, arrives, b, Own(arrives), 1)[0]; !wet.Complete || wet.Left < 0.5 || math.Abs(wet.Seconds-10) > 2 {
		t.Errorf("a wet disk, dried for 10 s: %+v", wet)
	}
	short := read(t, strings.Replace(quickText, "for = \"8 s\"", "until = \"dry\"\nat-most = \"60 s\"", 1))
	cut := outcomes(t, short, b, Own(short), 1)[0]
	if cut.Complete && !cut.Unproven || !cut.Complete && cut.Cause == "" {
		t.Errorf("not dry after 60 s: %+v", cut)
	}
	blind := read(t, quickText)
	blind.Pads.Pressure = 4000 // as much as the pads may press, on a bench whose pads press much less
	weak := b
	weak.Sim.Front = 0.5
	can := only(t, blind, b, Own(blind))
	out, err := Run(can, weak)
	if err != nil || out.Complete || out.Cause != controller.PadLight.String() && out.Cause != controller.PadsUneven.String() {
		t.Errorf("a pad that presses half: %+v, %v", out, err)
	}
}

func TestOver(t *testing.T) {
	for _, x := range []struct {
		s    controller.State
		want bool
	}{
		{controller.State{Cycle: controller.Idle}, false},
		{controller.State{Cycle: controller.Idle, Last: patience + 1}, true},
		{controller.State{Cycle: controller.Running, Last: patience + 1}, false},
		{controller.State{Cycle: controller.Running, Last: forever + 1}, true},
		{controller.State{Cycle: controller.Aborting}, false},
		{controller.State{Cycle: controller.Held}, true},
		{controller.State{Cycle: controller.Aborted}, true},
		{controller.State{Cycle: controller.Complete}, true},
	} {
		if over(x.s) != x.want {
			t.Errorf("%s at %v: %v", x.s.Cycle, x.s.Last, !x.want)
		}
	}
}

// A bench that can never be started ends all the same.
func TestRunThatNeverStarts(t *testing.T) {
	r, b := read(t, quickText), bench(t, "simulated")
	can := only(t, r, b, Own(r))
	deaf := b
	deaf.Sensors[recipe.Lid].Fitted = false // compiled with a lid, driven without: it reads as open
	out, err := Run(can, deaf)
	if err != nil || out.Complete || out.Cause == "" {
		t.Errorf("%+v, %v", out, err)
	}
}
