package record

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math"
	"time"
)

// Belief is what a fit learned of one bench: log-normal figures that may hang together.
type Belief struct {
	Number    int64 // given by PutBelief
	Bench     string
	Simulated bool // learned of a simulated bench: nothing was measured
	Fitted    time.Time
	Program   string // version that fitted it
	Used      int    // logs that bore on it
	Outliers  int    // logs that were left out because they lie far off

	Liquids []string    // names of the liquids that something is known of
	Mean    []float64   // logarithm of the exposure (a factor), then of m³ kept of each of Liquids
	Cov     [][]float64 // covariance of Mean
	Jitter  float64     // standard deviation of the logarithm of one drying's time
}

// PutBelief writes a fit down as a new row; earlier ones stay. It returns its number, and is durable when it returns.
// A belief of the wrong shape, or with figures that are no numbers, is refused before anything is written.
func (r *Record) PutBelief(ctx context.Context, b Belief) (n int64, err error) {
	if err := b.check(); err != nil {
		return 0, fmt.Errorf("what was learned of bench %s cannot be kept: %w", b.Bench, err)
	}
	err = r.update(ctx, func(tx *sql.Tx) error {
		if err := tx.QueryRowContext(ctx, `select coalesce(max(number), 0) + 1 from belief`).Scan(&n); err != nil {
			return err
		}
		if _, err := tx.ExecContext(ctx, `insert into belief (number, bench, simulated, fitted_wall, program, jitter,
			used_logs, out_logs) values (?, ?, ?, ?, ?, ?, ?, ?)`, n, b.Bench, b.Simulated, wallText(b.Fitted), b.Program,
			b.Jitter, b.Used, b.Outliers); err != nil {
			return err
		}
		return b.figures(ctx, tx, n)
	})
	return n, err
}

// figures writes means and covariances, which SQLite keeps to the last bit.
func (b Belief) figures(ctx context.Context, tx *sql.Tx, n int64) error {
	for i, mean := range b.Mean {
		name := ""
		if i > 0 {
			name = b.Liquids[i-1]
		}
		if _, err := tx.ExecContext(ctx, `insert into belief_figure (belief, place, liquid, log_mean) values (?, ?, ?, ?)`,
			n, i, name, mean); err != nil {
			return err
		}
		for j, value := range b.Cov[i] {
			if _, err := tx.ExecContext(ctx, `insert into belief_covariance (belief, place, other, value)
				values (?, ?, ?, ?)`, n, i, j, value); err != nil {
				return err
			}
		}
	}
	return nil
}

// check says what is wrong with the shape of b or with its figures.
func (b Belief) check() error {
	size := len(b.Liquids) + 1
	if len(b.Mean) != size || len(b.Cov) != size {
		return fmt.Errorf("%d liquids want %d figures, and there are %d", len(b.Liquids), size, len(b.Mean))
	}
	all := append([]float64{b.Jitter}, b.Mean...)
	for _, row := range b.Cov {
		if len(row) != size {
			return errors.New("its covariance is not square")
		}
		all = append(all, row...)
	}
	for _, x := range all {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return errors.New("one of its figures is not a number")
		}
	}
	return nil
}

// LatestBelief returns the newest fit of the bench, or nil when there is none. A simulated bench and a real one of the
// same name are two benches.
func (r *Record) LatestBelief(ctx context.Context, bench string, simulated bool) (*Belief, error) {
	b := &Belief{Bench: bench, Simulated: simulated}
	found, err := r.one(ctx, []any{&b.Number, intoWall{&b.Fitted}, &b.Program, &b.Jitter, &b.Used, &b.Outliers},
		`select number, fitted_wall, program, jitter, used_logs, out_logs from belief where bench = ? and simulated = ?
		order by number desc limit 1`, bench, simulated)
	if err != nil || !found {
		return nil, err
	}
	type figure struct {
		name string
		mean float64
	}
	figures, err := list(ctx, r, `select liquid, log_mean from belief_figure where belief = ? order by place`,
		func(f *figure) []any { return []any{&f.name, &f.mean} }, b.Number)
	if err != nil {
		return nil, err
	}
	values, err := list(ctx, r, `select value from belief_covariance where belief = ? order by place, other`,
		func(v *float64) []any { return []any{v} }, b.Number)
	if err != nil {
		return nil, err
	}
	if len(figures) == 0 || len(values) != len(figures)*len(figures) {
		return nil, fault(r.path, ErrDamaged, "fit %d has %d figures and %d covariances", b.Number, len(figures), len(values))
	}
	for i, f := range figures {
		if i > 0 {
			b.Liquids = append(b.Liquids, f.name)
		}
		b.Mean = append(b.Mean, f.mean)
		b.Cov = append(b.Cov, values[i*len(figures):(i+1)*len(figures)])
	}
	return b, nil
}
