package main

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// The layout of the house, checked: which room may import which, that the pure rooms read no clock and start nothing,
// and that every package says what it is for.

// mayImport lists, for each package, the packages of ours that it may import. Arrows point down; controller and
// disks do not know each other.
var mayImport = map[string][]string{
	"cmd/fullery": {"cmd/fullery/draw", "cmd/fullery/live", "controller", "controller/piobench", "controller/piobench/lines",
		"controller/simbench", "controller/sweep", "disks/batch", "disks/compare", "disks/readback", "disks/record", "sensors", "sensors/calibration", "recipe", "recipe/drying", "recipe/endpoint", "recipe/forecast", "recipe/liquid", "recipe/quantity", "recipes"},
	"cmd/fullery/live":    {"cmd/fullery/draw", "controller", "recipe"},
	"cmd/fullery/draw":    {},
	"controller":          {"recipe", "recipe/drying", "recipe/endpoint", "recipe/liquid"},
	"controller/simbench": {"controller", "recipe", "recipe/liquid", "sensors"},
	"controller/piobench": {"controller", "controller/piobench/lines", "recipe", "sensors", "sensors/ads1115", "sensors/bme280",
		"sensors/hx711", "sensors/nau7802", "sensors/pca9685", "sensors/sht3x", "sensors/sht4x", "sensors/tmp102"},
	"controller/benchtest":      {"controller", "recipe"},
	"controller/piobench/lines": {},
	"controller/sweep":          {"controller", "controller/simbench", "recipe", "recipe/drying", "recipe/liquid"},
	"disks/advice":              {},
	"disks/batch":               {"recipe/tomltree"},
	"disks/compare":             {},
	"disks/readback":            {"recipe/tomltree"},
	"disks/record":              {},
	"disks/triage":              {"recipe/tomltree"},
	"docs":                      {},
	"recipe":                    {"recipe/quantity", "recipe/tomltree", "recipe/liquid"},
	"recipe/liquid":             {},
	"recipe/drying":             {"recipe/liquid"},
	"recipe/endpoint":           {"recipe", "recipe/drying", "recipe/liquid"},
	"recipe/forecast":           {"recipe", "recipe/drying", "recipe/endpoint", "recipe/liquid"},
	"recipe/quantity":           {"recipe/tomltree"},
	"recipe/tomltree":           {},
	"recipes":                   {"recipe", "recipe/tomltree"},
	"sensors":                   {},
	"sensors/ads1115":           {"sensors"},
	"sensors/bme280":            {"sensors"},
	"sensors/calibration":       {"sensors"},
	"sensors/hx711":             {"sensors"},
	"sensors/nau7802":           {"sensors"},
	"sensors/pca9685":           {"sensors"},
	"sensors/sht3x":             {"sensors"},
	"sensors/sht4x":             {"sensors"},
	"sensors/tmp102":            {"sensors"},
}

// impure lists the files of otherwise pure rooms that are shells: the loop and its clocks.
var impure = []string{"controller/loop.go", "controller/clock.go", "controller/clockkernel_linux.go", "controller/clockkernel_other.go"}

// pureRooms do no I/O, read no clock and start no goroutine.
var pureRooms = []string{"controller", "controller/simbench", "controller/sweep", "recipe", "recipe/liquid", "recipe/drying",
	"recipe/endpoint", "recipe/forecast", "recipe/quantity", "recipe/tomltree", "sensors",
	"sensors/calibration", "cmd/fullery/draw", "disks/advice", "disks/batch", "disks/compare", "disks/readback", "disks/triage"}

func TestHouse(t *testing.T) {
	root := filepath.Join("..", "..")
	docs := map[string]int{}
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && (d.Name() == "testdata" || d.Name() == ".ci") { // programs there are no rooms
			return fs.SkipDir
		}
		if d.IsDir() || !strings.HasSuffix(path, ".go") {
			return nil
		}
		rel, err := filepath.Rel(root, path)
		if err != nil {
			return err
		}
		room := filepath.ToSlash(filepath.Dir(rel))
		file, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.ParseComments)
		if err != nil {
			return err
		}
		if strings.HasSuffix(path, "_test.go") {
			return nil
		}
		if file.Doc != nil {
			docs[room]++
		} else if _, ok := docs[room]; !ok {
			docs[room] = 0
		}
		checkImports(t, room, rel, file)
		if slices.Contains(pureRooms, room) && !slices.Contains(impure, filepath.ToSlash(rel)) {
			checkPure(t, rel, file)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	for room, n := range docs {
		if n != 1 {
			t.Errorf("%s has %d package comments, want one", room, n)
		}
	}
}

func checkImports(t *testing.T, room, rel string, file *ast.File) {
	t.Helper()
	allowed, known := mayImport[room]
	if !known {
		t.Errorf("%s: the room %s is not in mayImport", rel, room)
	}
	for _, spec := range file.Imports {
		path, err := strconv.Unquote(spec.Path.Value)
		if err != nil {
			t.Fatal(err)
		}
		if ours, ok := strings.CutPrefix(path, "fullery/"); ok && !slices.Contains(allowed, ours) {
			t.Errorf("%s imports %s: that arrow does not point down", rel, ours)
		}
	}
}

// checkPure finds clock reads, sleeps, goroutines and files opened in a file.
func checkPure(t *testing.T, rel string, file *ast.File) {
	t.Helper()
	banned := map[string][]string{"time": {"Now", "Since", "Sleep", "After", "NewTimer", "NewTicker"},
		"os": {"Open", "ReadFile", "WriteFile", "Create", "Getenv", "Exit"}}
	ast.Inspect(file, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.GoStmt:
			t.Errorf("%s starts a goroutine", rel)
		case *ast.SelectorExpr:
			if pkg, ok := n.X.(*ast.Ident); ok && slices.Contains(banned[pkg.Name], n.Sel.Name) {
				t.Errorf("%s calls %s.%s", rel, pkg.Name, n.Sel.Name)
			}
		}
		return true
	})
}

// TestWords: nothing that is printed or written down calls anything harmless to people.
func TestWords(t *testing.T) {
	root := filepath.Join("..", "..")
	for _, pattern := range []string{"*.md", "recipes/*.toml", "cmd/fullery/*.go", "controller/*.go"} {
		files, err := filepath.Glob(filepath.Join(root, pattern))
		if err != nil || len(files) == 0 {
			t.Fatalf("%s: %d files, %v", pattern, len(files), err)
		}
		for _, path := range files {
			if strings.HasSuffix(path, "_test.go") {
				continue
			}
			text, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			for _, word := range []string{"is safe", "are safe", "be safe"} {
				if strings.Contains(strings.ToLower(string(text)), word) {
					t.Errorf("%s says %q", path, word)
				}
			}
		}
	}
}
