package controller

import (
	"strings"
	"testing"

	"fullery/recipe"
)

// TestEvidenceIsSaidInFull: each kind of evidence with what it showed, and the clock as no proof.
func TestEvidenceIsSaidInFull(t *testing.T) {
	p := mustCompile(t, testRecipe("water-detergent"), testBench())
	for e, want := range map[Evidence]string{
		ByWeight:  "Dry after 12.3 min, by weight: the cartridge weighs what it did dry, to the last 2 % of its liquid.",
		BySurface: "Dry after 12.3 min, by surface: the jacket's coldness has faded to what less than 2 % of the liquid makes.",
		ByAir:     "Dry after 12.3 min, by air: the air leaves as it came, but for less than 2 % of the liquid.",
		ByDrag:    "Dry after 12.3 min, by drag: the hub coasts as it did dry, to the last 2 % of the liquid.",
		ByClock:   "The clock ended the drying after 12.3 min: unproven.",
	} {
		if got := p.Say(Event{Kind: LiquidDried, Value: 12.34, Evidence: e}); got != want {
			t.Errorf("%q\nwant %q", got, want)
		}
	}
}

// TestRefusedZeroIsSaid: which sensor, how far off, and what to do.
func TestRefusedZeroIsSaid(t *testing.T) {
	p := mustCompile(t, testRecipe("water-detergent"), testBench())
	const rest = " is 0.5 K off the air before wetting, so it cannot tell later when the disk is dry. " +
		"Let a disk come to the room's temperature before its cycle."
	for e, want := range map[Evidence]string{BySurface: "The jacket" + rest, ByAir: "The air leaving" + rest} {
		if got := p.Say(Event{Kind: ZeroRefused, Value: 0.52, Evidence: e}); got != want {
			t.Errorf("%q\nwant %q", got, want)
		}
	}
}

// TestOfNothingNothingIsSaid.
func TestOfNothingNothingIsSaid(t *testing.T) {
	p := mustCompile(t, testRecipe("water-detergent"), testBench())
	if got := p.Say(Event{}); got != "" {
		t.Errorf("of no event it is said %q", got)
	}
	for _, g := range []Guard{numGuards, 200} {
		if a, b, c := g.Sentences(); a+b+c+g.Said() != "" {
			t.Errorf("of guard %d it is said %q", g, a+b+c)
		}
	}
}

// TestSentencesAreWhatIsSaid: the three parts, each with its full stop, are the whole.
func TestSentencesAreWhatIsSaid(t *testing.T) {
	for g := noGuard + 1; g < numGuards; g++ {
		happened, did, doNow := g.Sentences()
		if whole := strings.Join([]string{happened, did, doNow}, " "); whole != g.Said() || happened != guards[g].happened+"." {
			t.Errorf("%s: %q and %q", g, whole, g.Said())
		}
	}
}

// TestEventsAreBounded: what does not fit is dropped, and what was there stays in its order.
func TestEventsAreBounded(t *testing.T) {
	var ev Events
	for i := range maxEvents + 5 {
		ev.add(Event{Value: float64(i)})
	}
	all := ev.All()
	if len(all) != maxEvents || maxEvents != int(numGuards)+8 {
		t.Fatalf("%d events of at most %d", len(all), maxEvents)
	}
	for i := range all {
		if all[i].Value != float64(i) {
			t.Errorf("event %d is %g", i, all[i].Value)
		}
	}
}

// TestSets: a set has what was put into it, and tells the first.
func TestSets(t *testing.T) {
	var guards GuardSet
	guards.put(TankLow)
	guards.put(LidOpen)
	if !guards.Has(TankLow) || !guards.Has(LidOpen) || guards.Has(EStopPressed) || guards.first() != LidOpen {
		t.Errorf("%b", guards)
	}
	guards.drop(LidOpen)
	guards.drop(EStopPressed)
	if guards.Has(LidOpen) || guards.first() != TankLow || guards.Has(EStopPressed) {
		t.Errorf("%b", guards)
	}
	set := sensors(recipe.Lid, recipe.Air)
	if !set.Has(recipe.Lid) || !set.Has(recipe.Air) || set.Has(recipe.Weight) || sensors(recipe.Air, recipe.Weight).first() != min(recipe.Air, recipe.Weight) {
		t.Errorf("%b", set)
	}
	kinds := stagesOf(recipe.Wet, recipe.Dry)
	if !kinds.has(recipe.Wet) || !kinds.has(recipe.Dry) || kinds.has(recipe.Soak) {
		t.Errorf("%b", kinds)
	}
}
