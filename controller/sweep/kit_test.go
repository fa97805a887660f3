package sweep

import (
	"testing"

	"fullery/recipe"
	"fullery/recipe/drying"
	"fullery/recipes"
)

// quickText is a recipe whose cycle lasts half a minute, so that a test can run many.
const quickText = `
title  = "Quick"
media  = ["90 mm"]
liquid = "isopropanol-91"
[pads]
pressure = "2 kPa"
within   = "25 %"
balance  = "15 %"
[limits]
liquid = "5 mL"
time   = "10 min"
[[stage]]
do   = "wet"
flow = "12 mL/min"
for  = "10 s"
[[stage]]
do   = "scrub"
pads = "60 rpm"
hub  = "20 rpm"
for  = "6 s"
[[stage]]
do  = "spin-out"
hub = "240 rpm"
for = "5 s"
[[stage]]
do  = "dry"
fan = "100 %"
for = "8 s"
`

func read(t testing.TB, text string) recipe.Recipe {
	t.Helper()
	r, problems := recipe.Read("quick.toml", []byte(text))
	if bad := problems.Errors(); len(bad) > 0 {
		t.Fatal(bad)
	}
	return r
}

func shipped(t testing.TB, name string) recipe.Recipe {
	t.Helper()
	r, err := recipes.Recipe(name)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func bench(t testing.TB, name string) recipe.Bench {
	t.Helper()
	b, err := recipes.Bench(name)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// only makes the one candidate of a choice.
func only(t testing.TB, r recipe.Recipe, b recipe.Bench, c Choice) Candidate {
	t.Helper()
	can, skipped := Candidates(r, b, drying.Belief{}, []Choice{c})
	if len(can) != 1 {
		t.Fatal(skipped)
	}
	return can[0]
}
