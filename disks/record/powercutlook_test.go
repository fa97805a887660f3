//go:build linux || darwin || freebsd

package record

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"strings"
	"time"

	"github.com/google/go-cmp/cmp"
)

// Looking at what a power cut left behind, as the next start of the program would.

// looker gathers what is wrong with one case.
type looker struct {
	laid
	r           *Record
	lost, other []string
}

func (l *looker) loss(format string, args ...any) {
	l.lost = append(l.lost, l.where+": "+fmt.Sprintf(format, args...))
}

func (l *looker) fault(format string, args ...any) {
	l.other = append(l.other, l.where+": "+fmt.Sprintf(format, args...))
}

// look lays a case out, opens the record as the next start would, and says what is lost and what else is wrong.
func (c laid) look(dir string) (lost, other []string) {
	l := &looker{laid: c}
	if err := c.lay(dir); err != nil {
		l.fault("%v", err)
		return nil, l.other
	}
	var err error
	if l.r, err = open(context.Background(), filepath.Join(dir, recordName), quick); err != nil {
		if c.known.opened || c.known.old {
			l.loss("the record does not open: %v", err)
		} else {
			l.fault("a record that was never there does not open: %v", err)
		}
		return l.lost, l.other
	}
	defer l.r.Close()
	l.cycles()
	if c.used {
		l.goesOn()
	}
	return l.lost, l.other
}

// cycles looks at every cycle that was begun, and for cycles that nobody began.
func (l *looker) cycles() {
	ctx := context.Background()
	have, err := l.r.Cycles(ctx, 0)
	if err != nil {
		l.loss("the cycles cannot be read: %v", err)
		return
	}
	if len(have) > len(l.known.cycles) {
		l.fault("%d cycles, %d were begun", len(have), len(l.known.cycles))
		return
	}
	var last *Summary
	for i := range l.known.cycles {
		k := &l.known.cycles[i]
		if i >= len(have) {
			if k.begun {
				l.loss("cycle %d is gone", k.number)
			}
			continue
		}
		s := &have[len(have)-1-i] // newest first
		if s.Number != k.number {
			l.fault("cycle %d stands where %d should", s.Number, k.number)
			return
		}
		l.cycle(k, s, i+1 < len(have))
		last = s
	}
	l.cutShort(last)
}

// cycle holds one cycle against what is known of it. followed: another one was begun after it, and is there.
func (l *looker) cycle(k *knownCycle, s *Summary, followed bool) {
	if s.LastSeq < k.acked {
		l.loss("cycle %d ends at entry %d, %d were acknowledged", k.number, s.LastSeq, k.acked)
	}
	if s.LastSeq > k.put {
		l.fault("cycle %d has %d entries, %d were put", k.number, s.LastSeq, k.put)
		return
	}
	if k.finished && !s.Ended {
		l.loss("cycle %d has lost its end", k.number)
	}
	if s.Ended != (s.LastSeq == allEntries+1) {
		l.fault("cycle %d: ended is %v after entry %d", k.number, s.Ended, s.LastSeq)
	}
	resolved := followed && !s.Ended
	if resolved != (s.Choice != "") {
		l.fault("cycle %d: choice %q, followed by another: %v", k.number, s.Choice, followed)
	}
	want := example()
	text, err := l.r.RecipeText(context.Background(), k.number)
	if err != nil || text != want.RecipeText || s.Recipe != want.Recipe || s.Disk != want.Disk || s.Liquid != want.Liquid {
		l.fault("cycle %d is not whole: %+v, %v", k.number, s, err)
	}
	l.entries(k, s)
	l.stages(k, s)
}

