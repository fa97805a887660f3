package live

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	tea "charm.land/bubbletea/v2"
	"github.com/charmbracelet/x/ansi"

	"fullery/controller"
	"fullery/recipe"
)

// shownRig is a rig whose feed a view follows.
type shownRig struct {
	*rig
	m      *model
	orders chan controller.Command
}

func newShown(t testing.TB, name string) *shownRig {
	p := program(t, name)
	feed := NewFeed(p)
	orders := make(chan controller.Command, 1)
	o := Options{Disk: "SB-0147", Cycle: "12", Pace: "simulated, 200 × real time", Orders: orders}
	return &shownRig{newRig(p, feed), newModel(feed, o), orders}
}

// see lets the view look at the bench.
func (s *shownRig) see() { s.m.Update(frame{}) }

// press presses keys one after the other.
func (s *shownRig) press(keys ...string) (cmd tea.Cmd) {
	for _, k := range keys {
		msg := tea.KeyPressMsg{Text: k}
		if k == "ctrl+c" {
			msg = tea.KeyPressMsg{Code: 'c', Mod: tea.ModCtrl}
		} else if len(k) == 1 {
			msg.Code = rune(k[0])
		}
		_, cmd = s.m.Update(msg)
	}
	return cmd
}

// given returns the order that the view gave, if it gave one.
func (s *shownRig) given() controller.Command {
	select {
	case c := <-s.orders:
		return c
	default:
		return controller.Command{}
	}
}

func (s *shownRig) screen() string { return ansi.Strip(s.m.View().Content) }

// everyState brings a rig into each state in which a cycle can be, with a view that has seen it.
func everyState(t testing.TB) map[controller.CycleState]*shownRig {
	all := make(map[controller.CycleState]*shownRig)
	add := func(c controller.CycleState, ways ...func(*shownRig)) {
		s := newShown(t, "isopropanol-91")
		s.step(controller.Command{})
		for _, way := range ways {
			way(s)
		}
		if s.tick.State.Cycle != c {
			t.Fatalf("%s, want %s", s.tick.State.Cycle, c)
		}
		s.see()
		all[c] = s
	}
	scrub := func(s *shownRig) { s.into(t, recipe.Scrub, 5*time.Second) }
	give := func(o controller.Order) func(*shownRig) { return func(s *shownRig) { s.order(o) } }
	become := func(c controller.CycleState) func(*shownRig) { return func(s *shownRig) { s.rig.become(t, c) } }
	add(controller.Idle)
	add(controller.Running, scrub)
	add(controller.Holding, scrub, give(controller.Hold))
	add(controller.Held, scrub, give(controller.Hold), become(controller.Held))
	add(controller.Restarting, scrub, give(controller.Hold), become(controller.Held), give(controller.Resume))
	add(controller.Stopping, scrub, give(controller.Stop))
	add(controller.Stopped, scrub, give(controller.Stop), become(controller.Stopped))
	add(controller.Aborting, scrub, give(controller.Abort))
	add(controller.Aborted, scrub, give(controller.Abort), become(controller.Aborted))
	add(controller.Complete, scrub, become(controller.Complete))
	return all
}

// The keys that are offered are the orders that the controller takes in that state, and no order that would change
// something is withheld.
func TestKeysAreWhatTheControllerTakes(t *testing.T) {
	for state, s := range everyState(t) {
		for _, k := range keys {
			_, out := s.p.Step(s.tick.State, controller.Inputs{
				Now: s.tick.Inputs.Now, Readings: s.tick.Inputs.Readings,
				Command: controller.Command{Order: k.order, Looked: true},
			})
			takes := slices.ContainsFunc(out.Events.All(), func(ev controller.Event) bool {
				return ev.Kind == controller.StateChanged
			})
			if offers := s.m.offers(k.order); offers != takes {
				t.Errorf("%s: %s is offered: %v; the controller does something: %v", state, k.order, offers, takes)
			}
			if on := strings.Contains(s.foot(t), k.key+" "+k.order.String()); on != takes {
				t.Errorf("%s: %s stands at the bottom: %v, want %v", state, k.order, on, takes)
			}
		}
	}
}

func (s *shownRig) foot(t testing.TB) string {
	t.Helper()
	lines := strings.Split(s.screen(), "\n")
	return lines[len(lines)-1]
}

