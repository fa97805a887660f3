// Package liquid knows the cleaning liquids by name: what they are, whether they burn, and what must never be used.
//
// It knows no more about a bottle than its name says. The safety data sheet of the very product, local rules and
// qualified people come first, always.
package liquid

import (
	"fmt"
	"strings"
	"time"
)

// Liquid is one cleaning liquid.
type Liquid struct {
	Name    string  // as in a recipe file: "isopropanol-91"
	Title   string  // for a person: "isopropanol 91 %"
	Alcohol float64 // fraction by volume, 0 to 1
	// Flammable is true from 3 % alcohol by volume up. See FlammableFrom.
	Flammable bool
	// UsualDrying is about how long a liner takes to dry after it. Common practice, no source; ethanol and plain water
	// are taken like isopropanol and water with detergent.
	UsualDrying time.Duration
	Cautions    []string // one sentence each

	kind   Component // Water, or the alcohol that it is named after
	byMass float64   // fraction by mass where the name gives that, else 0
	turned Amounts   // what it is made of by now, where that is no longer what the name says
}

// FlammableFrom is the fraction of alcohol by volume from which a mixture with water is treated as flammable.
//
// A published closed-cup list gives aqueous ethanol a flash point of 49 °C at 10 % by volume; FlashPoint estimates 55 °C
// for ethanol and 47 °C for isopropanol at 5 %, below 60 °C, the usual end of the class of flammable liquids. At 4 % it
// estimates 60 and 51 °C, and at 3 % of isopropanol 57 °C; it reads up to 8 K low for weak mixtures. Bottles are mixed
// by eye, so the boundary lies where the estimate does.
const FlammableFrom = 0.03

// mostlyAlcohol is the fraction by volume from which a mixture dries about as its alcohol does; below, the water that
// stays behind sets the time (assumed).
const mostlyAlcohol = 0.6

const (
	dataSheet = "Follow the safety data sheet of your product, local rules and the advice of qualified people."
	noSparks  = "Flammable: no flame, spark or heater near it; vapour is heavier than air and creeps along the bench."
	freshAir  = "Work with moving air that carries the vapour away from you; do not judge it by smell."
	slowDry   = "Dries slowly: the liner inside the jacket stays wet long after the outside looks dry."
)

var (
	waters = []Liquid{
		{Name: "water", Title: "tap water", UsualDrying: 45 * time.Minute, Cautions: []string{
			slowDry, "Tap water leaves minerals: never let it be the last liquid on a disk.", dataSheet}},
		{Name: "distilled-water", Title: "distilled water", UsualDrying: 45 * time.Minute, Cautions: []string{
			slowDry, dataSheet}},
		{Name: "water-detergent", Title: "water with a little detergent", UsualDrying: 45 * time.Minute, Cautions: []string{
			slowDry, "Rinse the detergent off with distilled water; it dries to a film.", dataSheet}},
	}
	alcohols = []struct {
		kind     Component
		cautions []string
	}{
		{Isopropanol, []string{noSparks, freshAir, dataSheet}},
		{Ethanol, []string{noSparks, freshAir, "Denatured ethanol may hold additives that do more harm than the ethanol.",
			dataSheet}},
	}
)

// Usual returns the names that a person chooses from, for lists and for telling the nearest one. Alcohols may be named
// at any whole strength from 1 to 100.
func Usual() []string {
	return []string{"isopropanol-99", "isopropanol-91", "isopropanol-70", "ethanol-96", "water-detergent",
		"distilled-water", "water"}
}

// Parse returns the liquid of that name. Names are "water", "distilled-water", "water-detergent", "isopropanol-NN" and
// "ethanol-NN", where NN is the percentage by volume, 1 to 100. A w behind it makes it a percentage by mass (weight):
// "isopropanol-70w". A name that stands for something which must never be used gives a *ForbiddenError with the
// reason; every other name an error that says what is known.
func Parse(name string) (Liquid, error) {
	for _, l := range waters {
		if l.Name == name {
			l.Cautions = append([]string(nil), l.Cautions...)
			return l, nil
		}
	}
	if ban, ok := Forbidden(name); ok {
		return Liquid{}, &ForbiddenError{Name: name, Ban: ban}
	}
	kind, strength, _ := strings.Cut(name, "-")
	for _, a := range alcohols {
		if kind != a.kind.String() {
			continue
		}
		percent, byMass, ok := parseStrength(strength)
		if !ok {
			return Liquid{}, fmt.Errorf("%q has no strength; name it with a whole percentage by volume from 1 to 100, as in %q",
				name, kind+"-91")
		}
		return alcohol(a.kind, percent, byMass, a.cautions), nil
	}
	return Liquid{}, fmt.Errorf("%q is not a known liquid", name)
}

// usualDrying is common practice, no source: what is mostly alcohol is taken like isopropanol, the rest like water.
func usualDrying(alcohol bool) time.Duration {
	if alcohol {
		return 15 * time.Minute
	}
	return 45 * time.Minute
}
