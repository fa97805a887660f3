package liquid

import "slices"

// Clash is two things that must never meet, on a disk, in a tank, in a tray or in a bin.
type Clash struct {
	One, Other string // "bleach", "acids and vinegar"
	Reason     string // what comes of it, in one clause
}

// clashes is plain chemistry, from memory except where a source is named; the last three are common practice, no source.
// The safety data sheets of both products come first.
var clashes = []Clash{
	{"bleach", "acids and vinegar", "they give off chlorine, which is poisonous"},
	{"bleach", "ammonia and window cleaner", "they give off chloramines, which are poisonous"},
	{"bleach", "isopropanol, ethanol or acetone", "they form chloroform and other poisonous vapours, and heat up"},
	{"hydrogen peroxide", "vinegar", "they form peracetic acid, which burns skin, eyes and lungs"},
	{"hydrogen peroxide", "acetone", "they form explosive peroxides"},
	{"isopropanol", "strong oxidisers, chlorine and acids", "they react violently (NIOSH Pocket Guide)"},
	{"isopropanol or ethanol", "warmed air, a flame or a spark", "the vapour catches fire"},
	{"isopropanol or ethanol", "a liner still wet with detergent", "the detergent comes out as a film; rinse with distilled water first"},
	{"two liquids", "one tank", "nobody knows its strength, flash point or drying time any more"},
}

// NeverTogether returns what must never meet, each with the reason, for lists and pages.
func NeverTogether() []Clash { return slices.Clone(clashes) }