// Every state is named on the first line.
func TestEveryStateIsNamed(t *testing.T) {
	for state, s := range everyState(t) {
		if first, _, _ := strings.Cut(s.screen(), "\n"); !strings.HasPrefix(first, strings.ToUpper(state.String())) {
			t.Errorf("%s: the first line is %q", state, first)
		}
	}
}

func TestKeyGivesItsOrder(t *testing.T) {
	s := newShown(t, "water-detergent")
	s.into(t, recipe.Scrub, time.Second)
	s.see()
	s.press("r") // means nothing while it runs
	if c := s.given(); c.Order != controller.NoOrder {
		t.Errorf("r gave %v while running", c)
	}
	s.press("h")
	if c := s.given(); c != (controller.Command{Order: controller.Hold}) {
		t.Errorf("h gave %v", c)
	}
	if !strings.Contains(s.screen(), "Order given: hold.") {
		t.Errorf("nothing says that the order was given:\n%s", s.screen())
	}
}

// openLid holds a cycle by its lid and closes it again.
func openLid(t testing.TB) *shownRig {
	s := newShown(t, "water-detergent")
	s.into(t, recipe.Scrub, time.Second)
	s.b.twist = func(_ time.Duration, r *controller.Readings) { r[recipe.Lid].Value = 0 }
	s.rig.become(t, controller.Held)
	s.see()
	return s
}

// After a guard that wants a look, an order is given only once the person says that they looked.
func TestResumeAsksForALook(t *testing.T) {
	s := openLid(t)
	s.press("r")
	if c := s.given(); c.Order != controller.NoOrder {
		t.Fatalf("r gave %v without a question", c)
	}
	if got := s.screen(); !strings.Contains(got, "Close the lid, look at the disk") || !strings.Contains(got, "y yes") {
		t.Errorf("no question:\n%s", got)
	}
	s.press("n")
	if c := s.given(); c.Order != controller.NoOrder || !strings.Contains(s.screen(), "was not confirmed") {
		t.Errorf("n gave %v:\n%s", c, s.screen())
	}
	s.press("r", "Y")
	if c := s.given(); c != (controller.Command{Order: controller.Resume, Looked: true}) {
		t.Errorf("y gave %v", c)
	}
}

// Where nothing is left to dry, going on to drying is not offered.
func TestDryIsOfferedOnlyWhereThereIsOne(t *testing.T) {
	s := openLid(t)
	if !s.m.offers(controller.ToDry) {
		t.Error("dry is not offered before the drying")
	}
	for i := range s.m.plan {
		s.m.plan[i].Do = recipe.Soak
	}
	if s.m.offers(controller.ToDry) {
		t.Error("dry is offered and there is no drying")
	}
}

// A question goes when the state that it was asked in does.
func TestQuestionGoesWithItsState(t *testing.T) {
	s := openLid(t)
	s.press("r")
	s.order(controller.Abort)
	s.see()
	s.press("y")
	if c := s.given(); c.Order != controller.NoOrder {
		t.Errorf("y to a question that is over gave %v", c)
	}
}

func TestGuardIsShownWithWhatToDo(t *testing.T) {
	s := openLid(t)
	flat := strings.Join(strings.Fields(s.screen()), " ")
	if !strings.Contains(flat, "! lid-open: "+controller.LidOpen.Said()) {
		t.Errorf("the guard's sentence is not on the screen:\n%s", s.screen())
	}
	s.b.twist = nil
	for range 100 {
		s.step(controller.Command{})
	}
	s.see()
	if !strings.Contains(s.screen(), "! lid-open (its cause is no longer seen):") {
		t.Errorf("nothing says that the lid is closed again:\n%s", s.screen())
	}
}

// An order that the loop has no room for is said not to be taken.
func TestOrderThatWasNotTaken(t *testing.T) {
	s := newShown(t, "water-detergent")
	s.into(t, recipe.Scrub, time.Second)
	s.see()
	s.press("h", "s")
	if !strings.Contains(s.screen(), "stop was not taken") {
		t.Errorf("nothing says so:\n%s", s.screen())
	}
	if c := s.given(); c.Order != controller.Hold {
		t.Errorf("the waiting order is %v", c)
	}
	for range noteFrames + 1 {
		s.see()
	}
	if strings.Contains(s.screen(), "not taken") {
		t.Error("the note never goes")
	}
}

