package record

import (
	"context"
	"database/sql"
	"errors"
	"time"
)

// Summary is one cycle as the record has it.
type Summary struct {
	Number    int64
	Disk      string // "" when none was named
	Bench     string
	Simulated bool

	Recipe       string
	RecipeTitle  string
	RecipeSHA256 string // of the recipe's text, hexadecimal
	Liquid       string
	Rinse        string
	Flammable    string // the flammable liquid that was used; "" for none

	Program     string
	BootID      string
	Started     time.Time      // as the wall clock read
	StartedMono time.Duration  // monotonic clock of that boot
	ClockSet    bool           // Started is to be trusted
	ClockBack   bool           // Started is before the start of an earlier cycle
	ClockAt     *time.Duration // since the start: when the clock was set during the cycle; nil when it was not
	ClockWall   time.Time      // what it read then
	Continues   int64          // the cycle that this one continues; 0 for none

	State    string
	Stage    int           // last one begun; -1 before the first
	Duration time.Duration // monotonic; without an end: how far it got, a lower bound
	LiquidML float64       // given; without an end: a lower bound
	LastSeq  uint64        // last durable entry
	Lost     int           // entries that could not be kept: more than none means an incomplete record

	Ended          bool // false: still running, or cut short
	Reason         string
	EndedWall      time.Time
	PadFrontKPa    *float64
	PadBackKPa     *float64
	Drying         time.Duration
	DryingEvidence string

	CutShort   bool   // a person has been told that it was cut short and has chosen
	Choice     Choice // "" until then
	ChosenBy   string
	ChosenWall time.Time
}

// Complete tells whether the record of the cycle has a beginning, an end and everything between.
func (s Summary) Complete() bool { return s.Ended && s.Lost == 0 }

// Began returns the wall time of the start and whether it is to be trusted. A clock that was set during the cycle
// tells the start by the monotonic time that had passed.
func (s Summary) Began() (time.Time, bool) {
	switch {
	case s.ClockSet && !s.Started.IsZero():
		return s.Started, true
	case s.ClockAt != nil && !s.ClockWall.IsZero():
		return s.ClockWall.Add(-*s.ClockAt), true
	}
	return s.Started, false
}

const selectCycle = `select number, coalesce(disk, ''), bench, simulated, recipe, recipe_title, recipe_sha256, liquid,
	rinse, flammable, program, boot_id, started_wall, started_mono_s, clock_set, clock_back, clock_at_s, clock_wall,
	coalesce(continues, 0), state, stage, coalesce(duration_s, last_at_s), coalesce(liquid_ml, dosed_ml), last_seq,
	lost_entries, ended, reason, ended_wall, pad_front_kpa, pad_back_kpa, coalesce(drying_min, 0) * 60, drying_evidence,
	cut_short, choice, chosen_by, chosen_wall from cycle `

// columns points at the fields in the order of selectCycle.
func (s *Summary) columns() []any {
	return []any{&s.Number, &s.Disk, &s.Bench, &s.Simulated, &s.Recipe, &s.RecipeTitle, &s.RecipeSHA256, &s.Liquid,
		&s.Rinse, &s.Flammable, &s.Program, &s.BootID, intoWall{&s.Started}, intoSeconds{&s.StartedMono}, &s.ClockSet,
		&s.ClockBack, intoMaybeSeconds{&s.ClockAt}, intoWall{&s.ClockWall}, &s.Continues, &s.State, &s.Stage,
		intoSeconds{&s.Duration}, &s.LiquidML, &s.LastSeq, &s.Lost, &s.Ended, &s.Reason, intoWall{&s.EndedWall},
		&s.PadFrontKPa, &s.PadBackKPa, intoSeconds{&s.Drying}, &s.DryingEvidence, &s.CutShort, &s.Choice, &s.ChosenBy,
		intoWall{&s.ChosenWall}}
}

// list runs a query to its end and returns every row. Rows are never left open: a reader that stays would keep the
// log from being taken over into the file.
func list[T any](ctx context.Context, r *Record, query string, columns func(*T) []any, args ...any) (_ []T, err error) {
	rows, err := r.db.QueryContext(ctx, query, args...)
	if err != nil {
		return nil, explain(r.path, err)
	}
	defer func() { err = errors.Join(err, explain(r.path, rows.Close())) }()
	var all []T
	for rows.Next() {
		var row T
		if err := rows.Scan(columns(&row)...); err != nil {
			return nil, explain(r.path, err)
		}
		all = append(all, row)
	}
	return all, explain(r.path, rows.Err())
}

// Cycles returns the last cycles, newest first, at most limit; all when limit is 0.
func (r *Record) Cycles(ctx context.Context, limit int) ([]Summary, error) {
	query, args := selectCycle+`order by number desc`, []any{}
	if limit > 0 {
		query, args = query+` limit ?`, []any{limit}
	}
	return list(ctx, r, query, (*Summary).columns, args...)
}

// CyclesOf returns the cycles of one disk, oldest first.
func (r *Record) CyclesOf(ctx context.Context, disk string) ([]Summary, error) {
	return list(ctx, r, selectCycle+`where disk = ? order by number`, (*Summary).columns, disk)
}

