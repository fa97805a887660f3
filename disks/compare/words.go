package compare

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// words puts the result into plain sentences: what became of each method's disks, what can be said between them, what so
// few disks could have shown, and what the numbers rest on.
func words(r Result, o Options) (out []string) {
	for _, m := range r.Methods {
		out = append(out, m.story(), m.verdict())
	}
	for _, p := range r.Pairs {
		out = append(out, p.verdict(len(r.Pairs)))
		if p.Difference != nil {
			out = append(out, p.reach(o))
		}
	}
	if len(r.Methods) == 1 {
		out = append(out, r.aloneReach(o))
	}
	return append(out, r.grounds()...)
}

// story says what was counted.
func (m Method) story() string {
	s := fmt.Sprintf("%s: %s, on average %s missing sectors before and %s after; %d better, %d worse, %d unchanged.",
		m.Name, count(m.N, "disk"), number(m.Before), number(m.After), m.Better, m.Worse, m.N-m.Better-m.Worse)
	if m.Counted == 0 {
		return s + " Which sectors they were is not known, so losses may hide behind gains."
	}
	return s + fmt.Sprintf(" On %s whose sectors are known %d were regained and %d newly lost, a net of %+d.",
		count(m.Counted, "disk"), *m.Regained, *m.NewlyLost, *m.Regained-*m.NewlyLost)
}

// verdict says whether the method's disks changed by more than chance.
func (m Method) verdict() string {
	if m.SmallestP > alpha {
		return fmt.Sprintf("%s: with %s the smallest p that can come out is %s: no result could have been significant, "+
			"whatever the cleaning did. It takes six disks at least.", m.Name, count(m.N, "disk"), probability(m.SmallestP))
	}
	how := fmt.Sprintf("p %s, %s", equals(m.P), counted(m.Exact, m.Error, "choices of signs"))
	interval := ""
	if m.Interval != nil {
		interval = fmt.Sprintf(" (95 %% interval %s to %s)", number(m.Interval[0]), number(m.Interval[1]))
	}
	switch {
	case m.P > alpha:
		return fmt.Sprintf("%s: no change is shown; it is estimated at %s sectors a disk%s; %s.", m.Name, number(m.Shift), interval, how)
	case m.Net > 0:
		return fmt.Sprintf("%s: fewer sectors are missing than before, by %s a disk%s; %s.", m.Name, number(-m.Shift), turned(m.Interval), how)
	}
	return fmt.Sprintf("%s: more sectors are missing than before, by %s a disk%s; %s.", m.Name, number(m.Shift), interval, how)
}

// verdict says which of the two is better, or why neither can be called so.
func (p Pair) verdict(pairs int) string {
	names := p.A + " and " + p.B
	how := fmt.Sprintf("p %s, %s", equals(p.P), counted(p.Exact, p.Error, "deals within the blocks"))
	if pairs > 1 {
		how += fmt.Sprintf("; %s when allowed for %d pairs", probability(p.Adjusted), pairs)
	}
	switch {
	case p.Difference == nil:
		return names + ": no block holds both, so nothing can be said between them."
	case p.SmallestP > alpha:
		return fmt.Sprintf("%s: with %d and %d disks the smallest p that can come out is %s: no result could have been significant, "+
			"so do not choose between them by these disks.", names, p.Disks[0], p.Disks[1], probability(p.SmallestP))
	case p.Better == p.A:
		return fmt.Sprintf("%s left fewer sectors missing than %s, by %s a disk%s; %s.", p.A, p.B, number(-*p.Difference), turned(p.Interval), how)
	case p.Better == p.B:
		return fmt.Sprintf("%s left fewer sectors missing than %s, by %s a disk%s; %s.", p.B, p.A, number(*p.Difference), span(p.Interval), how)
	case p.StartP <= alpha:
		return fmt.Sprintf("%s: their disks did not start alike (%s missing sectors apart, p %s), so neither is called better (%s). "+
			"Deal disks of the same kind to both.", names, number(math.Abs(*p.StartDifference)), equals(p.StartP), how)
	}
	return fmt.Sprintf("%s: no difference is shown; it is estimated at %s sectors a disk%s, below zero for %s; %s. "+
		"This does not show that they are equal.", names, number(*p.Difference), span(p.Interval), p.A, how)
}

