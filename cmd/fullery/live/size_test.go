package live

import (
	"strings"
	"testing"
	"time"

	tea "charm.land/bubbletea/v2"
	"github.com/charmbracelet/colorprofile"
	"github.com/charmbracelet/x/ansi"
	"pgregory.net/rapid"

	"fullery/cmd/fullery/draw"
	"fullery/controller"
	"fullery/recipe"
)

// fits fails the test when a screen has more lines than it may, or wider ones.
func fits(t interface{ Fatalf(string, ...any) }, m *model, w, h int) {
	m.Update(tea.WindowSizeMsg{Width: w, Height: h})
	content := m.View().Content
	if content == "" {
		return
	}
	lines := strings.Split(ansi.Strip(content), "\n")
	if len(lines) > h {
		t.Fatalf("%d lines on a screen of %d×%d", len(lines), w, h)
	}
	for _, l := range lines {
		if n := ansi.StringWidth(l); n > w {
			t.Fatalf("%d cells on a screen of %d×%d: %q", n, w, h, l)
		}
	}
}

func TestEverySizeInEveryState(t *testing.T) {
	for _, s := range everyState(t) {
		for w := -1; w < 132; w += 7 {
			for h := -1; h < 42; h += 3 {
				fits(t, s.m, w, h)
			}
		}
		s.m.last()
	}
}

// Whatever a picture holds and whatever is pressed, the view draws it within its size.
func FuzzSize(f *testing.F) {
	feed := NewFeed(program(f, "water-detergent"))
	f.Fuzz(rapid.MakeFuzz(func(t *rapid.T) { anyScreen(t, feed) }))
}

func TestAnyScreen(t *testing.T) {
	feed := NewFeed(program(t, "water-detergent"))
	rapid.Check(t, func(t *rapid.T) { anyScreen(t, feed) })
}

func anyScreen(t *rapid.T, feed *Feed) {
	m := newModel(feed, Options{Disk: rapid.String().Draw(t, "disk"), Orders: make(chan controller.Command, 1)})
	n := &m.now
	n.Ticks = rapid.IntRange(0, 2).Draw(t, "ticks")
	n.At = time.Duration(rapid.Int64().Draw(t, "at"))
	n.State.Cycle = controller.CycleState(rapid.IntRange(0, 12).Draw(t, "cycle"))
	n.State.Stage = rapid.Int8().Draw(t, "stage")
	n.State.Worked = time.Duration(rapid.Int64().Draw(t, "worked"))
	n.State.Cause = controller.Guard(rapid.IntRange(0, 30).Draw(t, "cause"))
	n.State.Tripped = controller.GuardSet(rapid.Uint32().Draw(t, "tripped"))
	n.State.MustLook = rapid.Bool().Draw(t, "look")
	n.State.Drying.Seen.By = controller.Evidence(rapid.IntRange(0, 7).Draw(t, "by"))
	for i := range n.State.Drying.Seen.Tracks {
		k := &n.State.Drying.Seen.Tracks[i]
		k.Read, k.Now, k.Most = rapid.Float64().Draw(t, "read"), rapid.Float64().Draw(t, "now"), rapid.Float64().Draw(t, "most")
	}
	n.State.PurgeLeft = time.Duration(rapid.IntRange(0, 1e12).Draw(t, "purge"))
	n.Levels.Press = rapid.Bool().Draw(t, "press")
	n.Levels.Fan = 1
	for i := range n.Readings {
		n.Readings[i] = controller.Reading{Value: rapid.Float64().Draw(t, "reading"),
			Quality: controller.Quality(rapid.IntRange(0, 4).Draw(t, "quality"))}
	}
	for range rapid.IntRange(0, 5).Draw(t, "points") {
		n.Curve = append(n.Curve, draw.Point{After: time.Duration(rapid.Int64().Draw(t, "after")), Signal: 1})
	}
	for range rapid.IntRange(0, 20).Draw(t, "events") {
		n.Events = append(n.Events, Stamped{0, controller.Event{
			Kind:  controller.EventKind(rapid.IntRange(0, 10).Draw(t, "kind")),
			Guard: controller.Guard(rapid.IntRange(0, 30).Draw(t, "guard")), Stage: rapid.Int8().Draw(t, "at stage")}})
	}
	for _, k := range rapid.SliceOfN(rapid.SampledFrom([]string{"h", "r", "d", "s", "a", "x", "b", "y"}), 0, 3).Draw(t, "keys") {
		m.press(k)
	}
	fits(t, m, rapid.IntRange(-5, 200).Draw(t, "width"), rapid.IntRange(-5, 60).Draw(t, "height"))
	m.last()
}

func TestScreensGolden(t *testing.T) {
	dry := newShown(t, "water-detergent")
	dry.into(t, recipe.Dry, 15*time.Minute)
	scrub := newShown(t, "isopropanol-91")
	scrub.into(t, recipe.Scrub, 20*time.Second)
	for name, s := range map[string]*shownRig{"dry": dry, "scrub": scrub, "held": openLid(t)} {
		s.see()
		var b strings.Builder
		for _, size := range [][2]int{{80, 24}, {120, 40}, {40, 12}} {
			s.m.Update(tea.WindowSizeMsg{Width: size[0], Height: size[1]})
			b.WriteString(s.screen() + "\n" + strings.Repeat("=", size[0]) + "\n")
		}
		golden(t, "screen-"+name, b.String())
	}
}

func TestColoursOf(t *testing.T) {
	for p, want := range map[colorprofile.Profile]draw.Colours{
		colorprofile.NoTTY: draw.NoColours, colorprofile.ASCII: draw.NoColours, colorprofile.ANSI: draw.Sixteen,
		colorprofile.ANSI256: draw.FullColour, colorprofile.TrueColor: draw.FullColour,
	} {
		s := newShown(t, "water-detergent")
		s.m.Update(tea.ColorProfileMsg{Profile: p})
		if s.m.colours != want {
			t.Errorf("%v: %v, want %v", p, s.m.colours, want)
		}
	}
}
