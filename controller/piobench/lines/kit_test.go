package lines

import (
	"strings"
	"testing"

	"go.uber.org/goleak"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

const label = "pinctrl-test"

// names makes lines with names, pulled low.
func names(of ...string) []FakeLine {
	lines := make([]FakeLine, len(of))
	for i, n := range of {
		lines[i].Name = n
	}
	return lines
}

// one makes a fake with one chip, and finds it.
func one(t *testing.T, lines ...FakeLine) (*Fake, *Chip) {
	t.Helper()
	f := &Fake{}
	f.Add(FakeChip{Name: "gpiochip0", Label: label, Lines: lines})
	return f, find(t, f, label)
}

func find(t *testing.T, k Kernel, label string) *Chip {
	t.Helper()
	c, err := Find(k, label)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { check(t, c.Close()) })
	return c
}

func check(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// says checks that an error is there and has all the words that a person needs.
func says(t *testing.T, err error, words ...string) {
	t.Helper()
	if err == nil {
		t.Fatalf("no error, want one with %q", words)
	}
	for _, w := range words {
		if !strings.Contains(err.Error(), w) {
			t.Errorf("the error does not say %q:\n%s", w, err)
		}
	}
}