// reach says what the pair's disks could have shown, and how many would do.
func (p Pair) reach(o Options) string {
	s := fmt.Sprintf("%s and %s: ", p.A, p.B)
	disks := p.Disks[0] + p.Disks[1]
	if p.Detectable == nil {
		s += fmt.Sprintf("these %d disks could not have shown a difference of any size.", disks)
	} else {
		s += fmt.Sprintf("these %d disks could have shown a difference of about %s sectors a disk or more.", disks, number(*p.Detectable))
	}
	return s + p.neededWords(o)
}

func (p Pair) neededWords(o Options) string {
	about := "one as large as seen, if it is true,"
	if o.Difference > 0 {
		about = fmt.Sprintf("one of %s sectors", number(o.Difference))
	}
	switch {
	case p.Needed != nil:
		return fmt.Sprintf(" To show %s about %s a method are needed.", about, count(*p.Needed, "disk"))
	case p.Detectable == nil:
		return " How many would be needed they do not tell."
	}
	return " No number of disks would show a difference of nothing."
}

// aloneReach is reach for a single method.
func (r Result) aloneReach(o Options) string {
	s := "These disks could not have shown a change of any size."
	if r.SmallestDetectable != nil {
		s = fmt.Sprintf("These disks could have shown a mean change of about %s sectors a disk or more.", number(*r.SmallestDetectable))
	}
	if r.NeededPerGroup == nil {
		return s
	}
	about := "one as large as seen, if it is true,"
	if o.Difference > 0 {
		about = fmt.Sprintf("one of %s sectors", number(o.Difference))
	}
	return s + fmt.Sprintf(" To show %s about %s are needed.", about, count(*r.NeededPerGroup, "disk"))
}

// grounds says what the numbers rest on and what they cannot tell.
func (r Result) grounds() (out []string) {
	out = append(out, "A disk that is only read again may regain sectors too: what cleaning itself did is told only against disks "+
		"that were dealt to be read again without it.")
	if len(r.Pairs) > 0 {
		out = append(out, "Methods are compared by permuting their labels among the disks of each block, after taking off what the "+
			"start alone foretells. That is exact if the labels were dealt by chance, and no better than the choice if a person chose.",
			fmt.Sprintf("\"Could have shown\" means: in four of five such trials, at a risk of 5 %% of calling noise a difference%s, "+
				"with the scatter of these disks.", among(len(r.Pairs))))
	}
	for _, m := range r.Methods {
		if !m.Exact {
			return append(out, fmt.Sprintf("Where cases were drawn and not counted, the seed is %d.", r.Seed))
		}
	}
	for _, p := range r.Pairs {
		if !p.Exact {
			return append(out, fmt.Sprintf("Where cases were drawn and not counted, the seed is %d.", r.Seed))
		}
	}
	return out
}

func among(pairs int) string {
	if pairs < 2 {
		return ""
	}
	return fmt.Sprintf(" shared among %d pairs", pairs)
}

// counted says how a p came about.
func counted(exact bool, failure float64, cases string) string {
	if exact {
		return "counted over all " + cases
	}
	return fmt.Sprintf("drawn, standard error %s", strconv.FormatFloat(failure, 'g', 1, 64))
}

// span and turned print an interval as it is, and with its sign turned.
func span(i *[2]float64) string {
	if i == nil {
		return ""
	}
	return fmt.Sprintf(" (95 %% interval %s to %s)", number(i[0]), number(i[1]))
}

func turned(i *[2]float64) string {
	if i == nil {
		return ""
	}
	return span(&[2]float64{-i[1], -i[0]})
}

func count(n int, what string) string {
	if n != 1 {
		what += "s"
	}
	return fmt.Sprintf("%d %s", n, what)
}

// number prints sectors with one decimal where there is one.
func number(x float64) string {
	s := strings.TrimSuffix(strconv.FormatFloat(math.Round(10*x)/10, 'f', 1, 64), ".0")
	if s == "-0" {
		return "0"
	}
	return s
}

// probability prints a p with three figures.
func probability(p float64) string {
	if p < 0.0001 {
		return "below 0.0001"
	}
	return strconv.FormatFloat(p, 'g', 3, 64)
}

// equals is probability as the end of "p …".
func equals(p float64) string {
	if p < 0.0001 {
		return probability(p)
	}
	return "= " + probability(p)
}
