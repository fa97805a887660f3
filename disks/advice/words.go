package advice

import (
	"fmt"
	"math"
)

// words says the verdict with its reason, what it rests on, and when to stop.
func (a Advice) words(d Disk, why string) []string {
	out := []string{a.opening() + why}
	if a.Verdict == Done {
		return out
	}
	return append(out, a.foundation(), a.outlook(d), a.reading(),
		"What was read once is kept by joining: a sector newly lost is lost to the disk, not to the joined image.",
		fmt.Sprintf("Stop cleaning when the chance of regaining more than is lost falls below %s, when less than one sector is expected "+
			"back, when a round loses more than the round before and no less than it regains, or when the coating comes off.", percent(stopBelow)))
}

func (a Advice) opening() string {
	switch a.Verdict {
	case Done:
		return "Done: "
	case Join:
		return "Join the readings first: "
	case ReadAgain:
		return "Read it again, without cleaning: "
	case Clean:
		return "Clean it once more: "
	}
	return "Leave it alone: "
}

// foundation says how many rounds it rests on.
func (a Advice) foundation() string {
	switch a.Rounds {
	case 0:
		return "It was not cleaned yet: the figures are what is assumed of any disk (a quarter of the missing sectors comes back, one " +
			"readable sector in two hundred is lost), not measured."
	case 1:
		return "The figures rest on one round of cleaning and on what is assumed of any disk."
	}
	return fmt.Sprintf("The figures rest on %d rounds of cleaning, the last counting most, and on what is assumed of any disk.", a.Rounds)
}

// outlook says what another round would do.
func (a Advice) outlook(d Disk) string {
	return fmt.Sprintf("Another round of cleaning regains more sectors than it loses with a chance of %s (80 %% interval %s to %s): of %d "+
		"missing %s back, of %d readable %s lost.", percent(a.Chance), percent(a.Interval[0]), percent(a.Interval[1]), d.last(),
		a.Regained.extent(), d.Sectors-d.last(), a.NewlyLost.extent())
}

// reading says what reading again would bring.
func (a Advice) reading() string {
	if a.Unseen == nil {
		return "How many sectors would come by reading again alone the readings so far do not tell."
	}
	return fmt.Sprintf("Of %d sectors that never came, %s (80 %% interval) at least should come by reading again alone, if the readings were alike.",
		a.Missing, a.Unseen.extent())
}

func (c Count) extent() string {
	if math.Round(c.Low) == math.Round(c.High) {
		return fmt.Sprintf("about %.0f", c.Low)
	}
	return fmt.Sprintf("%.0f to %.0f", c.Low, c.High)
}

func percent(x float64) string { return fmt.Sprintf("%.0f %%", 100*x) }