// CycleByNumber returns one cycle; ErrUnknown when there is none of that number.
func (r *Record) CycleByNumber(ctx context.Context, n int64) (Summary, error) {
	all, err := list(ctx, r, selectCycle+`where number = ?`, (*Summary).columns, n)
	if err == nil && len(all) == 0 {
		err = fault(r.path, ErrUnknown, "cycle %d", n)
	}
	if err != nil {
		return Summary{}, err
	}
	return all[0], nil
}

// RecipeText returns the recipe of a cycle as it was read from its file.
func (r *Record) RecipeText(ctx context.Context, n int64) (string, error) {
	var text string
	err := r.db.QueryRowContext(ctx, `select body from file, cycle where sha256 = recipe_sha256 and number = ?`, n).Scan(&text)
	if errors.Is(err, sql.ErrNoRows) {
		return "", fault(r.path, ErrUnknown, "cycle %d", n)
	}
	return text, explain(r.path, err)
}

// KeptEvent is an event with its sequence number.
type KeptEvent struct {
	Seq uint64
	Event
}

// Events returns the events of a cycle in the order in which they happened.
func (r *Record) Events(ctx context.Context, cycle int64) ([]KeptEvent, error) {
	return r.events(ctx, `where cycle = ? order by seq`, cycle)
}

func (r *Record) events(ctx context.Context, which string, args ...any) ([]KeptEvent, error) {
	return list(ctx, r, `select seq, at_s, wall, kind, id, stage, state, response, said, value from event `+which,
		func(e *KeptEvent) []any {
			return []any{&e.Seq, intoSeconds{&e.At}, intoWall{&e.Wall}, &e.Kind, &e.ID, &e.Stage, &e.State, &e.Response,
				&e.Said, &e.Value}
		}, args...)
}

// StageRow is one stage of a cycle, planned and actual.
type StageRow struct {
	Stage   int
	Do      string
	Planned time.Duration // 0 when it runs until dry
	AtMost  time.Duration
	Begun   *time.Duration // since the cycle's start; nil when it was not begun
	Actual  *time.Duration // nil when it has not ended
	Ending  string
}

// Stages returns the stages of a cycle in order.
func (r *Record) Stages(ctx context.Context, cycle int64) ([]StageRow, error) {
	return list(ctx, r, `select stage, work, planned_s, at_most_s, begun_s, actual_s, ending from stage where cycle = ?
		order by stage`, func(s *StageRow) []any {
		return []any{&s.Stage, &s.Do, intoSeconds{&s.Planned}, intoSeconds{&s.AtMost}, intoMaybeSeconds{&s.Begun},
			intoMaybeSeconds{&s.Actual}, &s.Ending}
	}, cycle)
}

// KeptSample is a sample with its sequence number.
type KeptSample struct {
	Seq uint64
	Sample
}

// Samples returns the time series of a cycle in order.
func (r *Record) Samples(ctx context.Context, cycle int64) ([]KeptSample, error) {
	return list(ctx, r, `select seq, at_s, stage, `+sampleNames+` from sample where cycle = ? order by seq`,
		func(s *KeptSample) []any {
			to := []any{&s.Seq, intoSeconds{&s.At}, &s.Stage}
			for _, v := range s.readings() {
				to = append(to, v)
			}
			return to
		}, cycle)
}

// KeptDrying is a timed drying with its cycle.
type KeptDrying struct {
	Cycle int64
	Drying
}

// Dryings returns every timed drying after the liquid, oldest first; of every liquid when it is "".
func (r *Record) Dryings(ctx context.Context, liquid string) ([]KeptDrying, error) {
	return list(ctx, r, `select cycle, stage, liquid, time_min * 60, evidence, dry, air_c, air_pct, kept_g from drying
		where ? = '' or liquid = ? order by cycle, seq`, func(d *KeptDrying) []any {
		return []any{&d.Cycle, &d.Stage, &d.Liquid, intoSeconds{&d.Time}, &d.Evidence, &d.Dry, &d.AirC, &d.AirPct, &d.KeptG}
	}, liquid, liquid)
}

// Disk is one disk that the record knows.
type Disk struct {
	ID      string
	Created time.Time // wall time of its first use; zero when not known
	Cycles  int
}

const selectDisk = `select id, created_wall, (select count(*) from cycle where cycle.disk = disk.id) from disk `

func (d *Disk) columns() []any { return []any{&d.ID, intoWall{&d.Created}, &d.Cycles} }

// Disks returns every disk, by its label.
func (r *Record) Disks(ctx context.Context) ([]Disk, error) {
	return list(ctx, r, selectDisk+`order by id`, (*Disk).columns)
}

// Disk returns one disk; ErrUnknown when the record does not know it.
func (r *Record) Disk(ctx context.Context, id string) (Disk, error) {
	all, err := list(ctx, r, selectDisk+`where id = ?`, (*Disk).columns, id)
	if err == nil && len(all) == 0 {
		err = fault(r.path, ErrUnknown, "disk %q", id)
	}
	if err != nil {
		return Disk{}, err
	}
	return all[0], nil
}
