package record

import (
	"database/sql"
	"fmt"
	"math"
	"time"
)

// wallLayout is RFC 3339 in UTC with milliseconds, so that text order is time order.
const wallLayout = "2006-01-02T15:04:05.000Z"

// seconds is a duration as it is kept: seconds as a float, exact to the nanosecond up to 50 days.
func seconds(d time.Duration) float64 { return d.Seconds() }

// wallText is a wall time as it is kept: nil, which is null, for the zero time and for years that RFC 3339 cannot
// write.
func wallText(t time.Time) any {
	if t = t.UTC(); t.IsZero() || t.Year() < 0 || t.Year() > 9999 {
		return nil
	}
	return t.Format(wallLayout)
}

// optional is a reading as it is kept: null when there is none, and also when it is no number.
func optional(v *float64) any {
	if v == nil || math.IsNaN(*v) || math.IsInf(*v, 0) {
		return nil
	}
	return *v
}

// number is a quantity that must be there; no number counts as zero.
func number(v float64) float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return 0
	}
	return v
}

// Readers of columns, for Scan.

// intoSeconds fills a duration from a column of seconds; null leaves it zero.
type intoSeconds struct{ to *time.Duration }

// Scan implements sql.Scanner.
func (s intoSeconds) Scan(v any) error {
	var f sql.NullFloat64
	if err := f.Scan(v); err != nil {
		return err
	}
	ns := math.Round(f.Float64 * 1e9)
	if math.Abs(ns) > math.MaxInt64/2 {
		return fmt.Errorf("%g s is not a length of time", f.Float64)
	}
	*s.to = time.Duration(ns)
	return nil
}

// intoMaybeSeconds fills a pointer to a duration; null leaves it nil.
type intoMaybeSeconds struct{ to **time.Duration }

// Scan implements sql.Scanner.
func (s intoMaybeSeconds) Scan(v any) error {
	if v == nil {
		*s.to = nil
		return nil
	}
	*s.to = new(time.Duration)
	return intoSeconds{*s.to}.Scan(v)
}

// intoWall fills a time from text; null, and text that is no time, leave it zero.
type intoWall struct{ to *time.Time }

// Scan implements sql.Scanner.
func (w intoWall) Scan(v any) error {
	var s sql.NullString
	if err := s.Scan(v); err != nil {
		return err
	}
	*w.to, _ = time.Parse(wallLayout, s.String)
	return nil
}
