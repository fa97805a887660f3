package simbench

import (
	"context"
	"testing"
	"time"

	"fullery/controller"
	"fullery/recipes"
)

// BenchmarkCycle runs whole cycles of the shipped recipe through the real loop on the simulated bench, and reports how
// many times as fast as real time that is.
func BenchmarkCycle(b *testing.B) {
	r, err := recipes.Recipe(recipes.DefaultRecipe)
	if err != nil {
		b.Fatal(err)
	}
	spec, err := recipes.Bench(recipes.DefaultBench)
	if err != nil {
		b.Fatal(err)
	}
	p, err := controller.Compile(r, spec)
	if err != nil {
		b.Fatal(err)
	}
	var cycles time.Duration
	for b.Loop() {
		orders := make(chan controller.Command, 1)
		loop := controller.Loop{Program: p, Bench: New(spec, r), Clock: &controller.FastClock{}, Commands: orders,
			Watchers: []controller.Watcher{starter(orders)}, Until: controller.Ended}
		last, err := loop.Run(context.Background(), controller.State{})
		if err != nil || last.Cycle != controller.Complete {
			b.Fatalf("%s, %v", last.Cycle, err)
		}
		cycles += last.Last
	}
	b.ReportMetric(cycles.Seconds()/b.Elapsed().Seconds(), "×real")
}

// starter is an operator who starts the cycle.
type starter chan<- controller.Command

// Watch orders the start until the cycle is under way.
func (s starter) Watch(t *controller.Tick) {
	if t.State.Cycle == controller.Idle && len(s) == 0 {
		s <- controller.Command{Order: controller.Start, Looked: true}
	}
}
