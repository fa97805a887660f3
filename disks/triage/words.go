package triage

import (
	"fmt"
	"slices"
	"strings"

	"fullery/recipe/tomltree"
)

// kind is how a finding is asked for and answered.
type kind struct {
	name  string
	ask   string
	words []string // of None, Some, and perhaps Much
}

// graded and yesNo are the answers of most findings.
var (
	graded = []string{"none", "some", "much"}
	yesNo  = []string{"no", "yes"}
)

// kinds are in the order of the findings.
var kinds = [NumFindings]kind{
	Wet:       {"wet", "Is it wet or damp, outside or at the liner?", yesNo},
	Mould:     {"mould", "Specks, threads or a bloom on jacket, liner or disk; a musty smell from afar?", graded},
	Dust:      {"dust", "Dust or dirt on jacket or disk?", graded},
	Shutter:   {"shutter", "Is the shutter bent, stiff or missing?", []string{"sound", "damaged"}},
	Warped:    {"warped", "Is jacket or disk bent or wavy?", yesNo},
	Foreign:   {"foreign", "Anything in the jacket that does not belong there: sand, a clip, glue, a label come off?", graded},
	Hub:       {"hub", "Is the hub firm in the disk, and in the middle?", []string{"firm", "loose"}},
	Scratches: {"scratches", "Rings or scratches on either face, in slanting light?", graded},
	Pinholes:  {"pinholes", "Does light show through the disk, held against a lamp?", graded},
	Shedding:  {"shedding", "Brown powder in the jacket, or bare places on the disk?", graded},
	Noise:     {"noise", "Does it scrape, rustle or stick when the hub is turned by hand, a little?", yesNo},
}

// rest is the word for everything that is not named.
const rest = "rest"

// Findings lists all of them, in the order in which one looks.
func Findings() []Finding {
	all := make([]Finding, NumFindings)
	for f := range all {
		all[f] = Finding(f)
	}
	return all
}

// String is the finding's word.
func (f Finding) String() string {
	if f >= NumFindings {
		return "something unknown"
	}
	return kinds[f].name
}

// Question is what to look for; "" for a finding that there is not.
func (f Finding) Question() string {
	if f >= NumFindings {
		return ""
	}
	return kinds[f].ask
}

// Words are the answers, mildest first: of None, Some and, where there are three, Much.
func (f Finding) Words() []string {
	if f >= NumFindings {
		return nil
	}
	return slices.Clone(kinds[f].words)
}

// Worst is the worst level that the finding has.
func (f Finding) Worst() Level { return Level(len(f.Words())) }

// Word is the word for a level of the finding; a level beyond its worst is its worst.
func (f Finding) Word(l Level) string {
	words := f.Words()
	if l == Unseen || len(words) == 0 {
		return "not looked at"
	}
	return words[min(int(l), len(words))-1]
}

// String is the pair as it is typed, "mould=some".
func (s Seen) String() string { return s.Finding.String() + "=" + s.Finding.Word(s.Level) }

// String is the verdict in words.
func (v Verdict) String() string {
	words := []string{"no verdict", "read first", "clean first", "by hand only", "do not spin"}
	if int(v) >= len(words) {
		return "something unknown"
	}
	return words[v]
}

// String is the look as Parse reads it, "mould=some, hub=loose, rest=none". What was not looked at is left out.
func (l Look) String() string {
	whole := !slices.Contains(l[:], Unseen)
	var words []string
	for f, level := range l {
		if level > None || level == None && !whole {
			words = append(words, Seen{Finding(f), level}.String())
		}
	}
	if whole {
		words = append(words, rest+"=none")
	}
	return strings.Join(words, ", ")
}

// Parse reads findings as they are typed: "mould=some", or several with commas between them. "rest=none" says that
// everything else was looked at and is well. A finding that is answered by yes or no may stand alone, "wet". The
// error says which word is wrong and what would be right.
func Parse(texts ...string) (Look, error) {
	var l Look
	restNone := false
	for _, word := range strings.Split(strings.Join(texts, ","), ",") {
		word = strings.TrimSpace(word)
		if word == "" {
			continue
		}
		name, answer, has := strings.Cut(word, "=")
		name, answer = strings.ToLower(strings.TrimSpace(name)), strings.ToLower(strings.TrimSpace(answer))
		if name == rest {
			if answer != "none" || restNone {
				return Look{}, fmt.Errorf("cannot take %q; rest=none, once, is all that can be said of the rest", word)
			}
			restNone = true
			continue
		}
		f, err := finding(name)
		if err != nil {
			return Look{}, err
		}
		if l[f] != Unseen {
			return Look{}, fmt.Errorf("%s is said twice; say it once", f)
		}
		if l[f], err = f.level(answer, has); err != nil {
			return Look{}, err
		}
	}
	for f := range l {
		if restNone && l[f] == Unseen {
			l[f] = None
		}
	}
	return l, nil
}

// finding finds a finding by its word.
func finding(name string) (Finding, error) {
	names := make([]string, 0, NumFindings+1)
	for f, k := range kinds {
		if k.name == name {
			return Finding(f), nil
		}
		names = append(names, k.name)
	}
	names = append(names, rest)
	if near := tomltree.Nearest(name, names); near != "" {
		return 0, fmt.Errorf("%q is no finding; did you mean %s?", cut(name), near)
	}
	return 0, fmt.Errorf("%q is no finding; the findings are %s", cut(name), strings.Join(names, ", "))
}

// level reads an answer. A graded finding without one could be some or much, and is not guessed.
func (f Finding) level(answer string, has bool) (Level, error) {
	words := f.Words()
	if i := slices.Index(words, answer); i >= 0 {
		return None + Level(i), nil
	}
	if !has && slices.Equal(words, yesNo) {
		return Some, nil
	}
	options := fmt.Sprintf("say %s=%s", f, strings.Join(words, " or "+f.String()+"="))
	if near := tomltree.Nearest(answer, words); near != "" {
		options = fmt.Sprintf("did you mean %s=%s?", f, near)
	}
	if answer == "" {
		return 0, fmt.Errorf("nothing is said of %s; %s", f, options)
	}
	return 0, fmt.Errorf("%s cannot be %q; %s", f, cut(answer), options)
}

// cut shortens what a person typed, for a message.
func cut(text string) string {
	if r := []rune(text); len(r) > 40 {
		return string(r[:40]) + "…"
	}
	return text
}

// Table is the table in words, to be printed: a line for each verdict, and below it its rules.
func Table() string {
	var b strings.Builder
	last := NoVerdict
	for _, r := range rules {
		if r.Verdict != last {
			fmt.Fprintf(&b, "%s\n", r.Verdict)
			last = r.Verdict
		}
		when := "otherwise"
		for i, s := range r.When {
			if i == 0 {
				when = s.String()
			} else {
				when += " and " + s.String()
			}
		}
		fmt.Fprintf(&b, "  %-32s  %s\n", when, r.Reason)
	}
	return b.String()
}
