package record

import (
	"context"
	"database/sql"
	"time"
)

// HandDrying is one drying that a person timed: on a bench, or of a disk that was washed by hand or dried on a rack.
type HandDrying struct {
	Logged    time.Time // when it is written down, by the wall clock
	Bench     string    // name of the bench whose estimates are to learn from it
	BenchText string    // its file as read
	Simulated bool      // the file is of a simulated bench
	Rack      bool      // dried on a rack: its time says nothing of the bench's air

	Disk     string // as the person labels it; "" when none was named. Its row is made on first use.
	Liquid   string
	Started  time.Time // zero when only the length is known
	Ended    time.Time
	Time     time.Duration
	Says     string // what Time says of the true one: exact, at-least or at-most
	Evidence string // weighed, surface, air, drag or timed

	WeightBeforeG *float64 // g, of the wet disk
	WeightAfterG  *float64 // g
	AirC          *float64 // °C, of the room; nil when nobody looked
	AirPct        *float64 // % relative humidity of the room
	WarmC         *float64 // °C, of the air once warmed; nil when unwarmed
}

// KeptHandDrying is a logged drying with its number.
type KeptHandDrying struct {
	Number int64
	HandDrying
}

// PutHandDrying writes down a drying and returns its number. It is durable when it returns.
func (r *Record) PutHandDrying(ctx context.Context, d HandDrying) (n int64, err error) {
	err = r.update(ctx, func(tx *sql.Tx) error {
		bench, err := keepFile(ctx, tx, d.BenchText)
		if err != nil {
			return err
		}
		if d.Disk != "" {
			if _, err := tx.ExecContext(ctx, `insert into disk (id, created_wall) values (?, ?)
				on conflict (id) do nothing`, d.Disk, wallText(d.Logged)); err != nil {
				return err
			}
		}
		err = tx.QueryRowContext(ctx, `select coalesce(max(number), 0) + 1 from drying_by_hand`).Scan(&n)
		if err != nil {
			return err
		}
		_, err = tx.ExecContext(ctx, `insert into drying_by_hand (number, logged_wall, bench, bench_sha256, simulated, rack,
			disk, liquid, started_wall, ended_wall, time_min, what_it_says, evidence, weight_before_g, weight_after_g, air_c,
			air_pct, warm_c) values (?, ?, ?, ?, ?, ?, nullif(?, ''), ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
			n, wallText(d.Logged), d.Bench, bench, d.Simulated, d.Rack, d.Disk, d.Liquid, wallText(d.Started),
			wallText(d.Ended), d.Time.Minutes(), d.Says, d.Evidence, optional(d.WeightBeforeG), optional(d.WeightAfterG),
			optional(d.AirC), optional(d.AirPct), optional(d.WarmC))
		return err
	})
	return n, err
}

// HandDryings returns every drying that a person logged, oldest first, each with the bench file of its day.
func (r *Record) HandDryings(ctx context.Context) ([]KeptHandDrying, error) {
	return r.handDryings(ctx, `order by number`)
}

func (r *Record) handDryings(ctx context.Context, which string, args ...any) ([]KeptHandDrying, error) {
	return list(ctx, r, `select number, logged_wall, bench, body, simulated, rack, coalesce(disk, ''), liquid, started_wall,
		ended_wall, time_min * 60, what_it_says, evidence, weight_before_g, weight_after_g, air_c, air_pct, warm_c
		from drying_by_hand, file where sha256 = bench_sha256 `+which, func(d *KeptHandDrying) []any {
		return []any{&d.Number, intoWall{&d.Logged}, &d.Bench, &d.BenchText, &d.Simulated, &d.Rack, &d.Disk, &d.Liquid,
			intoWall{&d.Started}, intoWall{&d.Ended}, intoSeconds{&d.Time}, &d.Says, &d.Evidence, &d.WeightBeforeG,
			&d.WeightAfterG, &d.AirC, &d.AirPct, &d.WarmC}
	}, args...)
}

// CycleDrying is a drying that a cycle timed, with what the cycle tells of its circumstances.
type CycleDrying struct {
	KeptDrying
	Disk       string // "" when none was named
	Bench      string
	BenchText  string // the bench file of that day
	RecipeText string // the recipe as it was then
	RecipeName string
	Simulated  bool  // nothing of it was measured
	Continues  int64 // the cycle cut short that it went on with; 0 for none
}

// CycleDryings returns every drying that a cycle timed, oldest first.
func (r *Record) CycleDryings(ctx context.Context) ([]CycleDrying, error) {
	return list(ctx, r, `select cycle, drying.stage, drying.liquid, time_min * 60, evidence, dry, air_c, air_pct, kept_g,
		coalesce(disk, ''), bench, (select body from file where sha256 = bench_sha256),
		(select body from file where sha256 = recipe_sha256), recipe, simulated, coalesce(continues, 0)
		from drying, cycle where number = cycle order by cycle, seq`, func(d *CycleDrying) []any {
		return []any{&d.Cycle, &d.Stage, &d.Liquid, intoSeconds{&d.Time}, &d.Evidence, &d.Dry, &d.AirC, &d.AirPct, &d.KeptG,
			&d.Disk, &d.Bench, &d.BenchText, &d.RecipeText, &d.RecipeName, &d.Simulated, &d.Continues}
	})
}
