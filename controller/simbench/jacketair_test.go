package simbench

import (
	"testing"
	"time"

	"pgregory.net/rapid"

	"fullery/controller"
)

// What evaporates in a steady drying takes its heat from the air that passes and, a little, from the room.
func TestEnergyBalance(t *testing.T) {
	for liquid, of := range map[string]part{"distilled-water": water, "isopropanol-100": isopropanol} {
		spec := shipped(t)
		spec.Room.Humidity = 0
		spec.Sim.Kept = 10 * mL
		b := wetted(spec, liquid)
		b.advance(b.now + 8*time.Minute)
		before := b.Truth()
		const span = 10.0
		b.advance(b.now + span*time.Second)
		is := b.Truth()
		near(t, liquid+": front face at rest, K", is.FrontTemp, before.FrontTemp, 5e-3)
		latent := (is.Evaporated - before.Evaporated) / span * substances[of].density * substances[of].latent
		carry := (draught + spec.Fan.Through) * airRhoCp
		heat := carry*(is.Air-is.Cell) + wallToRoom*(spec.Room.Air-b.jacket)
		near(t, liquid+": heat that the air gives, of what the vapour takes", heat/latent, 1, 0.01)
	}
}

// What evaporates passes through the jacket's air: it is damper there than in the cell, and by as much more as the
// openings resist.
func TestJacketAirIsBetweenLinerAndCell(t *testing.T) {
	spec := shipped(t)
	b := wetted(spec, "distilled-water")
	b.advance(b.now + 10*time.Minute)
	over, _ := water.curve(b.faces[front].temp)
	if !(over > b.inside[water] && b.inside[water] > b.vapour[water] && b.vapour[water] > b.vapourIn) {
		t.Errorf("liner %.0f, jacket %.0f, cell %.0f, room %.0f Pa", over, b.inside[water], b.vapour[water], b.vapourIn)
	}
	part := func() float64 {
		over, _ := water.curve(b.faces[front].temp)
		return (b.inside[water] - b.vapour[water]) / (over - b.vapour[water])
	}
	near(t, "part of the way from liner to cell that is in the openings", part(), openingsPart, 0.03)
	if is := b.Truth(); !(is.FrontTemp < b.insideT && b.insideT < is.Cell && is.Cell < is.Air) {
		t.Errorf("face %.2f, jacket's air %.2f, cell %.2f, air %.2f K", is.FrontTemp, b.insideT, is.Cell, is.Air)
	}
	_ = b.Drive(b.now, controller.Levels{})
	b.advance(b.now + 5*time.Minute)
	near(t, "the same without a fan", part(), 0.21, 0.03) // by hand: 0.15/0.85 against 0.1/0.15
}

// Without a fan the openings hardly breathe: vapour stays in the jacket for longer than the film alone would keep it.
func TestStandingAirDriesSlowly(t *testing.T) {
	left := func(fan float64) float64 {
		b := New(shipped(t), testRecipe("distilled-water"))
		b.Wet(2 * mL)
		_ = b.Drive(0, controller.Levels{Fan: fan})
		b.advance(20 * time.Minute)
		return 1 - b.Truth().Left
	}
	rest, slow, full := left(0), left(0.4), left(1)
	if !(rest < slow/3 && slow < full && slow > full/2) {
		t.Errorf("in 20 min %.3f dries at rest, %.3f at 40 %% of the fan, %.3f at full", rest, slow, full)
	}
}

// Heat only evens out: with a dry liner no temperature leaves the range of those that it began with and of what is
// around, for any step and any conductances.
func TestHeatOnlyEvensOut(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		kelvin := rapid.Float64Range(270, 330)
		b := New(testSpec(), testRecipe("water"))
		all := []*float64{&b.faces[front].temp, &b.faces[back].temp, &b.insideT, &b.cell, &b.jacket, &b.air, &b.spec.Room.Air}
		low, high := 1e3, 0.0
		for _, k := range all {
			*k = kelvin.Draw(t, "temperature")
			low, high = min(low, *k), max(high, *k)
		}
		watts := rapid.OneOf(rapid.Just(0.0), rapid.Float64Range(0, 1), rapid.Float64Range(0, 200))
		films := [numFaces]float64{watts.Draw(t, "front"), watts.Draw(t, "back")}
		s := rapid.Float64Range(0.01, 100).Draw(t, "step")
		b.warms(s, films, watts.Draw(t, "openings"), watts.Draw(t, "carry"), rapid.Float64Range(0, 1).Draw(t, "stir"))
		for i, k := range all {
			if *k < low-1e-6 || *k > high+1e-6 {
				t.Fatalf("temperature %d is %g K, outside of %g to %g", i, *k, low, high)
			}
		}
	})
}

// The wall of the jacket loses a little to the room: the zero of a jacket that was read in cool air is a little off in
// warm air, and less so than what wet liners show.
func TestWarmAirMovesTheZero(t *testing.T) {
	spec := shipped(t)
	spec.Heater.Power = 100
	b := New(spec, testRecipe("water"))
	b.heated(20*time.Minute, zeroC+36)
	is := b.Truth()
	near(t, "air, °C", is.Air-zeroC, 36, 1)
	near(t, "how much colder the jacket of a dry disk is, K", is.Air-is.Surface, 0.25, 0.15)
}
