package drying

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"fullery/recipe/liquid"
)

// row is one row of a table in testdata/drying, by column.
type row map[string]string

func (r row) number(t *testing.T, column string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(r[column], 64)
	if err != nil {
		t.Fatalf("column %q: %v", column, err)
	}
	return v
}

// table reads testdata/drying/name. Its source stands in its head.
func table(t *testing.T, name string) (rows []row) {
	t.Helper()
	file, err := os.Open(filepath.Join("..", "..", "testdata", "drying", name))
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	reader := csv.NewReader(file)
	reader.Comment = '#'
	lines, err := reader.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if len(lines) < 2 {
		t.Fatalf("%s is empty", name)
	}
	for _, line := range lines[1:] {
		r := row{}
		for i, column := range lines[0] {
			r[column] = line[i]
		}
		rows = append(rows, r)
	}
	return rows
}

func named(t testing.TB, name string) liquid.Liquid {
	t.Helper()
	l, err := liquid.Parse(name)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// near fails unless got is within the fraction of want.
func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within*math.Abs(want)) {
		t.Errorf("%s: got %.9g, want %.9g within %.3g %%; it is %.3g %% off", what, got, want, 100*within, 100*(got/want-1))
		return
	}
	t.Logf("%s: %.9g, %.2g %% off", what, got, 100*(got/want-1))
}

// about fails unless got is within so much of want.
func about(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s: got %.6g, want %.6g ± %.3g", what, got, want, within)
		return
	}
	t.Logf("%s: %.6g, %+.3g", what, got, got-want)
}

// shipped is a drying on the simulated bench that ships: 2 mL, 0.3 W/K, 3 L/s, 21 °C, 50 %.
func shipped(t testing.TB, name string) Case {
	return Case{Liquid: named(t, name), Kept: 2e-6, Air: zeroC + 21, Humidity: 0.5, Film: 0.3, Flow: 3e-3}
}

func mustRun(t testing.TB, c Case, o Options) Result {
	t.Helper()
	r, err := Run(c, o)
	if err != nil {
		t.Fatal(err)
	}
	return r
}
