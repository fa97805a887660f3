package record

// Missing is one thing that a disk's story should have and has not.
type Missing string

// What can be missing, in the order in which one meets it.
const (
	NoRegistration Missing = "not registered"
	NoFormat       Missing = "no format" // registered without it
	NoLook         Missing = "not looked at"
	NoFirstReading Missing = "not read as found"     // no reading of round 0
	LateFirst      Missing = "first reading late"    // round 0 was given only after a cleaning: it is hardly as found
	NoEnd          Missing = "cycle without an end"  // the last cycle runs, or was cut short and nobody has chosen
	NoDryness      Missing = "not dry by evidence"   // since it was wetted last; by the clock alone is no evidence
	NoReadAgain    Missing = "not read again"        // since it was cleaned last
	HeadsForgotten Missing = "heads not cleaned"     // before the newest reading
	NoImage        Missing = "no image"              // read, but no reading has one
	NoJoin         Missing = "readings not combined" // several have images, the newest does not have all, and no join has it
)

// Lack is what is missing, and which entry or cycle it is about.
type Lack struct {
	What  Missing
	Entry int64 // of the journal; 0 for none
	Cycle int64 // 0 for none
}

// teller walks a story and remembers what a lack depends on.
type teller struct {
	looked, found  bool
	late           int64 // the reading of round 0 after a cleaning
	open           int64 // the last cycle, if it has no end
	wet            int64 // the cycle that wetted it last, if nothing has shown it dry since
	cleaned        Lack  // what cleaned it since the last reading
	touched        bool  // cleaned ever
	last           *KeptReadback
	images         int
	newest, joined int64 // reading with an image, and input of a join, of the highest number
}

// lacks lists what is missing, in the order of the constants.
func lacks(d DiskRow, steps []Step) (all []Lack) {
	var t teller
	for _, s := range steps {
		if e := s.Entry(); e == nil || !e.Withdrawn {
			t.hear(s)
		}
	}
	say := func(so bool, l Lack) {
		if so {
			all = append(all, l)
		}
	}
	say(!d.Registered, Lack{What: NoRegistration})
	say(d.Registered && d.Format == "", Lack{What: NoFormat})
	say(!t.looked, Lack{What: NoLook})
	say(!t.found, Lack{What: NoFirstReading})
	say(t.late != 0, Lack{What: LateFirst, Entry: t.late})
	say(t.open != 0, Lack{What: NoEnd, Cycle: t.open})
	say(t.wet != 0, Lack{What: NoDryness, Cycle: t.wet})
	say(t.cleaned.What != "", t.cleaned)
	if t.last != nil {
		whole := t.last.Counts.Good == t.last.Counts.Total()
		say(!t.last.HeadsCleaned, Lack{What: HeadsForgotten, Entry: t.last.Number})
		say(t.images == 0, Lack{What: NoImage, Entry: t.last.Number})
		say(t.images > 1 && !whole && t.joined < t.newest, Lack{What: NoJoin, Entry: t.newest})
	}
	return all
}

func (t *teller) hear(s Step) {
	switch {
	case s.Look != nil:
		t.looked = true
	case s.Cycle != nil:
		t.hearCycle(s.Cycle)
	case s.Drying != nil:
		if d := s.Drying; !dried(d).IsZero() && d.Says != "at-least" && proven(d.Evidence) {
			t.wet = 0
		}
	case s.Round != nil:
		if s.Round.Cycle == 0 {
			t.cleaned, t.touched = Lack{What: NoReadAgain, Entry: s.Round.Number}, true
		}
	case s.Readback != nil:
		t.hearReadback(s.Readback)
	case s.Join != nil:
		for _, in := range s.Join.Inputs {
			t.joined = max(t.joined, in.Readback)
		}
	}
}

// hearCycle: one that ended before its first stage has not touched the disk.
func (t *teller) hearCycle(c *CycleStep) {
	t.open = 0
	if !c.Ended && c.Choice == "" {
		t.open = c.Number
	}
	if c.Stage < 0 {
		return
	}
	t.cleaned, t.touched = Lack{What: NoReadAgain, Cycle: c.Number}, true
	if c.Liquid != "" || c.Rinse != "" {
		t.wet = c.Number
	}
	for _, d := range c.Dryings {
		if d.Dry && proven(d.Evidence) {
			t.wet = 0
		}
	}
}

func (t *teller) hearReadback(b *KeptReadback) {
	if b.Round == 0 {
		if t.touched && !t.found {
			t.late = b.Number
		}
		t.found = true
	}
	t.cleaned, t.last = Lack{}, b
	if b.ImageSHA256 != "" {
		t.images++
		t.newest = b.Number
	}
}

// proven tells whether an evidence shows a disk dry; the clock alone does not.
func proven(evidence string) bool { return evidence != "" && evidence != "timed" }
