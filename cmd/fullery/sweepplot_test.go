package main

import (
	"bytes"
	"context"
	"encoding/xml"
	"io"
	"slices"
	"testing"
)

// The picture is a well-formed file of its own, marks every choice once, and its numbers do not cover each other.
func TestSweepPicture(t *testing.T) {
	s := quickSweep(t, nil)
	finish(t, context.Background(), s, 2)
	s.recipe.Title = "Quick & <quiet> \x01"
	picture := s.picture()
	dec := xml.NewDecoder(bytes.NewReader(picture))
	count := map[string]int{}
	for {
		tok, err := dec.Token()
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatalf("%v\n%s", err, picture)
		}
		if e, ok := tok.(xml.StartElement); ok {
			for _, a := range e.Attr {
				if a.Name.Local == "class" {
					count[a.Value]++
				}
			}
		}
	}
	f := s.found()
	own := 0
	if slices.Contains(f.front, 0) {
		own = 1
	}
	// One more of each in the legend.
	if count["own"] != 2 || count["front"] != len(f.front)-own+1 || count["rest"] != len(f.all)-len(f.front)+own-1+1 ||
		count["to"] != len(f.front)+1-own {
		t.Errorf("%v, %d of %d not beaten, own %d\n%s", count, len(f.front), len(f.all), own, picture)
	}
}

func TestFreeSpotsDoNotMeet(t *testing.T) {
	var taken []box
	for i := range 8 {
		b := freeSpot(plotted{number: i, x: 300 + float64(i), y: 250}, 16, taken)
		if slices.ContainsFunc(taken, b.meets) {
			t.Errorf("number %d covers another: %+v", i, b)
		}
		taken = append(taken, b)
	}
}

func TestRangeOf(t *testing.T) {
	for _, x := range [][]float64{nil, {5}, {0}, {1, 2}, {20.2, 63.9}, {0.01, 0.02}, {6.2, 10.1}, {-3, 3}, {1e6, 1e6}} {
		a := rangeOf(x)
		if !(a.step > 0) || !(a.to > a.from) || (a.to-a.from)/a.step > 12 {
			t.Errorf("%v: %+v", x, a)
		}
		for _, v := range x {
			if v < a.from || v > a.to {
				t.Errorf("%v: %+v", x, a)
			}
		}
	}
}
