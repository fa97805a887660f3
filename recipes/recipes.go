// Package recipes holds the recipes and bench files that ship with the program, embedded in it.
package recipes

import (
	"embed"
	"fmt"
	"io/fs"
	"slices"
	"strings"

	"fullery/recipe"
	"fullery/recipe/tomltree"
)

//go:embed *.toml
var files embed.FS

// The names that are taken when a person names none.
const (
	DefaultRecipe = "water-detergent"
	DefaultBench  = "simulated"
)

// Recipe returns the shipped recipe of that name ("water-detergent", with or without .toml). An unknown name gives an
// error with the nearest one.
func Recipe(name string) (recipe.Recipe, error) {
	data, err := Text(name, "recipe")
	if err != nil {
		return recipe.Recipe{}, err
	}
	r, problems := recipe.Read(base(name)+".toml", data)
	if errs := problems.Errors(); len(errs) > 0 {
		return r, errs
	}
	return r, nil
}

// Bench returns the shipped bench of that name ("simulated", with or without .toml). An unknown name gives an error
// with the nearest one.
func Bench(name string) (recipe.Bench, error) {
	data, err := Text(name, "bench")
	if err != nil {
		return recipe.Bench{}, err
	}
	b, problems := recipe.ReadBench(base(name)+".toml", data)
	if errs := problems.Errors(); len(errs) > 0 {
		return b, errs
	}
	return b, nil
}

// Names returns the names of the shipped recipes in alphabetical order.
func Names() []string { return names("recipe") }

// BenchNames returns the names of the shipped bench files in alphabetical order.
func BenchNames() []string { return names("bench") }

// Text returns a shipped file as it is, comments included, for a person to copy and change. kind is "recipe" or
// "bench".
func Text(name, kind string) ([]byte, error) {
	known := names(kind)
	if slices.Contains(known, base(name)) {
		return files.ReadFile(base(name) + ".toml")
	}
	hint := "there are " + strings.Join(known, ", ")
	if near := tomltree.Nearest(base(name), known); near != "" {
		hint = fmt.Sprintf("did you mean %s?", near)
	}
	return nil, fmt.Errorf("no %s %q ships with the program; %s", kind, name, hint)
}

func base(name string) string { return strings.TrimSuffix(name, ".toml") }

func names(kind string) (all []string) {
	paths, err := fs.Glob(files, "*.toml")
	if err != nil {
		return nil // only a bad pattern can fail
	}
	for _, p := range paths {
		if data, err := files.ReadFile(p); err == nil && recipe.KindOf(data) == kind {
			all = append(all, base(p))
		}
	}
	return all
}
