// Package advice says, from the rounds of a disk so far, whether another one is worth it: the chance that it regains more
// sectors than it loses, how many it may regain and lose, and when to stop.
//
// A round of cleaning has a rate of its own at which missing sectors come back, and one at which readable ones are lost;
// rounds of one disk scatter around the disk's rates, because all sectors of a round share its luck. Counts are therefore
// beta-binomial, and a disk's rates are known only as well as its few rounds tell: see the constants in rates.go for what
// is believed before the first. Readings without cleaning do not tell how cleaning does, and are left out of it.
//
// Of the sectors that never came back, capture and recapture tells how many reading again would bring at least: sectors
// that came in one reading but not in another are the sign of more of their kind.
//
// What was read once is kept by joining the readings. So joining comes before reading again, and reading again before
// cleaning: neither of them touches the disk.
//
// Everything is pure: no clock, no file, no state but the arguments.
package advice

import "fmt"

// Round is one reading after the first, against the one before it. The zero value is a cleaned round that did nothing.
type Round struct {
	Regained  int // sectors missing before it that came
	NewlyLost int // sectors that came before it and did not in this reading
	Missing   int // sectors missing in this reading

	Tries    int  // how often a sector that would not come was tried; 0 is not known
	OnlyRead bool // read again without cleaning
	Shedding bool // the coating came off: on the pads, the liner or the drive's heads
}

// Disk is what is known of one disk.
type Disk struct {
	Sectors int // of its format
	Found   int // missing in the first reading, before anything was done
	Rounds  []Round

	// Joined is how many sectors are missing when the good ones of all readings are taken together, if JoinKnown. JoinDone
	// is set once that image was made, so that it is not advised again.
	Joined    int
	JoinKnown bool
	JoinDone  bool

	// Seen[k] is how many sectors came in exactly k of the readings, the first reading included; nil is not known.
	Seen []int

	Tries int // of the first reading, as Round.Tries
}

// Verdict is what to do next. The zero value is to leave the disk alone.
type Verdict string

// The verdicts, from the gentlest on the disk.
const (
	Done      Verdict = "done"
	Leave     Verdict = "leave alone"
	Join      Verdict = "join"
	ReadAgain Verdict = "read again"
	Clean     Verdict = "clean"
)

// Count is a number of sectors that is not known: what is expected, and the 80 % interval.
type Count struct {
	Mean float64 `json:"mean"`
	Low  float64 `json:"low"`
	High float64 `json:"high"`
}

// Advice is what is told.
type Advice struct {
	Verdict Verdict `json:"verdict"`

	// Chance is that another round of cleaning regains more sectors than it loses. Its 80 % interval is for how little the
	// disk's own rates are known.
	Chance   float64    `json:"chance"`
	Interval [2]float64 `json:"interval"`

	Regained  Count `json:"regained"` // by another round of cleaning
	NewlyLost Count `json:"newly_lost"`
	Rounds    int   `json:"rounds"` // of cleaning that this rests on; with none it is only what is believed beforehand

	Missing    int    `json:"missing"`    // with all readings joined, as far as is known
	Complement int    `json:"complement"` // how many of the last reading's missing sectors came in an earlier one, at least
	Unseen     *Count `json:"unseen"`     // of Missing, how many reading again would bring at least; nil where the readings do not tell

	Words []string `json:"words"` // plain sentences, the verdict first, the stop rule last
}

// stopBelow is the chance under which another round is not advised: when it is as likely to lose.
const stopBelow = 0.5

// enoughTries is how often a sector should have been tried before a disk is cleaned for it. Common practice, no source.
const enoughTries = 5

// For advises on one disk. Errors tell which figures contradict each other.
func For(d Disk) (Advice, error) {
	if err := d.check(); err != nil {
		return Advice{}, err
	}
	a := Advice{Missing: d.missing(), Complement: d.complement()}
	if unseen, ok := Unseen(d.Seen, eighty); ok {
		unseen.cap(float64(a.Missing))
		a.Unseen = &unseen
	}
	cleaned := d.cleaned()
	a.Rounds = len(cleaned)
	a.foretell(cleaned, d.last(), d.Sectors)
	var why string
	a.Verdict, why = a.judge(d)
	a.Words = a.words(d, why)
	return a, nil
}

// judge returns the verdict and its reason: the first that holds.
func (a Advice) judge(d Disk) (Verdict, string) {
	switch {
	case a.Missing == 0 && a.Complement == 0:
		return Done, "every sector was read."
	case a.Missing == 0 && d.JoinDone:
		return Done, "every sector is in the joined image."
	case d.shedding():
		return Leave, "its coating comes off, and every turn under pads or heads takes more of it. Join what was read."
	case d.lossesGrow():
		return Leave, "each round loses more than the one before, and the last lost at least as many sectors as it regained."
	case a.Complement > 0 && !d.JoinDone:
		return Join, fmt.Sprintf("its readings complement each other: of the sectors missing in the last one at least %d came in an "+
			"earlier one. Joining them touches nothing.", a.Complement)
	case d.tries() > 0 && d.tries() < enoughTries:
		return ReadAgain, fmt.Sprintf("sectors that would not come were tried only %d times; try them %d times or more before the disk is "+
			"cleaned for them.", d.tries(), enoughTries)
	case a.Unseen != nil && a.Unseen.Low >= 1:
		return ReadAgain, fmt.Sprintf("its readings differ so much that about %.0f more sectors at least should come by reading again.", a.Unseen.Mean)
	case a.Chance < stopBelow:
		return Leave, "another round is more likely to lose as many sectors as it regains than to regain more."
	case a.Regained.Mean < 1:
		return Leave, "another round is expected to regain less than one sector."
	}
	return Clean, "another round is more likely to regain sectors than to lose as many."
}
