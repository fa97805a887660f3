package recipe

import (
	"path"
	"strings"

	"fullery/recipe/tomltree"
)

// Place is where something stands in a file; it prints as "my.toml:12:9".
type Place = tomltree.Place

// Problem is one thing that is wrong with a file, with what would be right.
type Problem = tomltree.Problem

// Problems is everything that is wrong with a file, in the order of the file. Empty: the file is fine. Errors leaves
// out the warnings.
type Problems = tomltree.Problems

// places remembers where the keys of a file stand, by dotted path: "pads.pressure", "stage.2.flow" (counted from 0).
// The empty path is the file itself.
type places map[string]Place

// at returns the place of a path or, where that is not in the file, of the nearest table around it.
func (ps places) at(file, path string) Place {
	for path != "" {
		if p, ok := ps[path]; ok {
			return p
		}
		path = path[:max(0, strings.LastIndexByte(path, '.'))]
	}
	if p, ok := ps[""]; ok {
		return p
	}
	return Place{File: file, Line: 1, Column: 1}
}

// Place returns where a key of the recipe stands: "liquid", "pads.pressure", "stage.2.flow" (stages count from 0). For
// a key that the file leaves out it is the place of the table that would hold it, and else the start of the file.
func (r Recipe) Place(path string) Place { return r.places.at(r.Name, path) }

// Place returns where a key of the bench file stands: "pump.curve", "sensors.air.stale". For a key that the file
// leaves out it is the place of the table that would hold it, and else the start of the file.
func (b Bench) Place(path string) Place { return b.places.at(b.Name, path) }

// nameOf is a file's name without folder and ending.
func nameOf(file string) string {
	base := path.Base(strings.ReplaceAll(file, `\`, "/"))
	if name := strings.TrimSuffix(base, ".toml"); name != "" {
		return name
	}
	return base
}
