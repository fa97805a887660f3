package controller

import (
	"fmt"
	"strings"
	"testing"

	"fullery/recipe"
)

// everyEvent is every event that can be told, with every guard, order, refusal, ending and sensor in it.
func everyEvent() (list []Event) {
	for from := range numStates {
		for to := range numStates {
			if allowed(from, to) {
				list = append(list, Event{Kind: StateChanged, From: from, To: to})
			}
		}
	}
	for stage := range int8(6) {
		list = append(list, Event{Kind: StageBegun, Stage: stage}, Event{Kind: ZeroRefused, Stage: stage, Value: 2.4},
			Event{Kind: LiquidDried, Stage: stage, Value: 47.26, Evidence: BySurface},
			Event{Kind: LiquidDried, Stage: stage, Value: 47.26, Evidence: ByClock})
		for e := WorkDone; e <= BeforeCut; e++ {
			list = append(list, Event{Kind: StageEnded, Stage: stage, Ending: e, Value: 83.4})
		}
	}
	for g := noGuard + 1; g < numGuards; g++ {
		for s := range recipe.NumSensors + 1 {
			list = append(list, Event{Kind: GuardTripped, Guard: g, Sensor: s})
		}
		list = append(list, Event{Kind: GuardCleared, Guard: g})
	}
	list = append(list, Event{Kind: ZeroRefused, Value: 3.2})
	for o := Start; o < numOrders; o++ {
		list = append(list, Event{Kind: OrderTaken, Order: o})
		for r := WrongState; r <= NothingToDry; r++ {
			list = append(list, Event{Kind: OrderRefused, Order: o, Refusal: r, Guard: LidOpen})
		}
	}
	return list
}

// sentence tells what is wrong with a sentence, or "".
func sentence(s string) string {
	switch {
	case s == "":
		return "nothing is said"
	case !strings.HasSuffix(s, ".") || strings.HasSuffix(s, ".."):
		return "it does not end in a full stop"
	case s != strings.TrimSpace(s) || strings.Contains(s, "  "):
		return "it has spaces too many"
	case strings.Contains(strings.ToLower(s), "safe"):
		return "it calls something safe"
	case strings.Contains(s, "%!") || strings.Contains(s, "unknown") || strings.Contains(s, "NaN"):
		return "it holds what a person cannot read"
	}
	first := strings.TrimLeft(s, "(")[:1]
	if !strings.HasPrefix(s, "(") && first != strings.ToUpper(first) {
		return "it does not begin with a capital"
	}
	return ""
}

// TestEveryEventIsSaid: each event has a sentence for a person.
func TestEveryEventIsSaid(t *testing.T) {
	p := mustCompile(t, testRecipe("water-detergent"), testBench())
	kinds := map[EventKind]bool{}
	for _, ev := range everyEvent() {
		kinds[ev.Kind] = true
		if wrong := sentence(p.Say(ev)); wrong != "" {
			t.Errorf("%+v: %q: %s", ev, p.Say(ev), wrong)
		}
	}
	for k := StateChanged; k <= ZeroRefused; k++ {
		if !kinds[k] {
			t.Errorf("events of kind %d were not tried", k)
		}
	}
	if said := p.Say(Event{}) + p.Say(Event{Kind: ZeroRefused + 1}); said != "" {
		t.Errorf("of no event it is said %q", said)
	}
}

// TestEventsSaid: the very words of one event of each kind.
func TestEventsSaid(t *testing.T) {
	r := testRecipe("water-detergent")
	once := mustCompile(t, r, testBench())
	r.Repeat, r.Limits.Liquid = 2, 40*mL
	twice := mustCompile(t, r, testBench())
	for _, c := range []struct {
		p    *Program
		ev   Event
		want string
	}{
		{once, Event{Kind: StateChanged, From: Running, To: Holding}, "The cycle is holding."},
		{once, Event{Kind: StageBegun, Stage: 4}, "Spin-out begins."},
		{twice, Event{Kind: StageBegun, Stage: 7}, "Scrub, pass 2 begins."},
		{twice, Event{Kind: StageBegun, Stage: 10}, "Dry begins."},
		{once, Event{Kind: StageEnded, Stage: 2, Ending: WorkDone, Value: 83.4}, "Scrub is done after 0:01:23."},
		{once, Event{Kind: StageEnded, Stage: 5, Ending: FoundDry, Value: 2700}, "Dry is done after 0:45:00."},
		{once, Event{Kind: StageEnded, Stage: 0, Ending: CutByGuard, Value: 0.6}, "Wet was cut off by a guard after 0:00:01."},
		{once, Event{Kind: StageEnded, Stage: 3, Ending: CutByOrder, Value: 7}, "Rinse was ended by order after 0:00:07."},
		{once, Event{Kind: GuardTripped, Guard: LidOpen, Sensor: recipe.NumSensors},
			"The lid is open. Pumps, pads, hub and heater went off. " +
				"Close the lid, look at the disk, then resume; closing it starts nothing."},
		{once, Event{Kind: GuardTripped, Guard: ReadingStale, Sensor: recipe.PadBack},
			"(pad-back) A reading that this stage needs is missing or too old. What depends on it went off. " +
				"Look at the sensor and its cable, then resume."},
		{once, Event{Kind: GuardCleared, Guard: LidOpen}, "The cause of lid-open is no longer seen. Nothing starts by itself."},
		{once, Event{Kind: OrderTaken, Order: Stop}, "Order taken: stop."},
		{once, Event{Kind: OrderRefused, Order: Resume, Refusal: LookFirst},
			"Order refused: resume. Look at the bench first, then give the order again and confirm that you looked."},
		{once, Event{Kind: OrderRefused, Order: Resume, Refusal: CauseRemains, Guard: TankLow},
			"Order refused: resume. A cause is still there. " + TankLow.Said()},
	} {
		if got := c.p.Say(c.ev); got != c.want {
			t.Errorf("%q\nwant %q", got, c.want)
		}
	}
	if got := once.StageName(-1) + once.StageName(99); got != "StageStage" {
		t.Errorf("stages that are not there are called %q", got)
	}
}

