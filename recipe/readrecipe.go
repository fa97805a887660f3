package recipe

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"fullery/recipe/liquid"
	"fullery/recipe/tomltree"
)

// mediaSizes are the sizes of cartridge, as the standards name them.
var mediaSizes = []string{"90 mm", "130 mm", "200 mm"}

// KindOf tells what a file is by its content: "recipe", "bench", or "" when it is not TOML or neither. A bench file
// has a kind at its top, a recipe has stages.
func KindOf(data []byte) string {
	root, problems := tomltree.Parse("", data)
	switch {
	case len(problems) > 0:
		return ""
	case root.Get("kind") != nil || root.Get("sensors") != nil:
		return "bench"
	case root.Get("stage") != nil || root.Get("limits") != nil:
		return "recipe"
	}
	return ""
}

// Read reads a recipe file and checks its syntax and its sense; whether a bench can do it is not asked. file is the
// name that messages show. With errors among the problems the recipe is incomplete and must not be run; with warnings
// only it may.
func Read(file string, data []byte) (Recipe, Problems) {
	r := Recipe{Name: nameOf(file), Text: string(data)}
	root, problems := tomltree.Parse(file, data)
	if root == nil {
		r.places = places{"": Place{File: file, Line: 1, Column: 1}}
		return r, problems
	}
	read, top := newReader(file, root)
	r.places = read.places
	if root.Get("kind") != nil && root.Get("stage") == nil {
		read.add(root.Get("kind").Key, false, "this is a bench file, not a recipe", "give it as the bench")
		return r, read.problems
	}
	r.top(top)
	r.pads(top.table("pads"))
	r.limits(top.table("limits"), top)
	r.stages(top)
	top.done()
	r.sense(top)
	return r, read.problems.Sorted()
}

// top reads the keys that stand before the first table.
func (r *Recipe) top(s *section) {
	var ok bool
	if r.Title, ok = s.text("title", "Water with detergent"); ok && strings.TrimSpace(r.Title) == "" {
		s.wrong("title", "the title is empty", "say in one line what the recipe does")
	} else if ok && strings.ContainsAny(r.Title, "\r\n") {
		s.wrong("title", "the title has several lines", "say in one line what the recipe does")
	} else if !s.has("title") {
		s.missing("title", strconv.Quote("Water with detergent"))
	}
	r.media(s)
	r.Liquid = liquidName(s, "liquid")
	r.Rinse = liquidName(s, "rinse")
	r.Repeat = 1
	if n, ok := s.whole("repeat", 1, 20); ok {
		r.Repeat = int(n)
	}
}

// media reads the list of sizes.
func (r *Recipe) media(s *section) {
	n := s.get("media")
	if n == nil {
		s.missing("media", `["90 mm"]`)
		return
	}
	if n.Kind != tomltree.List {
		s.mistyped("media", n, "a list", `["90 mm"]`)
		return
	}
	for _, item := range n.Items {
		switch {
		case item.Kind != tomltree.Text:
			s.mistyped("media", item, "a text", `["90 mm"]`)
		case !slices.Contains(mediaSizes, item.Text):
			hint := "write " + orList(mediaSizes)
			if near := tomltree.Nearest(item.Text, mediaSizes); near != "" {
				hint = fmt.Sprintf("did you mean %q?", near)
			}
			s.add(item.Place, false, fmt.Sprintf("the medium %s is not known", cut(item.Text)), hint)
		case slices.Contains(r.Media, item.Text):
			s.add(item.Place, false, fmt.Sprintf("the medium %q is named twice", item.Text), "name it once")
		default:
			r.Media = append(r.Media, item.Text)
		}
	}
	if len(n.Items) == 0 {
		s.wrong("media", "the list of media is empty", `write media = ["90 mm"]`)
	}
}

// liquidName reads a key that names a liquid; "" when there is none to be used.
func liquidName(s *section, key string) string {
	name, ok := s.text(key, "isopropanol-91")
	if !ok {
		return ""
	}
	_, err := liquid.Parse(name)
	var banned *liquid.ForbiddenError
	switch {
	case err == nil:
		return name
	case errors.As(err, &banned):
		s.wrong(key, fmt.Sprintf("%s must never be used on a disk (%s)", cut(name), banned.Ban.Title), banned.Ban.Reason)
	default:
		s.wrong(key, fmt.Sprintf("the liquid %s is not known", cut(name)), nearLiquids(name))
	}
	return ""
}

// nearLiquids hints at the liquid that was meant. An alcohol without a proper strength is the usual slip.
func nearLiquids(name string) string {
	kind, _, _ := strings.Cut(name, "-")
	for _, alcohol := range []string{"isopropanol", "ethanol"} {
		if kind == alcohol {
			return fmt.Sprintf("name it with a whole percentage by volume from 1 to 100, as in %q", alcohol+"-91")
		}
	}
	if near := tomltree.Nearest(name, liquid.Usual()); near != "" {
		return fmt.Sprintf("did you mean %q?", near)
	}
	return "known are " + strings.Join(liquid.Usual(), ", ") + "; alcohols at any whole strength"
}

// pads reads [pads]. Whether it has to be there depends on the stages and is checked with them.
func (r *Recipe) pads(s *section) {
	r.Pads.Pressure, _ = s.must("pressure", padPressure)
	r.Pads.Within, _ = s.must("within", tolerance)
	r.Pads.Balance, _ = s.must("balance", tolerance)
	if r.Pads.Pressure > padPressureHigh {
		s.warn("pressure", fmt.Sprintf("a pad pressure of %s may scrape the coating", SayPressure(r.Pads.Pressure)),
			"up to "+SayPressure(padPressureHigh)+" is usual")
	}
	s.done()
}

// limits reads [limits]. A limit of liquid is asked for only when some stage gives liquid; see sense.
func (r *Recipe) limits(s, top *section) {
	r.Limits.Liquid, _ = s.quantity("liquid", doseLimit)
	if s.there() && !s.has("time") {
		s.missing("time", `"40 min"`)
	}
	r.Limits.Time, _ = s.time("time", anyTime)
	s.done()
	if !s.there() && !top.has("limits") {
		top.missingTable("limits", "liquid and time")
	}
}
