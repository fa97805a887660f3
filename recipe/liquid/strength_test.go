package liquid

import (
	"math"
	"testing"
)

func TestTurned(t *testing.T) {
	l, err := Parse("isopropanol-91")
	if err != nil {
		t.Fatal(err)
	}
	was := l.Composition()
	q := l.Turned(Amounts{Water: 1, Isopropanol: 3})
	if got := q.Composition(); got != (Amounts{Water: 0.25, Isopropanol: 0.75}) {
		t.Errorf("one part of water to three is %v", got)
	}
	if q.Name != l.Name || !q.Flammable || l.Composition() != was {
		t.Errorf("%+v", q)
	}
	for _, a := range []Amounts{{}, {Water: -1, Isopropanol: 2}, {Water: math.NaN()}, {Water: math.Inf(1)}} {
		if got := l.Turned(a).Composition(); got != was {
			t.Errorf("%v turns it into %v", a, got)
		}
	}
}