// entries looks for every entry up to the last: none missing, none half, none beyond.
func (l *looker) entries(k *knownCycle, s *Summary) {
	ctx := context.Background()
	var wantEvents []KeptEvent
	var wantSamples []KeptSample
	for n := uint64(1); n <= min(s.LastSeq, allEntries); n++ {
		switch n % perStage {
		case 2, 3:
			wantSamples = append(wantSamples, sampleAt(k.number, n))
		case 4:
			wantEvents = append(wantEvents, eventAt(k.number, n))
		}
	}
	events, err := l.r.Events(ctx, k.number)
	if d := cmp.Diff(wantEvents, events); d != "" || err != nil {
		l.loss("events of cycle %d (-want +got): %v %s", k.number, err, d)
	}
	samples, err := l.r.Samples(ctx, k.number)
	if d := cmp.Diff(wantSamples, samples); d != "" || err != nil {
		l.loss("samples of cycle %d (-want +got): %v %s", k.number, err, d)
	}
	dosed := 0.0
	if n := len(wantSamples); n > 0 {
		dosed = *wantSamples[n-1].DosedML
	}
	end := moment(s.LastSeq)
	if s.Ended {
		end, dosed = theEnd.Duration, theEnd.LiquidML
	}
	if k.from < 0 && (s.Duration != end || s.LiquidML != dosed) {
		l.fault("cycle %d got to %v and %v mL, want %v and %v", k.number, s.Duration, s.LiquidML, end, dosed)
	}
}

// stages looks at the plan, and at what became of it.
func (l *looker) stages(k *knownCycle, s *Summary) {
	rows, err := l.r.Stages(context.Background(), k.number)
	if err != nil || len(rows) != len(example().Stages) {
		l.loss("cycle %d has %d stages, %v", k.number, len(rows), err)
		return
	}
	for i, row := range rows {
		want := StageRow{Stage: i, Do: example().Stages[i].Do, Planned: example().Stages[i].For, AtMost: example().Stages[i].AtMost}
		if begins := uint64(i*perStage + 1); s.LastSeq >= begins {
			want.Begun = new(moment(begins))
		}
		if ends := uint64((i + 1) * perStage); s.LastSeq >= ends {
			want.Actual, want.Ending = new(moment(4)), "done"
		}
		if d := cmp.Diff(want, row); d != "" {
			l.loss("stage %d of cycle %d (-want +got): %s", i, k.number, d)
		}
	}
}

// cutShort asks for the cycle that was cut short, as the next start does: the last one, if it has no end; with the stage that
// it was in, and in words.
func (l *looker) cutShort(last *Summary) {
	cut, err := l.r.CutShort(context.Background(), "cellar")
	switch {
	case err != nil:
		l.fault("asking for what was cut short: %v", err)
		return
	case last == nil || last.Ended:
		if cut != nil {
			l.fault("cycle %d is called cut short", cut.Number)
		}
		return
	case cut == nil || cut.Number != last.Number:
		l.fault("cycle %d was cut short, and %v is said to be", last.Number, cut)
		return
	}
	stage := stageAt(&l.known.cycles[last.Number-1], last.LastSeq)
	words := "before its first stage"
	if stage >= 0 {
		words = fmt.Sprintf("in stage %d (%s)", stage+1, example().Stages[stage].Do)
	}
	if said := cut.String(); cut.Stage != stage || !strings.Contains(said, words) || !strings.Contains(said, "was cut short") {
		l.fault("cycle %d after entry %d: stage %d, %q; want %q", last.Number, last.LastSeq, cut.Stage, said, words)
	}
}

// goesOn uses the record: nothing begins before a person has chosen; then a cycle is begun, finished and read.
func (l *looker) goesOn() {
	ctx := context.Background()
	s := example()
	if cut, _ := l.r.CutShort(ctx, s.Bench); cut != nil {
		if _, err := l.r.Begin(ctx, s); !errors.Is(err, ErrCutShort) {
			l.fault("a cycle began beside one that was cut short: %v", err)
			return
		}
		s.Resolve = &Resolution{Cycle: cut.Number, Choice: ToEnd, By: "SB", Wall: noon}
	}
	c, err := l.r.Begin(ctx, s)
	if err == nil {
		c.PutEvent(Event{At: time.Second, Kind: "order", Said: "Start."})
		err = c.Finish(ctx, theEnd)
	}
	if err != nil {
		l.fault("the record cannot be gone on with: %v", err)
		return
	}
	if got, err := l.r.CycleByNumber(ctx, c.Number()); err != nil || !got.Complete() || got.LastSeq != 2 {
		l.fault("what was written after it: %+v, %v", got, err)
	}
}
