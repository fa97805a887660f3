package simbench

import (
	"bufio"
	"os"
	"strconv"
	"strings"
	"testing"
	"time"

	"fullery/controller"
	"fullery/recipe"
	"fullery/recipes"
)

// record is one row of a published table, by its column's name.
type record struct {
	testing.TB
	of map[string]string
}

// published reads a table of values separated by commas. Its sources stand in its first lines.
func published(t testing.TB, path string) (rows []record) {
	t.Helper()
	file, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	var head []string
	for lines := bufio.NewScanner(file); lines.Scan(); {
		line := strings.TrimSpace(lines.Text())
		if line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		cells := strings.Split(line, ",")
		if head == nil {
			head = cells
			continue
		}
		row := record{t, map[string]string{}}
		for i, name := range head {
			row.of[name] = cells[i]
		}
		rows = append(rows, row)
	}
	if len(rows) == 0 {
		t.Fatalf("%s holds no rows", path)
	}
	return rows
}

func (r record) number(name string) float64 {
	r.Helper()
	v, err := strconv.ParseFloat(r.of[name], 64)
	if err != nil {
		r.Fatal(err)
	}
	return v
}

// shipped is the bench that ships.
func shipped(t testing.TB) recipe.Bench {
	t.Helper()
	spec, err := recipes.Bench("simulated")
	if err != nil {
		t.Fatal(err)
	}
	return spec
}

// wetted is a bench whose liner holds just what it keeps of a liquid, with the fan up.
func wetted(spec recipe.Bench, liquid string) *Bench {
	b := New(spec, testRecipe(liquid))
	_ = b.Drive(0, fanOnly)
	b.advance(5 * time.Second)
	b.Wet(spec.Sim.Kept)
	return b
}

// until advances a bench, a second at a time, until done says so, and returns how long that took; at most two days.
func (b *Bench) until(done func(Truth) bool) time.Duration {
	start := b.now
	for b.now < start+48*time.Hour && !done(b.Truth()) {
		b.advance(b.now + time.Second)
	}
	return b.now - start
}

// dry tells that 1 % is left.
func dry(is Truth) bool { return is.Left <= 0.01 }

// minutes returns how long a liner of that liquid dries in the bench's air.
func minutes(spec recipe.Bench, liquid string) float64 {
	return wetted(spec, liquid).until(dry).Minutes()
}

// heated holds the air at the cartridge near a temperature, K, while the bench runs for a span.
func (b *Bench) heated(span time.Duration, air float64) {
	for end := b.now + span; b.now < end; b.advance(b.now + 250*time.Millisecond) {
		l := controller.Levels{Fan: 1}
		if b.air < air {
			l.Heater, l.HeaterEnable = 1, true
		}
		_ = b.Drive(b.now, l)
	}
}
