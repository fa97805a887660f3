package record

import (
	"context"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// TestRandomCycles: whatever is put in whatever order, the record gives back what a list in memory holds.
func TestRandomCycles(t *testing.T) {
	r := testRecord(t, settings{busy: time.Second, queue: 64})
	text := rapid.OneOf(rapid.String(), rapid.SampledFrom([]string{"", "water", "'; drop table cycle; --", "µ°\x00\xff"}))
	span := rapid.Custom(func(t *rapid.T) time.Duration {
		return time.Duration(rapid.Int64Range(0, int64(30*24*time.Hour)).Draw(t, "ns"))
	})
	maybe := rapid.Custom(func(t *rapid.T) *float64 {
		if rapid.Bool().Draw(t, "none") {
			return nil
		}
		return new(rapid.Float64Range(-1e9, 1e9).Draw(t, "value"))
	})
	wall := rapid.Custom(func(t *rapid.T) time.Time {
		return time.UnixMilli(rapid.Int64Range(-1e12, 4e12).Draw(t, "ms")).UTC()
	})
	rapid.Check(t, func(t *rapid.T) {
		m := model{t: t, r: r, text: text, span: span, maybe: maybe, wall: wall}
		m.begin()
		for range rapid.IntRange(0, 60).Draw(t, "entries") {
			m.put()
		}
		m.finish()
		m.compare()
	})
}

// model is the list in memory that TestRandomCycles compares with.
type model struct {
	t     *rapid.T
	r     *Record
	text  *rapid.Generator[string]
	span  *rapid.Generator[time.Duration]
	maybe *rapid.Generator[*float64]
	wall  *rapid.Generator[time.Time]

	c       *Cycle
	last    uint64
	events  []KeptEvent
	samples []KeptSample
	stages  map[int]StageRow
	reached time.Duration
}

func (m *model) begin() {
	c, err := m.r.Begin(context.Background(), Start{Bench: "b", RecipeText: m.text.Draw(m.t, "recipe")})
	if err != nil {
		m.t.Fatal(err)
	}
	m.c, m.stages = c, map[int]StageRow{}
}

func (m *model) put() {
	if m.last%8 == 7 {
		if err := m.c.Flush(context.Background()); err != nil {
			m.t.Fatal(err)
		}
	}
	t, at, stage := m.t, m.span.Draw(m.t, "at"), rapid.IntRange(-2, 5).Draw(m.t, "stage")
	var seq uint64
	switch rapid.IntRange(0, 3).Draw(t, "kind") {
	case 0:
		e := Event{At: at, Wall: m.wall.Draw(t, "wall"), Kind: m.text.Draw(t, "kind"), ID: m.text.Draw(t, "id"),
			Stage: stage, State: m.text.Draw(t, "state"), Response: m.text.Draw(t, "response"),
			Said: m.text.Draw(t, "said"), Value: m.maybe.Draw(t, "value")}
		seq = m.c.PutEvent(e)
		m.events = append(m.events, KeptEvent{seq, e})
	case 1:
		s := Sample{At: at, Stage: stage}
		for _, v := range s.readings() {
			*v = m.maybe.Draw(t, "reading")
		}
		seq = m.c.PutSample(s)
		m.samples = append(m.samples, KeptSample{seq, s})
	case 2:
		seq = m.c.PutStage(StageChange{At: at, Stage: stage, Begun: true})
		row := m.stages[stage]
		if row.Stage = stage; row.Begun == nil {
			row.Begun = &at
		}
		m.stages[stage] = row
	case 3:
		actual, ending := m.span.Draw(t, "actual"), m.text.Draw(t, "ending")
		seq = m.c.PutStage(StageChange{At: at, Stage: stage, Actual: actual, Ending: ending})
		row := m.stages[stage]
		row.Stage, row.Actual, row.Ending = stage, &actual, ending
		m.stages[stage] = row
	}
	if m.last++; seq != m.last {
		t.Fatalf("sequence number %d, want %d", seq, m.last)
	}
	m.reached = max(m.reached, at)
}

// finish ends the cycle in order, or leaves it and resolves it.
func (m *model) finish() {
	ctx := context.Background()
	if rapid.Bool().Draw(m.t, "orderly") {
		if err := m.c.Finish(ctx, End{State: "complete", Duration: m.reached}); err != nil {
			m.t.Fatal(err)
		}
		m.last++
		return
	}
	if err := m.c.Close(); err != nil {
		m.t.Fatal(err)
	}
	cut, err := m.r.CutShort(ctx, "b")
	if err != nil || cut == nil || cut.Number != m.c.Number() {
		m.t.Fatalf("CutShort = %v, %v", cut, err)
	}
	if err := m.r.Resolve(ctx, Resolution{Cycle: cut.Number, Choice: ToEnd}); err != nil {
		m.t.Fatal(err)
	}
}

func (m *model) compare() {
	ctx, n := context.Background(), m.c.Number()
	s, err := m.r.CycleByNumber(ctx, n)
	if err != nil || s.Duration != m.reached || s.LastSeq != m.last || m.c.Acked() != m.last || s.Lost != 0 {
		m.t.Errorf("cycle %+v, %v; want %v and %d entries", s, err, m.reached, m.last)
	}
	events, err := m.r.Events(ctx, n)
	if err != nil {
		m.t.Fatal(err)
	}
	differ(m.t, "events", events, m.events)
	samples, err := m.r.Samples(ctx, n)
	if err != nil {
		m.t.Fatal(err)
	}
	differ(m.t, "samples", samples, m.samples)
	stages, err := m.r.Stages(ctx, n)
	if err != nil {
		m.t.Fatal(err)
	}
	got := map[int]StageRow{}
	for _, row := range stages {
		got[row.Stage] = row
	}
	differ(m.t, "stages", got, m.stages)
}
