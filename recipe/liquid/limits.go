package liquid

import "slices"

// Limit is one published lower flammable limit.
type Limit struct {
	Fraction     float64 // of the air, by volume
	Source, Date string  // "" where no date was noted
}

const (
	pocketGuide = "NIOSH Pocket Guide to Chemical Hazards"
	idlhPages   = "NIOSH documentation for immediately dangerous concentrations"
	may1994     = "May 1994"
)

// flammable lists the lowest first, which is the one that counts: a guard must not lean on the more generous figure.
// One older source, US Bureau of Mines bulletin 627, has 2.2 % for isopropanol.
var flammable = [NumComponents][]Limit{
	Isopropanol: {{0.020, "IEC 60079-20-1", "2010"}, {0.020, "NFPA 497", "2008"}, {0.020, idlhPages, may1994},
		{0.020, pocketGuide, ""}},
	Ethanol: {{0.031, "IEC 60079-20-1", "2010"}, {0.033, "NFPA 497", "2008"}, {0.033, idlhPages, may1994},
		{0.033, pocketGuide, ""}},
}

// LowerLimit returns the lower flammable limit in air as a fraction by volume: the lowest of the published figures that
// LimitsSource lists. It is 0 for water, which has none.
func (c Component) LowerLimit() (fraction float64) {
	if c == Isopropanol || c == Ethanol {
		return flammable[c][0].Fraction
	}
	return 0
}

// LimitsSource returns the published lower flammable limits of what burns in the liquid, lowest first, each with its
// source; none for water. Limits are figures for room temperature; warm vapour burns at a little less.
func (l Liquid) LimitsSource() []Limit { return slices.Clone(flammable[l.kind]) }

// Exposure is one published figure for the air that people breathe.
type Exposure struct {
	Name         string  // "NIOSH REL"
	PPM          float64 // parts of vapour in a million parts of air, by volume
	Averaged     string  // over what time: "8 h"
	Source, Date string  // Date is "" where none was noted
}

// exposures holds only figures that were seen in their source. Other bodies and countries publish lower ones.
var exposures = [NumComponents][]Exposure{
	Isopropanol: {
		{"NIOSH REL", 400, "working day", pocketGuide, may1994},
		{"NIOSH STEL", 500, "15 min", pocketGuide, may1994},
		{"OSHA PEL", 400, "8 h", pocketGuide, may1994},
		{"IDLH", 2000, "at no time", idlhPages, may1994},
	},
	Ethanol: {
		{"NIOSH REL", 1000, "working day", pocketGuide, may1994},
		{"OSHA PEL", 1000, "8 h", pocketGuide, may1994},
		{"IDLH", 3300, "at no time", idlhPages, may1994},
	},
}

// Exposures returns the published exposure figures for the vapour of the liquid, none for water. The date is that of
// the NIOSH pages that repeat all of them; the Pocket Guide had the same when it was looked up, its edition not noted.
// Being below a figure does not make air harmless, local rules may ask for less, and the safety data sheet comes
// first.
func (l Liquid) Exposures() []Exposure { return slices.Clone(exposures[l.kind]) }
