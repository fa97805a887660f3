package liquid

import (
	"errors"
	"strings"
	"testing"
	"time"
)

func TestParse(t *testing.T) {
	tests := []struct {
		name      string
		alcohol   float64
		flammable bool
		drying    time.Duration
	}{
		{"water", 0, false, 45 * time.Minute},
		{"distilled-water", 0, false, 45 * time.Minute},
		{"water-detergent", 0, false, 45 * time.Minute},
		{"isopropanol-99", 0.99, true, 15 * time.Minute},
		{"isopropanol-100", 1, true, 15 * time.Minute},
		{"isopropanol-70", 0.70, true, 15 * time.Minute},
		{"ethanol-96", 0.96, true, 15 * time.Minute},
		{"ethanol-50", 0.50, true, 45 * time.Minute},
		{"ethanol-3", 0.03, true, 45 * time.Minute},
		{"ethanol-2", 0.02, false, 45 * time.Minute},
		{"isopropanol-1", 0.01, false, 45 * time.Minute},
		{"ethanol-100w", 1, true, 15 * time.Minute},
	}
	for _, test := range tests {
		l, err := Parse(test.name)
		if err != nil || l.Name != test.name || l.Alcohol != test.alcohol || l.Flammable != test.flammable || l.UsualDrying != test.drying {
			t.Errorf("%s: %+v, %v", test.name, l, err)
		}
		said := strings.Join(l.Cautions, " ")
		if !strings.Contains(said, "safety data sheet") {
			t.Errorf("%s does not defer to the safety data sheet", test.name)
		}
		if strings.Contains(said, "Flammable") != test.flammable {
			t.Errorf("%s: flammable is %v, but its cautions are %q", test.name, test.flammable, said)
		}
	}
}

func TestParseRefuses(t *testing.T) {
	strength := "; name it with a whole percentage by volume from 1 to 100, as in "
	tests := map[string]string{
		"isopropanol":       `"isopropanol" has no strength` + strength + `"isopropanol-91"`,
		"isopropanol-":      `"isopropanol-" has no strength` + strength + `"isopropanol-91"`,
		"isopropanol-0":     `"isopropanol-0" has no strength` + strength + `"isopropanol-91"`,
		"isopropanol-101":   `"isopropanol-101" has no strength` + strength + `"isopropanol-91"`,
		"isopropanol-w":     `"isopropanol-w" has no strength` + strength + `"isopropanol-91"`,
		"isopropanol-0w":    `"isopropanol-0w" has no strength` + strength + `"isopropanol-91"`,
		"isopropanol-101w":  `"isopropanol-101w" has no strength` + strength + `"isopropanol-91"`,
		"isopropanol-91W":   `"isopropanol-91W" has no strength` + strength + `"isopropanol-91"`,
		"ethanol-91ww":      `"ethanol-91ww" has no strength` + strength + `"ethanol-91"`,
		"ethanol-w91":       `"ethanol-w91" has no strength` + strength + `"ethanol-91"`,
		"water-91":          `"water-91" is not a known liquid`,
		"isopropanol-091":   `"isopropanol-091" has no strength` + strength + `"isopropanol-91"`,
		"isopropanol-+91":   `"isopropanol-+91" has no strength` + strength + `"isopropanol-91"`,
		"ethanol-ninety":    `"ethanol-ninety" has no strength` + strength + `"ethanol-91"`,
		"Isopropanol-91":    `"Isopropanol-91" is not a known liquid`,
		"":                  `"" is not a known liquid`,
		"holy water":        `"holy water" is not a known liquid`,
		"acetone":           `"acetone" must never be used on a disk (acetone and other ketones): they dissolve the binder and the jacket`,
		"Household Bleach":  `"Household Bleach" must never be used on a disk (bleach): it attacks the oxide and the metal hub, and gives off chlorine with acids`,
		"hydrogen-peroxide": `"hydrogen-peroxide" must never be used on a disk (hydrogen peroxide): it attacks the oxide and the binder`,
	}
	for name, want := range tests {
		l, err := Parse(name)
		if err == nil || err.Error() != want || l.Name != "" {
			t.Errorf("%q:\n got %v\nwant %s", name, err, want)
		}
	}
	var banned *ForbiddenError
	if _, err := Parse("petrol"); !errors.As(err, &banned) || banned.Ban.Title != "petrol and white spirit" {
		t.Errorf("petrol gives %v", err)
	}
}

// Every word of every ban is known as such, alone and within a name, and no allowed liquid is banned.
func TestForbidden(t *testing.T) {
	for _, b := range Bans() {
		if b.Title == "" || b.Reason == "" || len(b.words) == 0 {
			t.Errorf("a ban without title, reason or words: %+v", b)
		}
		for _, w := range b.words {
			for _, name := range []string{w, strings.ToUpper(w), "cheap " + w, w + "-50"} {
				if got, ok := Forbidden(name); !ok || got.Reason == "" {
					t.Errorf("%q is not forbidden", name)
				}
			}
		}
	}
	for _, name := range Usual() {
		if b, ok := Forbidden(name); ok {
			t.Errorf("%s is forbidden as %s", name, b.Title)
		}
		if _, err := Parse(name); err != nil {
			t.Error(err)
		}
	}
	for _, name := range []string{"boiled-water", "turmoil", "acetoneless"} {
		if b, ok := Forbidden(name); ok {
			t.Errorf("%s is forbidden as %s: only whole words count", name, b.Title)
		}
	}
}

// A caller that changes its liquid or its list does not change anyone else's.
func TestResultsAreCopies(t *testing.T) {
	for _, name := range Usual() {
		l, _ := Parse(name)
		l.Cautions[0] = "changed"
		if again, _ := Parse(name); again.Cautions[0] == "changed" {
			t.Errorf("%s shares its cautions", name)
		}
	}
	Bans()[0].Title = "changed"
	if Bans()[0].Title == "changed" {
		t.Error("the bans are shared")
	}
}

// Flash points from outside: a published closed-cup list for aqueous ethanol, percent by volume to °C
// (10→49, 20→36, 30→29, 40→26, 50→24, 60→22, 70→21, 80→20, 90→17, 96→17). All lie below 60 °C, so all must count as flammable.
func TestFlammableCoversThePublishedFlashPoints(t *testing.T) {
	for percent, flash := range map[string]float64{"10": 49, "20": 36, "30": 29, "40": 26, "50": 24, "60": 22, "70": 21, "80": 20,
		"90": 17, "96": 17} {
		if l, err := Parse("ethanol-" + percent); err != nil || flash < 60 && !l.Flammable {
			t.Errorf("ethanol at %s %% with a flash point of %v °C: %+v, %v", percent, flash, l, err)
		}
	}
}
