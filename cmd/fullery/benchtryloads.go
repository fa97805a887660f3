package main

import (
	"context"
	"fmt"
	"time"

	"fullery/controller"
	"fullery/disks/record"
	"fullery/recipe"
)

// tryFor is how long an output is on at most, in a test of the bench.
const tryFor = 5 * time.Second

// load is one output to be tried.
type load struct {
	part   recipe.Output
	levels controller.Levels
	warn   string        // before it goes on
	speed  recipe.Sensor // that shows it; NumSensors: only a person can tell
	least  float64       // of that speed, revolutions per second
	ask    string        // what the person is asked afterwards
}

// loads lists the outputs that the bench has, in the order in which they are tried.
func (w *walk) loads() []load {
	b, person := w.spec, recipe.NumSensors
	fan := 0.0
	if w.burns { // what may burn is pumped in moving air only
		fan = 1
	}
	all := []load{
		{recipe.OutFan, controller.Levels{Fan: 1}, "The fan will run.", recipe.FanSpeed, 0.3 * b.Fan.Fastest, "Did the fan run, and did air leave by the duct?"},
		{recipe.OutPress, controller.Levels{Press: true}, "The pads will be pressed to the disk's place.", person, 0, "Did both pads move to the disk?"},
		{recipe.OutHub, controller.Levels{Hub: 0.3 * b.Hub.Fastest}, "The hub will turn.", recipe.HubSpeed, 0.1 * b.Hub.Fastest, "Did the hub turn?"},
		{recipe.OutPads, controller.Levels{Pads: 0.3 * b.Pads.Fastest}, "The pads will turn, away from the disk.", recipe.PadsSpeed, 0.1 * b.Pads.Fastest, "Did both pads turn?"},
		{recipe.OutPadsReverse, controller.Levels{Pads: -0.3 * b.Pads.Fastest}, "The pads will turn the other way.", recipe.PadsSpeed, 0.1 * b.Pads.Fastest, "Did they turn the other way?"},
		{recipe.OutPump, controller.Levels{Pump: 1, Fan: fan}, "The pump will run: put its hose into a cup.", person, 0, "Did the pump give liquid, and stop?"},
		{recipe.OutRinsePump, controller.Levels{RinsePump: 1, Fan: fan}, "The rinse pump will run: put its hose into a cup.", person, 0, "Did the rinse pump give liquid, and stop?"},
		{recipe.OutHeater, controller.Levels{Fan: 1, Heater: 0.3, HeaterEnable: true},
			"The heater will run for some seconds in the fan's air. Nothing flammable may be on the bench.", person, 0, "Did the air at the cartridge get a little warmer?"},
	}
	var fitted []load
	for _, l := range all {
		if b.Board.Outputs[l.part].Fitted && (l.speed == person || b.Sensors[l.speed].Fitted) {
			fitted = append(fitted, l)
		}
	}
	return fitted
}

// load switches one output on, looks at what shows it, switches it off, and asks the person.
func (w *walk) load(ctx context.Context, l load) error {
	_, leave, err := w.answer(ctx, "%s Press enter to let it (s leaves it out).", l.warn)
	if err != nil {
		return err
	}
	if leave {
		w.note(l.part.String(), l.warn, "", record.StepLeftOut)
		return nil
	}
	fastest, held := w.run(ctx, l)
	seen := ""
	if l.speed != recipe.NumSensors {
		seen = fmt.Sprintf("%.0f rpm; ", fastest*60)
	}
	if held != "" {
		w.note(l.part.String(), l.warn, held, record.StepFailed)
		return nil
	}
	text, leave, err := w.answer(ctx, "%s (y or n)", l.ask)
	if err != nil {
		return err
	}
	result := record.StepFailed
	switch {
	case leave:
		result = record.StepLeftOut
	case text == "y" && fastest >= l.least:
		result = record.StepPassed
	}
	w.note(l.part.String(), l.ask, seen+map[bool]string{true: "yes", false: "no"}[text == "y"], result)
	return nil
}

// run lets an output be on for its time and returns the largest speed that was seen; held says why it went off before.
func (w *walk) run(ctx context.Context, l load) (fastest float64, held string) {
	w.asked = l.levels
	defer func() {
		w.asked = controller.Levels{}
		w.tick()
		if w.vigil != nil {
			w.vigil.Rest()
		}
	}()
	for began := time.Now(); time.Since(began) < tryFor; time.Sleep(50 * time.Millisecond) {
		w.tick()
		if w.vigil != nil {
			w.vigil.Beat()
		}
		switch {
		case ctx.Err() != nil || w.off.Load():
			return fastest, "broken off"
		case w.asked == controller.Levels{}:
			return fastest, "it was not let on: the lid is open, the emergency stop pressed, or it cannot be driven"
		}
		if l.speed != recipe.NumSensors && w.last[l.speed].Quality == controller.Good {
			fastest = max(fastest, w.last[l.speed].Value)
		}
	}
	return fastest, ""
}
