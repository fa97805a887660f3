package main

import (
	"cmp"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"runtime/debug"
	"strings"

	"fullery/recipe"
	"fullery/recipes"

	"github.com/spf13/cobra"
)

// version is what the binary was built from.
func version() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return "unknown"
	}
	for _, s := range info.Settings {
		if s.Key == "vcs.revision" {
			return s.Value[:min(12, len(s.Value))]
		}
	}
	return strings.Trim(info.Main.Version, "()")
}

// dataFolder is where the record lies unless a person says otherwise: the user's XDG data folder.
func dataFolder() string {
	if dir := os.Getenv("XDG_DATA_HOME"); filepath.IsAbs(dir) {
		return filepath.Join(dir, "fullery")
	}
	home, err := os.UserHomeDir()
	if err != nil {
		home = os.TempDir()
	}
	return filepath.Join(home, ".local", "share", "fullery")
}

// wants checks the number of arguments, and says what they should have been.
func wants(least, most int, what string) cobra.PositionalArgs {
	return func(c *cobra.Command, args []string) error {
		if len(args) < least || len(args) > most {
			return said(statusUsage, "fullery %s wants %s", c.Name(), what)
		}
		return nil
	}
}

// readText reads a recipe or bench file: a path, or the name of one that ships. The file is named in messages as the
// person named it.
func readText(name, kind string) (file string, data []byte, err error) {
	data, err = os.ReadFile(name)
	switch {
	case err == nil:
		return name, data, nil
	case !errors.Is(err, fs.ErrNotExist):
		return name, nil, said(statusUsage, "cannot read %s: %v", name, plain(err))
	case strings.ContainsAny(name, "/\\"):
		return name, nil, said(statusUsage, "there is no file %s", name)
	}
	if data, err = recipes.Text(name, kind); err != nil {
		return name, nil, said(statusUsage, "there is no file %s here, and %v", name, err)
	}
	return strings.TrimSuffix(name, ".toml") + ".toml", data, nil
}

// plain is a system error without its path and call, which the sentence around it names already.
func plain(err error) error {
	if p := (*fs.PathError)(nil); errors.As(err, &p) {
		return p.Err
	}
	return err
}

// readRecipe reads a recipe, and refuses one that has problems.
func readRecipe(name string) (recipe.Recipe, error) {
	file, data, err := readText(cmp.Or(name, recipes.DefaultRecipe), "recipe")
	if err != nil {
		return recipe.Recipe{}, err
	}
	if recipe.KindOf(data) == "bench" {
		return recipe.Recipe{}, said(statusUsage, "%s is a bench file, not a recipe; give it with --bench", file)
	}
	r, problems := recipe.Read(file, data)
	return r, refused(problems)
}

// readBench reads a bench file, and refuses one that has problems.
func readBench(name string) (recipe.Bench, error) {
	file, data, err := readText(cmp.Or(name, recipes.DefaultBench), "bench")
	if err != nil {
		return recipe.Bench{}, err
	}
	b, problems := recipe.ReadBench(file, data)
	return b, refused(problems)
}

// refused turns problems into the answer no; warnings do not count.
func refused(problems recipe.Problems) error {
	if errs := problems.Errors(); len(errs) > 0 {
		return withStatus(statusNo, errs)
	}
	return nil
}