// Ctrl-c stops, then aborts; only when that came to nothing for a while does it leave, so that a key held down does
// not.
func TestCtrlC(t *testing.T) {
	s := newShown(t, "water-detergent")
	s.into(t, recipe.Scrub, time.Second)
	s.see()
	for _, want := range []controller.Order{controller.Stop, controller.Abort, controller.NoOrder, controller.NoOrder} {
		if cmd := s.press("ctrl+c"); cmd != nil {
			t.Fatal("left at once")
		}
		if c := s.given(); c.Order != want {
			t.Fatalf("ctrl-c gave %v, want %v", c.Order, want)
		}
	}
	for range leaveAfter {
		s.see()
	}
	if cmd := s.press("ctrl+c"); cmd == nil || !s.m.left {
		t.Error("a cycle that does not end keeps a person in the view")
	}
}

// While it is stopping already, the first ctrl-c aborts; one that found no room does not count.
func TestCtrlCWhileStopping(t *testing.T) {
	s := everyState(t)[controller.Stopping]
	s.orders <- controller.Command{Order: controller.Hold}
	s.press("ctrl+c")
	if c := s.given(); c.Order != controller.Hold {
		t.Fatal(c)
	}
	s.press("ctrl+c")
	if c := s.given(); c.Order != controller.Abort {
		t.Errorf("ctrl-c gave %v", c.Order)
	}
}

func TestWatchingOnly(t *testing.T) {
	s := newShown(t, "water-detergent")
	s.m.o.Orders = nil
	s.into(t, recipe.Scrub, time.Second)
	s.see()
	s.press("h", "s", "a")
	if got := s.foot(t); got != "ctrl-c leave" {
		t.Errorf("the bottom line is %q", got)
	}
	if cmd := s.press("ctrl+c"); cmd == nil {
		t.Error("ctrl-c does not leave")
	}
}

// The threshold that the curve shows is the controller's own: dry is found only below it, and soon after.
func TestDryThresholdIsTheControllers(t *testing.T) {
	s := newShown(t, "water-detergent")
	s.into(t, recipe.Dry, time.Minute)
	var below time.Duration
	for s.tick.State.Cycle == controller.Running {
		s.m.feed.Look(&s.m.now)
		seen := s.tick.State.Drying.Seen
		if seen.Tracks[controller.BySurface-1].Now <= s.m.dryBelow() {
			below += s.p.Tick()
		}
		s.step(controller.Command{})
	}
	if s.tick.State.Drying.Evidence != controller.BySurface {
		t.Fatalf("dry by %s", s.tick.State.Drying.Evidence)
	}
	if below < 12*time.Second || below > 3*time.Minute {
		t.Errorf("dry was found %v after the threshold was passed", below)
	}
}

// "Dry" never stands alone.
func TestDryAlwaysHasItsEvidence(t *testing.T) {
	s := everyState(t)[controller.Complete]
	if first, _, _ := strings.Cut(s.screen(), "\n"); !strings.Contains(first, "by surface") {
		t.Errorf("the first line is %q", first)
	}
	timed := newShown(t, "dry-only")
	timed.into(t, recipe.Dry, time.Minute)
	timed.see()
	if !strings.Contains(timed.screen(), "on the clock only (timed): unproven") {
		t.Errorf("nothing says what dry will rest on:\n%s", timed.screen())
	}
	timed.rig.become(t, controller.Complete)
	timed.see()
	if first, _, _ := strings.Cut(timed.screen(), "\n"); !strings.Contains(first, "unproven") {
		t.Errorf("the first line is %q", first)
	}
}

// A reading that is worth nothing is never shown as a number.
func TestBadReadingsAreNotNumbers(t *testing.T) {
	s := newShown(t, "water-detergent")
	s.into(t, recipe.Dry, time.Minute)
	for _, c := range []struct {
		r    controller.Reading
		want string
	}{
		{controller.Reading{Value: 294, Quality: controller.Failed}, "air failed"},
		{controller.Reading{Value: 294, Quality: controller.Absent}, "air not read"},
		{controller.Reading{Value: 294, Quality: controller.Implausible}, "air impossible"},
		{controller.Reading{Value: 294, Quality: controller.Good, Age: time.Hour}, "air too old"},
		{controller.Reading{Value: math.NaN(), Quality: controller.Good}, "air impossible"},
		{controller.Reading{Value: 294, Quality: controller.Good}, "air 20.9 °C"}, // 294 K − 273.15 K
	} {
		s.m.now.Readings[recipe.Air] = c.r
		s.m.feed.now.Readings[recipe.Air] = c.r
		s.see()
		if !strings.Contains(s.screen(), c.want) {
			t.Errorf("no %q in\n%s", c.want, s.screen())
		}
	}
}
