package record

import (
	"context"
	"database/sql"
	"time"
)

// BenchTest is one walk through a bench's outputs and inputs.
type BenchTest struct {
	Number    int64 // given by PutBenchTest
	Bench     string
	BenchText string // the bench file as read
	Simulated bool
	Made      time.Time
	Program   string
	Steps     []BenchStep
}

// Passed tells whether every step was done and went well.
func (b *BenchTest) Passed() bool {
	for _, s := range b.Steps {
		if s.Result != StepPassed {
			return false
		}
	}
	return len(b.Steps) > 0
}

// StepResult is what came of one step of a bench test.
type StepResult int

// The results. The zero value is a failure: a forgotten one must not look passed.
const (
	StepFailed StepResult = iota
	StepPassed
	StepLeftOut
)

// BenchStep is one output or input that was tried.
type BenchStep struct {
	Part   string // by its name in the bench file
	Asked  string // what was done, or what the person was asked
	Seen   string
	Result StepResult
}

// PutBenchTest writes a test down as a new row. It is durable when it returns.
func (r *Record) PutBenchTest(ctx context.Context, b BenchTest) (n int64, err error) {
	err = r.update(ctx, func(tx *sql.Tx) error {
		file, err := keepFile(ctx, tx, b.BenchText)
		if err != nil {
			return err
		}
		if n, err = next(ctx, tx, "bench_test"); err != nil {
			return err
		}
		if _, err := tx.ExecContext(ctx, `insert into bench_test (number, bench, simulated, bench_sha256, made_wall, program)
			values (?, ?, ?, ?, ?, ?)`, n, b.Bench, b.Simulated, file, wallText(b.Made), b.Program); err != nil {
			return err
		}
		for i, s := range b.Steps {
			if _, err := tx.ExecContext(ctx, `insert into bench_test_step (test, seq, part, asked, seen, passed)
				values (?, ?, ?, ?, ?, ?)`, n, i, s.Part, s.Asked, s.Seen, int(s.Result)); err != nil {
				return err
			}
		}
		return nil
	})
	return n, err
}

// LatestBenchTest returns the newest test of a bench with its steps; nil when it was never tested.
func (r *Record) LatestBenchTest(ctx context.Context, bench string, simulated bool) (*BenchTest, error) {
	b := BenchTest{Bench: bench, Simulated: simulated}
	found, err := r.one(ctx, []any{&b.Number, &b.BenchText, intoWall{&b.Made}, &b.Program}, `select number, body, made_wall, program
		from bench_test, file where sha256 = bench_sha256 and bench = ? and simulated = ? order by number desc limit 1`, bench, simulated)
	if err != nil || !found {
		return nil, err
	}
	b.Steps, err = list(ctx, r, `select part, asked, seen, passed from bench_test_step where test = ? order by seq`,
		func(s *BenchStep) []any { return []any{&s.Part, &s.Asked, &s.Seen, &s.Result} }, b.Number)
	return &b, err
}

// What is changed on the pads.
const (
	Pads  = "pads"  // the pads themselves
	Cover = "cover" // what they are covered with
)

// PadsChange tells that pads or their covers were changed.
type PadsChange struct {
	Bench     string
	Simulated bool
	What      string // Pads or Cover
	Made      time.Time
}

// PutPadsChange writes a change down. New pads come with new covers: the life of both begins anew then.
func (r *Record) PutPadsChange(ctx context.Context, c PadsChange) error {
	return r.update(ctx, func(tx *sql.Tx) error {
		n, err := next(ctx, tx, "pads_change")
		if err != nil {
			return err
		}
		_, err = tx.ExecContext(ctx, `insert into pads_change (number, bench, simulated, what, made_wall, after_cycle)
			values (?, ?, ?, ?, ?, (select coalesce(max(number), 0) from cycle))`, n, c.Bench, c.Simulated, c.What, wallText(c.Made))
		return err
	})
}

// PadsLife is what pads or their covers have done since they were changed last, or since the record began.
type PadsLife struct {
	Since    time.Time // zero when no change was told, or its time is not known
	Told     bool      // a change was told: otherwise the life is only as much as the record knows of
	Cycles   int       // in which they scrubbed
	Disks    int       // different ones with a label, and each cycle without a label as one
	LiquidML float64   // given by the pump in those cycles
}

// PadsLife sums up the life of pads (Pads) or of their covers (Cover), for which the newer of both changes counts.
func (r *Record) PadsLife(ctx context.Context, bench string, simulated bool, what string) (l PadsLife, err error) {
	after := 0
	l.Told, err = r.one(ctx, []any{intoWall{&l.Since}, &after}, `select made_wall, after_cycle from pads_change
		where bench = ? and simulated = ? and (what = ? or what = 'pads') order by number desc limit 1`, bench, simulated, what)
	if err != nil {
		return l, err
	}
	_, err = r.one(ctx, []any{&l.Cycles, &l.Disks, &l.LiquidML}, `select count(*),
		count(distinct disk) + coalesce(sum(case when disk is null then 1 else 0 end), 0), coalesce(sum(dosed_ml), 0)
		from cycle where bench = ? and simulated = ? and number > ? and exists
		(select 1 from stage where stage.cycle = cycle.number and work = 'scrub' and begun_s is not null)`, bench, simulated, after)
	return l, err
}
