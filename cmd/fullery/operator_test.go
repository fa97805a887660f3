package main

import (
	"testing"
	"time"

	"fullery/controller"
	"fullery/recipe"
	"fullery/recipes"
)

// bench is a loop by hand: the real program and an operator, with readings that a test makes up.
type byHand struct {
	p      *controller.Program
	oper   *operator
	wishes wishes
	orders chan controller.Command
	tick   controller.Tick
}

func newByHand(t *testing.T) *byHand {
	t.Helper()
	r, _ := recipes.Recipe(recipes.DefaultRecipe)
	b, _ := recipes.Bench(recipes.DefaultBench)
	p, err := controller.Compile(r, b)
	if err != nil {
		t.Fatal(err)
	}
	h := &byHand{p: p, orders: make(chan controller.Command, 4)}
	h.oper = &operator{program: p, wishes: &h.wishes, orders: h.orders}
	return h
}

// step makes one step with the contacts as given and everything else well.
func (h *byHand) step(contacts map[recipe.Sensor]float64) {
	in := controller.Inputs{Now: h.tick.Inputs.Now + h.p.Tick()}
	select {
	case in.Command = <-h.orders:
	default:
	}
	for s := recipe.Lid; s <= recipe.RinseFloat; s++ {
		in.Readings[s] = controller.Reading{Value: 1, Quality: controller.Good}
		if v, ok := contacts[s]; ok {
			in.Readings[s].Value = v
		}
	}
	for s := recipe.PadFront; s < recipe.NumSensors; s++ {
		in.Readings[s] = controller.Reading{Quality: controller.Good}
	}
	for _, s := range []recipe.Sensor{recipe.AirIn, recipe.Air, recipe.AirOut, recipe.Surface} {
		in.Readings[s].Value = 294
	}
	in.Readings[recipe.HubSpeed].Value = h.tick.State.Drove.Hub
	h.tick.Inputs = in
	h.tick.State, h.tick.Outputs = h.p.Step(h.tick.State, in)
	h.oper.Watch(&h.tick)
}

// TestNothingMadeGoodStarts: an order to start that was refused is not repeated until the lid is closed or the
// emergency stop let go: that would be a start by a lid.
func TestNothingMadeGoodStarts(t *testing.T) {
	for _, contact := range []recipe.Sensor{recipe.Lid, recipe.EStop, recipe.TrayFloat} {
		h := newByHand(t)
		for h.tick.Inputs.Now < 2*time.Second {
			h.step(map[recipe.Sensor]float64{contact: 0})
		}
		for h.tick.Inputs.Now < 20*time.Second {
			h.step(nil)
			if h.tick.State.Cycle != controller.Idle {
				t.Fatalf("%s made good after 2 s: the cycle is %s", contact, h.tick.State.Cycle)
			}
		}
		if !h.oper.gaveUp(h.tick.State) {
			t.Errorf("%s: still waiting", contact)
		}
	}
}

// TestWishesActAtOnce: a stop or an abort that comes in the first second is given in the next step, and one that comes
// before the cycle began keeps it from beginning.
func TestWishesActAtOnce(t *testing.T) {
	h := newByHand(t)
	for h.tick.State.Cycle != controller.Running {
		h.step(nil)
	}
	h.wishes.abort.Store(true)
	h.step(nil)
	h.step(nil)
	if h.tick.State.Cycle != controller.Aborting {
		t.Errorf("two steps after the wish the cycle is %s", h.tick.State.Cycle)
	}
	h = newByHand(t)
	h.wishes.stop.Store(true)
	for range 100 {
		h.step(nil)
	}
	if h.tick.State.Cycle != controller.Idle || !h.oper.gaveUp(h.tick.State) {
		t.Errorf("stopped before it began: %s", h.tick.State.Cycle)
	}
}
