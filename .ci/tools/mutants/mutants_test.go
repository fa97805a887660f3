package main

import (
	"os"
	"path/filepath"
	"testing"
)

// sample is a package whose test looks at one side of one condition only.
var sample = map[string]string{
	"go.mod": "module sample\n\ngo 1.26\n",
	"larger.go": `package sample

const step = 10

// Larger returns the larger of two numbers.
func Larger(a, b int) int {
	if a > b && a != 0 {
		return a
	}
	return b
}

func unused(x int) int { return x + step }

func kind(x int) string {
	switch x {
	case 1:
		return "one"
	default:
		return "many"
	}
}

func count() (n int) {
	for n < 3 {
		n++
	}
	return n
}
`,
	"larger_test.go": `package sample

import "testing"

func TestLarger(t *testing.T) {
	if Larger(2, 1) != 2 {
		t.Error("no")
	}
	if count() != 3 {
		t.Error("no")
	}
	if kind(1) != "one" {
		t.Error("no")
	}
}
`,
}

// TestFaultsOfASample: what the test looks at is noticed, what it does not survives, what it never runs is not covered.
func TestFaultsOfASample(t *testing.T) {
	dir := t.TempDir()
	for name, text := range sample {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	t.Chdir(dir)
	m, err := mutate(".", nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	b, err := build(t.TempDir(), ".", m, "^$")
	if err != nil {
		t.Fatal(err)
	}
	if err := b.reach(len(m.faults)); err != nil {
		t.Fatal(err)
	}
	b.try(m.faults, 1, false)
	want := map[string]outcome{
		"Larger: a > b && a != 0 → false": killed, "Larger: a > b → true": survived, "Larger: a != 0 → true": survived,
		"Larger: a > b → >=": uncovered, // the numbers are never equal
		"Larger: a → zero":   killed, "Larger: b → zero": uncovered,
		"unused: x + step → -": uncovered, "unused: x + step → zero": uncovered, "unused: step → a tenth more": uncovered,
		"count: n < 3 → false": killed, "count: n < 3 → <=": killed, "count: 3 → a tenth more": killed, "count: n++ → left out": timedOut,
		"count: n → zero": killed, "kind: case 1 → never": killed, `kind: "one" → zero`: killed, `kind: "many" → zero`: uncovered,
	}
	for _, f := range m.faults {
		if w, ok := want[f.key]; !ok || w != f.outcome {
			t.Errorf("%s: %s, want %s (expected: %v)", f.key, f.outcome, w, ok)
		}
		delete(want, f.key)
	}
	for key := range want {
		t.Errorf("%s: no such fault", key)
	}
}

// TestReport: a survivor fails the run unless it is on the list; a line of the list without a reason, or for a fault that
// is noticed or not there, fails it as well.
func TestReport(t *testing.T) {
	faults := func(o outcome) []*fault { return []*fault{{key: "f: a → b", outcome: o}} }
	listed := []allowance{{"f: a → b", "cannot matter"}}
	for _, c := range []struct {
		outcome outcome
		list    []allowance
		bad     bool
	}{
		{killed, nil, false}, {timedOut, nil, false}, {survived, nil, true}, {uncovered, nil, true},
		{survived, listed, false}, {uncovered, listed, false}, {killed, listed, true}, {killed, []allowance{{"g: a → b", "x"}}, true},
	} {
		if got := report(faults(c.outcome), c.list, true); got != c.bad {
			t.Errorf("%s with %v: bad is %v", c.outcome, c.list, got)
		}
	}
	path := filepath.Join(t.TempDir(), "list")
	for text, fine := range map[string]bool{"": true, "# words\n\n": true, "f: a → b  # because\n": true, "f: a → b\n": false} {
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		if _, err := readAllowed(path); (err == nil) != fine {
			t.Errorf("%q: %v", text, err)
		}
	}
}
