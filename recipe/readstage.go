package recipe

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"fullery/recipe/tomltree"
)

// use says how a kind of stage uses a key.
type use uint8

const (
	unused use = iota
	may
	must
)

// stageKeys are the keys of a stage besides do, in the order in which messages list them.
var stageKeys = []string{"flow", "pads", "hub", "reverse", "fan", "warm", "for", "until", "at-most"}

// stageUse is the table of which kind uses which keys. A dry needs either for or until; that is checked apart.
var stageUse = map[Kind]map[string]use{
	Wet:     {"flow": must, "for": must, "hub": may, "fan": may, "at-most": may},
	Scrub:   {"pads": must, "for": must, "hub": must, "reverse": may, "fan": may, "at-most": may},
	Rinse:   {"flow": must, "for": must, "hub": must, "pads": may, "fan": may, "at-most": may},
	SpinOut: {"hub": must, "for": must, "fan": may, "at-most": may},
	Soak:    {"for": must, "hub": may, "fan": may, "at-most": may},
	Dry:     {"fan": must, "for": may, "until": may, "at-most": may, "warm": may, "hub": may},
}

// kindsThat returns the kinds that use a key, for the message to whoever wrote it elsewhere.
func kindsThat(key string) string {
	var names []string
	for k := Wet; k <= Dry; k++ {
		if stageUse[k][key] != unused {
			names = append(names, k.String())
		}
	}
	return strings.Join(names, ", ")
}

// grace is what a timed stage may take longer than its work, unless at-most says otherwise: time to bring the pads
// to the disk and the hub up to speed.
const grace = 60 * time.Second

// stages reads the [[stage]] tables. [stage.dry] and [stage] are valid TOML and natural mistakes, so they get a sentence
// of their own.
func (r *Recipe) stages(top *section) {
	n := top.get("stage")
	if n == nil {
		top.wrong("stage", "the recipe has no stage", `add [[stage]] with do = "wet" and so on`)
		return
	}
	if n.Kind != tomltree.List {
		top.add(n.Place, false, "stage is not a list of stages", "head each stage with [[stage]], in double brackets")
		return
	}
	if len(n.Items) == 0 {
		top.wrong("stage", "the recipe has no stage", `add [[stage]] with do = "wet" and so on`)
	}
	for i, item := range n.Items {
		path := "stage." + strconv.Itoa(i)
		top.places[path] = item.Place
		if item.Kind != tomltree.Table {
			top.add(item.Place, false, "a stage is "+item.Kind.String()+", not a table", "head each stage with [[stage]]")
			continue
		}
		r.Stages = append(r.Stages, readStage(&section{reader: top.reader, node: item, path: path}))
	}
}

// readStage reads one stage by the table of its kind.
func readStage(s *section) Stage {
	stage := Stage{Line: s.node.Place.Line}
	if !s.has("do") {
		s.missing("do", `"wet"`)
		return stage
	}
	word, ok := s.oneOf("do", kindNames[Wet:]...)
	if !ok {
		return stage
	}
	stage.Do = Kind(slices.Index(kindNames[:], word))
	uses := stageUse[stage.Do]
	for _, key := range stageKeys {
		s.stageKey(key, uses[key], stage.Do)
	}
	stage.quantities(s, uses)
	if stage.Do == Dry {
		stage.end(s)
	}
	if stage.AtMost == 0 && stage.For > 0 {
		stage.AtMost = stage.For + grace
	}
	s.done()
	return stage
}

// stageKey checks that a key is there if it must be and not there if the kind has no use for it.
func (s *section) stageKey(key string, u use, kind Kind) {
	if u == unused {
		s.judged = append(s.judged, key)
		if n := s.node.Get(key); n != nil {
			s.add(n.Key, false, fmt.Sprintf("a %s stage has no use for %s", kind, key),
				fmt.Sprintf("%s is for: %s", key, kindsThat(key)))
		}
	} else if u == must && !s.has(key) {
		s.missing(key, strconv.Quote(stageSpan(kind, key).example()))
	}
}

// stageSpan is the range of a key.
func stageSpan(kind Kind, key string) span {
	switch key {
	case "flow":
		return flow
	case "pads":
		return padSpeed
	case "hub":
		return hubSpeed
	case "reverse":
		return turnRound
	case "fan":
		return fanShare
	case "warm":
		return warmth
	case "for":
		if kind == SpinOut {
			return spinTime
		}
	}
	return anyTime
}

// quantities reads what the kind uses. Keys that are missing or wrong leave zero: the recipe is not run then.
func (st *Stage) quantities(s *section, uses map[string]use) {
	numbers := map[string]*float64{"flow": &st.Flow, "pads": &st.Pads, "hub": &st.Hub, "fan": &st.Fan, "warm": &st.Warm}
	times := map[string]*time.Duration{"for": &st.For, "reverse": &st.Reverse, "at-most": &st.AtMost}
	for _, key := range stageKeys {
		if uses[key] == unused {
			continue
		}
		if to := numbers[key]; to != nil {
			*to, _ = s.quantity(key, stageSpan(st.Do, key))
		}
		if to := times[key]; to != nil {
			*to, _ = s.time(key, stageSpan(st.Do, key))
		}
	}
}

// end reads how a dry ends: after a time, or on evidence of dryness but at the latest after at-most.
func (st *Stage) end(s *section) {
	word, ok := s.oneOf("until", "dry")
	st.UntilDry = ok && word == "dry"
	switch {
	case s.has("for") && s.has("until"):
		s.wrong("until", "this dry has both for and until", "keep one: for ends it by the clock, until on evidence of dryness")
	case !s.has("for") && !s.has("until"):
		s.add(s.place(), false, "this dry has no end", `add until = "dry" with at-most = "60 min", or for = "20 min"`)
	case s.has("until") && !s.has("at-most"):
		s.add(s.place(), false, "this dry has no at-most: it would run on if dryness is never seen", `add at-most = "60 min"`)
	}
}
