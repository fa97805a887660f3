package record

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"
)

// Cut is a cycle that has a start and no end: its process died, or the power went.
type Cut struct {
	Summary            // what is known of it; times and amounts are lower bounds
	Work        string // of the stage it was in; "" before the first
	Last        Event  // the last event that became durable; zero when there is none
	RecipeText  string
	BenchText   string
	Interrupted int // how many cycles this one continues already were cut short, itself included
}

// String tells in a sentence what is known.
func (c Cut) String() string {
	where := "before its first stage"
	if c.Stage >= 0 {
		where = fmt.Sprintf("in stage %d (%s)", c.Stage+1, c.Work)
	}
	s := fmt.Sprintf("Cycle %d (%s) was cut short %s, at least %.0f s after its start", c.Number, c.Recipe, where,
		c.Duration.Seconds())
	if c.Liquid != "" {
		s += fmt.Sprintf("; at least %.1f mL had been given, the pads were wetted with %s", c.LiquidML, c.Liquid)
	}
	return s + "."
}

// Outage returns how long ago the cycle was cut short, at most, and whether that is known: it is not known unless
// the clock was set then and is set now. Unknown is not zero.
func (c Cut) Outage(now time.Time, clockSet bool) (time.Duration, bool) {
	began, ok := c.Began()
	out := now.Sub(began) - c.Duration
	if !ok || !clockSet || out < 0 {
		return 0, false
	}
	return out, true
}

// Choice is what a person chose for a cycle that was cut short.
type Choice string

// The choices.
const (
	ToResume Choice = "resume" // from the start of the interrupted stage
	ToDry    Choice = "dry"    // go to drying
	ToEnd    Choice = "end"
)

// Resolution is a person's decision about a cycle that was cut short.
type Resolution struct {
	Cycle  int64
	Choice Choice
	By     string
	Wall   time.Time
}

// CutShort returns the last cycle of the bench that has a start and no end and has not been resolved, or nil. Only the
// one process that owns the bench may ask: every cycle without an end that it did not begin itself is cut short.
func (r *Record) CutShort(ctx context.Context, bench string) (*Cut, error) {
	var n int64
	found, err := r.one(ctx, []any{&n}, `select number from cycle where bench = ? and ended = 0 and choice = ''
		order by number desc limit 1`, bench)
	if err != nil || !found {
		return nil, err
	}
	return r.cut(ctx, n)
}

// cut gathers what is known of cycle n.
func (r *Record) cut(ctx context.Context, n int64) (*Cut, error) {
	s, err := r.CycleByNumber(ctx, n)
	if err != nil {
		return nil, err
	}
	c := &Cut{Summary: s, Interrupted: 1}
	err = r.db.QueryRowContext(ctx, `select
		(select body from file where sha256 = recipe_sha256), (select body from file where sha256 = bench_sha256),
		coalesce((select work from stage where stage.cycle = cycle.number and stage.stage = cycle.stage), '')
		from cycle where number = ?`, n).Scan(&c.RecipeText, &c.BenchText, &c.Work)
	if err != nil {
		return nil, explain(r.path, err)
	}
	last, err := r.events(ctx, `where cycle = ? order by seq desc limit 1`, n)
	if err != nil {
		return nil, err
	}
	if len(last) > 0 {
		c.Last = last[0].Event
	}
	// A cycle continues an earlier one only; the count is bounded all the same, by what a damaged file might hold.
	// It lets a person see how often a disk has been wetted anew.
	for before := s.Continues; before > 0 && c.Interrupted < 1000; c.Interrupted++ {
		if err := r.db.QueryRowContext(ctx, `select coalesce(continues, 0) from cycle where number = ?`, before).
			Scan(&before); err != nil {
			return nil, explain(r.path, err)
		}
	}
	return c, nil
}

// Resolve closes a cycle that was cut short with what a person chose. To continue it, give the Resolution to Begin
// instead, which does both at once.
func (r *Record) Resolve(ctx context.Context, choice Resolution) error {
	return r.update(ctx, func(tx *sql.Tx) error { return r.resolve(ctx, tx, choice) })
}

