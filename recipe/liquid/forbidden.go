package liquid

import (
	"fmt"
	"slices"
	"strings"
)

// Ban is something that must not be used on a disk.
type Ban struct {
	Title  string // what it is: "acetone and other ketones"
	Reason string // why not, in one clause
	words  []string
}

// bans says what must never be used. The reasons are common practice in the care of magnetic media, no source, where
// they are not plain chemistry.
var bans = []Ban{
	{"acetone and other ketones", "they dissolve the binder and the jacket",
		[]string{"acetone", "propanone", "butanone", "mek", "ketone", "cyclohexanone", "nail-polish-remover",
			"nail-varnish-remover"}},
	{"chlorinated solvents", "they swell the binder and their vapour is harmful",
		[]string{"dichloromethane", "methylene", "trichloroethylene", "perchloroethylene", "chloroform", "trichloroethane",
			"brake-cleaner"}},
	{"aromatic solvents and paint thinners", "they soften the binder and the jacket",
		[]string{"toluene", "xylene", "benzene", "thinner", "thinners"}},
	{"esters", "they soften the binder and the jacket",
		[]string{"acetate", "ethyl-acetate", "butyl-acetate"}},
	{"petrol and white spirit", "they swell plastics, leave a film, and catch fire easily",
		[]string{"petrol", "gasoline", "benzine", "naphtha", "white-spirit", "mineral-spirits", "turpentine", "kerosene",
			"paraffin", "lighter-fluid", "hexane", "heptane"}},
	{"ethers and strong solvents of the laboratory", "they dissolve the binder, and ethers form explosive peroxides",
		[]string{"ether", "tetrahydrofuran", "thf", "dioxane", "dmf", "dimethylformamide", "dmso", "acetonitrile", "nmp"}},
	{"glycols and all-purpose cleaners", "they hardly evaporate and leave a film",
		[]string{"glycol", "butoxyethanol", "all-purpose-cleaner", "antifreeze", "glycerine", "glycerol"}},
	{"methanol", "it is poisonous through skin and lungs and does nothing that isopropanol does not",
		[]string{"methanol", "methylated-spirits", "wood-alcohol"}},
	{"bleach", "it attacks the oxide and the metal hub, and gives off chlorine with acids",
		[]string{"bleach", "hypochlorite", "chlorine"}},
	{"hydrogen peroxide", "it attacks the oxide and the binder",
		[]string{"peroxide", "hydrogen-peroxide"}},
	{"strong alkali, such as dishwasher detergent", "it breaks up the binder",
		[]string{"dishwasher", "lye", "caustic", "caustic-soda", "sodium-hydroxide", "potassium-hydroxide", "oven-cleaner",
			"alkali"}},
	{"ammonia and window cleaner", "it attacks the binder and leaves a film",
		[]string{"ammonia", "window-cleaner", "glass-cleaner"}},
	{"acids and vinegar", "they attack the oxide and rust the hub",
		[]string{"vinegar", "acid", "acetic", "citric", "descaler"}},
	{"scented or hand-rub alcohol", "its oils and thickeners stay on the disk",
		[]string{"rubbing-alcohol", "hand-sanitiser", "hand-sanitizer", "perfume", "aftershave"}},
	{"softener, rinse aid and antistatic spray", "they are made to leave a film",
		[]string{"softener", "fabric-softener", "rinse-aid", "antistatic", "antistatic-spray"}},
	{"scouring powder, toothpaste and polish", "they scrape the coating off",
		[]string{"scouring-powder", "scouring-cream", "toothpaste", "polish", "abrasive"}},
	{"oil, silicone and contact spray", "they leave a film that no drive forgives",
		[]string{"oil", "silicone", "contact-spray", "contact-cleaner", "lubricant", "wax"}},
}

// Bans returns what must not be used, for lists and pages. Tap water as the last rinse is not in it: it is allowed
// before a rinse with distilled water, and recipes are checked for that.
func Bans() []Ban { return slices.Clone(bans) }

// Forbidden tells whether a name stands for something that must not be used, and why. It knows the name whole or as
// one of its words ("acetone-50", "household bleach"), in small or capital letters.
func Forbidden(name string) (Ban, bool) {
	words := strings.FieldsFunc(strings.ToLower(name), func(r rune) bool { return r == '-' || r == ' ' || r == '_' })
	whole := "-" + strings.Join(words, "-") + "-"
	for _, b := range bans {
		for _, w := range b.words {
			if strings.Contains(whole, "-"+w+"-") {
				return b, true
			}
		}
	}
	return Ban{}, false
}

// ForbiddenError says that a named liquid must not be used.
type ForbiddenError struct {
	Name string
	Ban  Ban
}

// Error returns the name and the reason.
func (e *ForbiddenError) Error() string {
	return fmt.Sprintf("%q must never be used on a disk (%s): %s", e.Name, e.Ban.Title, e.Ban.Reason)
}