// TestDryIsSaidWithItsEvidence: a drying that the clock ended, and one that the jacket ended, are both told with what
// the claim rests on.
func TestDryIsSaidWithItsEvidence(t *testing.T) {
	for _, c := range []struct {
		fitted bool
		want   Evidence
		word   string
	}{{true, BySurface, "by surface"}, {false, ByClock, "The clock ended the drying"}} {
		b := testBench()
		b.Sensors[recipe.Surface].Fitted = c.fitted
		u := newPuppet(mustCompile(t, testRecipe("water-detergent"), b))
		u.dryOut()
		u.toStage(t, recipe.Dry)
		u.until(t, "complete", func() bool { return u.s.Cycle == Complete })
		said := ""
		for _, ev := range u.history {
			if ev.Kind == LiquidDried {
				said += u.p.Say(ev)
			}
		}
		if u.s.Drying.Evidence != c.want || !strings.Contains(said, map[Evidence]string{BySurface: "surface", ByClock: "clock"}[c.want]) {
			t.Errorf("dry by %q is told as %q", u.s.Drying.Evidence, said)
		}
	}
}

// TestGuardsAndRefusalsHaveTheirOwnSentence: what a person reads tells one from another.
func TestGuardsAndRefusalsHaveTheirOwnSentence(t *testing.T) {
	seen := map[string]string{}
	try := func(name, said string) {
		t.Helper()
		if wrong := sentence(said); wrong != "" {
			t.Errorf("%s: %q: %s", name, said, wrong)
		}
		if other, ok := seen[said]; ok {
			t.Errorf("%s and %s are told alike: %q", name, other, said)
		}
		seen[said] = name
	}
	for g := noGuard + 1; g < numGuards; g++ {
		try(g.String(), g.Said())
		r := &guards[g]
		for _, part := range []string{r.happened, r.did, r.doNow} {
			if wrong := sentence(part + "."); wrong != "" {
				t.Errorf("%s: %q: %s", g, part, wrong)
			}
		}
		try(g.String()+"'s cause", r.happened+".")
	}
	for r := WrongState; r <= NothingToDry; r++ {
		try(fmt.Sprintf("refusal %d", r), r.Said(EStopPressed))
	}
	if said := noGuard.Said() + numGuards.Said() + NotRefused.Said(LidOpen); said != "" {
		t.Errorf("of nothing it is said %q", said)
	}
}

// TestWordsForEverything: nothing has an empty or a doubled name, and what is not there is called unknown.
func TestWordsForEverything(t *testing.T) {
	all := map[string][]string{}
	for g := range numGuards + 1 {
		all["guard"] = append(all["guard"], g.String())
	}
	for c := range numStates + 1 {
		all["state"] = append(all["state"], c.String())
	}
	for o := range numOrders + 1 {
		all["order"] = append(all["order"], o.String())
	}
	for r := range ToAbort + 2 {
		all["response"] = append(all["response"], r.String())
	}
	for e := range BeforeCut + 2 {
		all["ending"] = append(all["ending"], e.String())
	}
	for e := BySurface; e <= ByClock+1; e++ {
		all["evidence"] = append(all["evidence"], e.String())
	}
	for q := range Implausible + 2 {
		all["quality"] = append(all["quality"], q.String())
	}
	for kind, names := range all {
		seen := map[string]bool{}
		for i, name := range names {
			last := i == len(names)-1
			if name == "" || seen[name] || strings.HasPrefix(name, "unknown") != last {
				t.Errorf("%s %d of %d is called %q", kind, i, len(names)-1, name)
			}
			seen[name] = true
		}
	}
}

// TestGuardTable writes the guard table down as a person reads it.
func TestGuardTable(t *testing.T) {
	var b strings.Builder
	rows := Guards()
	if len(rows) != int(numGuards)-1 {
		t.Errorf("%d rows for %d guards", len(rows), numGuards-1)
	}
	for i, row := range rows {
		if row.Guard != Guard(i)+1 || row.Response != row.Guard.Response() || row.Said != row.Guard.Said() {
			t.Errorf("row %d: %+v", i, row)
		}
		look := ""
		if row.Look {
			look = ", and a person must look"
		}
		fmt.Fprintf(&b, "%s: %s after %v%s\n  in %v of %v\n  %s\n", row.Guard, row.Response, row.Debounce, look,
			row.Stages, row.States, row.Said)
	}
	if numGuards.Response() != ToAbort {
		t.Error("a guard that nobody knows must abort")
	}
	golden(t, "guards.txt", b.String())
}