func (r *Record) resolve(ctx context.Context, tx *sql.Tx, c Resolution) error {
	switch c.Choice {
	case ToResume, ToDry, ToEnd:
	default:
		return fault(r.path, ErrCutShort, "%q is no choice for cycle %d", c.Choice, c.Cycle)
	}
	res, err := tx.ExecContext(ctx, `update cycle set cut_short = 1, choice = ?, chosen_by = ?, chosen_wall = ?
		where number = ? and ended = 0 and choice = ''`, string(c.Choice), c.By, wallText(c.Wall), c.Cycle)
	if err != nil {
		return err
	}
	if n, err := res.RowsAffected(); err != nil || n == 0 {
		return errors.Join(err, fault(r.path, ErrEnded, "cycle %d is not waiting for a choice", c.Cycle))
	}
	return nil
}

// Changeover is new pads and a fresh bath on a bench.
type Changeover struct {
	Bench     string
	Liquid    string
	Flammable bool
	By        string
	Wall      time.Time
}

// PutChangeover notes a changeover. It is durable when it returns.
func (r *Record) PutChangeover(ctx context.Context, c Changeover) error {
	return r.update(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, `insert into changeover (id, bench, liquid, flammable, after_cycle, by_whom, wall)
			values ((select coalesce(max(id), 0) + 1 from changeover), ?, ?, ?,
			(select coalesce(max(number), 0) from cycle), ?, ?)`, c.Bench, c.Liquid, c.Flammable, c.By, wallText(c.Wall))
		return err
	})
}

// Held is what pads and bath of a bench may still hold.
type Held struct {
	Known     bool   // false: the record has neither a wetting cycle nor a changeover of this bench
	Last      string // the liquid that was used last
	Flammable string // the last flammable liquid since the changeover, even if another one followed; "" when none
}

// LastLiquid tells what pads and bath of the bench may hold. A flammable liquid counts until the next changeover:
// wetting with water after it does not make the pads harmless. Not known is not harmless either.
func (r *Record) LastLiquid(ctx context.Context, bench string) (Held, error) {
	var h Held
	var after int64
	var flammable bool
	known, err := r.one(ctx, []any{&after, &h.Last, &flammable}, `select after_cycle, liquid, flammable from changeover
		where bench = ? order by id desc limit 1`, bench)
	if err != nil {
		return Held{}, err
	}
	if flammable {
		h.Flammable = h.Last
	}
	wetted, err := r.one(ctx, []any{&h.Last}, `select liquid from cycle where bench = ? and number > ? and liquid <> ''
		order by number desc limit 1`, bench, after)
	if err != nil {
		return Held{}, err
	}
	burns, err := r.one(ctx, []any{&h.Flammable}, `select flammable from cycle where bench = ? and number > ?
		and flammable <> '' order by number desc limit 1`, bench, after)
	if err != nil {
		return Held{}, err
	}
	h.Known = known || wetted || burns
	return h, nil
}

// one scans a single row and tells whether there was one.
func (r *Record) one(ctx context.Context, to []any, query string, args ...any) (bool, error) {
	err := r.db.QueryRowContext(ctx, query, args...).Scan(to...)
	if errors.Is(err, sql.ErrNoRows) {
		return false, nil
	}
	return err == nil, explain(r.path, err)
}

// Attention is something that a person must be told and acknowledge before the next cycle.
type Attention struct {
	ID     int64
	Raised time.Time
	Said   string
}

// Raise notes something to acknowledge. Begin refuses until it is.
func (r *Record) Raise(ctx context.Context, said string, wall time.Time) error {
	return r.update(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, `insert into attention (id, raised_wall, said)
			values ((select coalesce(max(id), 0) + 1 from attention), ?, ?)`, wallText(wall), said)
		return err
	})
}

// Attentions returns what has not been acknowledged, oldest first.
func (r *Record) Attentions(ctx context.Context) ([]Attention, error) {
	return list(ctx, r, `select id, raised_wall, said from attention where acked_by is null order by id`,
		func(a *Attention) []any { return []any{&a.ID, intoWall{&a.Raised}, &a.Said} })
}

// Acknowledge notes who has read an attention, and when.
func (r *Record) Acknowledge(ctx context.Context, id int64, by string, wall time.Time) error {
	return r.update(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, `update attention set acked_by = ?, acked_wall = ? where id = ? and acked_by is null`,
			by, wallText(wall), id)
		return err
	})
}
