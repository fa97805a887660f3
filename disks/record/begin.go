package record

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"errors"
	"time"
)

// Start is what is known when a cycle begins.
type Start struct {
	Disk      string // as the person labels it; "" when none was named. Its row is made on first use.
	Bench     string // name of the bench; cut-short cycles and changeovers belong to it
	BenchText string // the bench file as read
	Simulated bool   // nothing of this was measured

	Recipe      string // its name
	RecipeTitle string
	RecipeText  string // the file as read; the record keeps its SHA-256 beside it
	Liquid      string // "" when nothing wets
	Rinse       string
	Flammable   string // the flammable liquid that it uses to wet or to rinse; "" for none
	Stages      []Planned

	Program  string        // version of the program
	BootID   string        // of the running system, so that Mono can be compared
	Wall     time.Time     // wall clock, as it reads
	Mono     time.Duration // monotonic clock of this boot
	ClockSet bool          // false when Wall is not to be trusted, such as 1970

	// Resolve, when set, closes the cut-short cycle that this one continues, in the same transaction: either both
	// are in the record or neither.
	Resolve *Resolution
}

// Planned is one stage of the plan, in the order of the cycle.
type Planned struct {
	Do     string
	For    time.Duration // 0 when it runs until dry
	AtMost time.Duration
}

// Begin writes the start of a cycle and its planned stages. When it returns without an error they are durable. It
// refuses with ErrCutShort while a cycle of the same bench has no end, and with ErrAttention while something is to
// be acknowledged. Finish or Close the cycle that it returns.
func (r *Record) Begin(ctx context.Context, s Start) (*Cycle, error) {
	var n int64
	err := r.update(ctx, func(tx *sql.Tx) (err error) {
		if s.Resolve != nil {
			if err := r.resolve(ctx, tx, *s.Resolve); err != nil {
				return err
			}
		}
		if err := r.mayBegin(ctx, tx, s.Bench); err != nil {
			return err
		}
		n, err = insertCycle(ctx, tx, s)
		return err
	})
	if err != nil {
		return nil, err
	}
	return r.start(n)
}

// mayBegin tells what stands in the way of a new cycle on the bench. It is asked inside the transaction that begins
// the cycle, so that the answer still holds when it does.
func (r *Record) mayBegin(ctx context.Context, tx *sql.Tx, bench string) error {
	var open int64
	err := tx.QueryRowContext(ctx, `select number from cycle where bench = ? and ended = 0 and choice = ''
		order by number limit 1`, bench).Scan(&open)
	if err == nil {
		return fault(r.path, ErrCutShort, "cycle %d on bench %s has no end", open, bench)
	}
	if !errors.Is(err, sql.ErrNoRows) {
		return err
	}
	var said string
	err = tx.QueryRowContext(ctx, `select said from attention where acked_by is null order by id limit 1`).Scan(&said)
	if err == nil {
		return fault(r.path, ErrAttention, "%s", said)
	}
	if !errors.Is(err, sql.ErrNoRows) {
		return err
	}
	return nil
}

// insertCycle writes the rows of a new cycle and returns its number.
func insertCycle(ctx context.Context, tx *sql.Tx, s Start) (int64, error) {
	var n int64
	if err := tx.QueryRowContext(ctx, `select coalesce(max(number), 0) + 1 from cycle`).Scan(&n); err != nil {
		return 0, err
	}
	// The number is taken inside the transaction, so that two processes cannot take the same; none is ever reused.
	if s.Disk != "" {
		created := wallText(s.Wall)
		if !s.ClockSet {
			created = nil // not known, rather than 1970
		}
		if _, err := tx.ExecContext(ctx, `insert into disk (id, created_wall) values (?, ?)
			on conflict (id) do nothing`, s.Disk, created); err != nil {
			return 0, err
		}
	}
	back, err := clockWentBack(ctx, tx, s)
	if err != nil {
		return 0, err
	}
	var continues any
	stage, dosed := -1, 0.0
	if s.Resolve != nil { // it goes on where that one was: were it cut short too, it must not seem to begin anew
		continues = s.Resolve.Cycle
		if err := tx.QueryRowContext(ctx, `select stage, dosed_ml from cycle where number = ?`, s.Resolve.Cycle).
			Scan(&stage, &dosed); err != nil {
			return 0, err
		}
	}
	recipe, err := keepFile(ctx, tx, s.RecipeText)
	if err != nil {
		return 0, err
	}
	bench, err := keepFile(ctx, tx, s.BenchText)
	if err != nil {
		return 0, err
	}
	_, err = tx.ExecContext(ctx, `insert into cycle (number, disk, bench, bench_sha256, simulated, recipe, recipe_title,
		recipe_sha256, liquid, rinse, flammable, program, boot_id, started_wall, started_mono_s, clock_set,
		clock_back, continues, state, stage, last_at_s, dosed_ml, last_seq, lost_entries)
		values (?, nullif(?, ''), ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, '', ?, 0, ?, 0, 0)`,
		n, s.Disk, s.Bench, bench, s.Simulated, s.Recipe, s.RecipeTitle, recipe, s.Liquid,
		s.Rinse, s.Flammable, s.Program, s.BootID, wallText(s.Wall), seconds(s.Mono), s.ClockSet, back, continues,
		stage, dosed)
	if err != nil {
		return 0, err
	}
	for i, p := range s.Stages {
		if _, err := tx.ExecContext(ctx, `insert into stage (cycle, stage, work, planned_s, at_most_s)
			values (?, ?, ?, ?, ?)`, n, i, p.Do, seconds(p.For), seconds(p.AtMost)); err != nil {
			return 0, err
		}
	}
	return n, nil
}

// keepFile keeps a text under its SHA-256, which it returns; the same text is kept once.
func keepFile(ctx context.Context, tx *sql.Tx, body string) (string, error) {
	sum := sha256.Sum256([]byte(body))
	name := hex.EncodeToString(sum[:])
	_, err := tx.ExecContext(ctx, `insert into file (sha256, body) values (?, ?) on conflict (sha256) do nothing`, name, body)
	return name, err
}

// clockWentBack tells whether an earlier cycle was begun, by a clock that was set, at a later wall time than this one.
// It is noted, not refused: the number orders the cycles.
func clockWentBack(ctx context.Context, tx *sql.Tx, s Start) (bool, error) {
	var n int
	err := tx.QueryRowContext(ctx, `select count(*) from cycle where clock_set = 1 and started_wall > ?`,
		wallText(s.Wall)).Scan(&n)
	return n > 0, err
}
