package triage

// rules are the table. TestRulesAreInOrder holds that the most serious come first.
var rules = []Rule{
	{seen(Hub, Some), DoNotSpin, "a loose hub turns the disk off its centre and can tear it"},
	{seen(Warped, Some), DoNotSpin, "a warped disk or jacket drags, and heads and pads hit it instead of gliding"},
	{seen(Noise, Some), DoNotSpin, "what is heard when it is turned scrapes; find it before anything turns faster"},
	{seen(Shedding, Much), DoNotSpin, "the coating comes off, and every turn takes more of it"},
	{seen(Foreign, Much), DoNotSpin, "what lies in the jacket is dragged round over both faces"},
	{seen(Pinholes, Much), DoNotSpin, "light through many places means that the coating is gone there and loose around them"},
	{[]Seen{{Shedding, Some}, {Scratches, Some}}, DoNotSpin, "a coating that sheds comes off along its scratches"},

	// flood salvage sheets (Minnesota Historical Society, 6/93, and later ones) take the disk out of its jacket, rinse it
	// in baths of cool distilled water, and dry it in a new jacket: work for hands.
	{seen(Wet, Some), ByHandOnly, "what it was wetted with dries onto it and holds it to the liner; it wants rinsing out of its jacket"},
	{seen(Mould, Much), ByHandOnly, "so much mould spreads to pads, bath, drive and every disk after it"},
	{seen(Shedding, Some), ByHandOnly, "pads and heads would scrape off a coating that sheds already"},
	{seen(Foreign, Some), ByHandOnly, "a grain under a pad or a head draws a scratch all the way round; take it out first"},
	{seen(Shutter, Some), ByHandOnly, "a damaged shutter can jam in the drive and catch its heads; mend it or change the jacket"},
	{seen(Scratches, Much), ByHandOnly, "raised edges of scratches catch pads and heads"},
	{seen(Pinholes, Some), ByHandOnly, "the coating is broken there, and scrubbing would widen it"},

	{seen(Mould, Some), CleanFirst, "mould is carried to the heads, and by them to other disks"},
	{seen(Dust, Much), CleanFirst, "dust gathers under the heads and scratches"},

	{nil, ReadFirst, "nothing speaks against reading it, and what is read now cannot be lost by cleaning"},
}

// seen is one finding as a condition.
func seen(f Finding, l Level) []Seen { return []Seen{{f, l}} }

// caution is what to mind with some findings, if the verdict is at least that serious.
type caution struct {
	when  []Seen
	least Verdict
	text  string
}

// cautions come in the order in which they matter: people first.
var cautions = []caution{
	{seen(Mould, Some), 0, "Mould can make people ill, dead mould too. People with asthma, allergies, lung disease or a weak immune " +
		"system stay away."},
	{seen(Mould, Some), 0, "Gloves, eye protection and a respirator that fits; no brush, no blowing; a vacuum only with a HEPA filter. " +
		"Local rules and the advice of qualified people come first."},
	{seen(Mould, Some), 0, "Keep it bagged and apart from other disks until it is done, and clean the place afterwards."},
	{seen(Wet, Some), 0, "Flood water can carry germs and chemicals: gloves, and local rules first."},
	// at most 72 hours, keep wet (salvage sheet for 90 mm cartridges); distilled, never tap water (AMIA, flood notes).
	{seen(Wet, Some), 0, "Do not let it dry as it is. Keep it in cool distilled water, not tap water, at most 72 hours (salvage guidance)."},
	{[]Seen{{Wet, Some}, {Mould, None}}, 0, "Mould can grow within 48 to 72 hours of wetting (preservation guidance)."},
	{seen(Foreign, Some), 0, "It may be sharp, or come from something that should not be touched: tweezers and gloves."},
	{nil, ByHandOnly, "If the disk matters and nobody there has done this before, leave it to qualified people: waiting, dry and cool, costs " +
		"little."},
	{seen(Warped, Some), 0, "Do not flatten it with heat."},
	{nil, 0, "Clean the drive's heads before this disk and after it."},
}
