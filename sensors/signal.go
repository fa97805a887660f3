package sensors

import (
	"fmt"
	"math"
	"math/bits"
	"time"
)

// Signal is the whole way from the raw values of one channel to a value that may be decided on: what is impossible is
// refused, what is stuck is noticed, single spikes and changes that are too fast are held back, and noise is taken out.
// Each part that is not set up is left out. The values keep their unit; a load cell's counts are judged and filtered
// as counts and become a force afterwards, because only counts show saturation.
type Signal struct {
	Watch   Watch
	Despike Despike // Jump 0: left out
	Rate    Rate    // PerSecond 0: left out
	Median  Median  // Over 0 or 1: left out

	// Bounds lets a value at an end of the range through with its verdict, as is right for a humidity of 100 %: the air
	// is at least as damp. Without it such a value is refused, as is right for a bridge: the force may be anything.
	Bounds bool

	Counts Counts

	value   float64       // the last value to use
	when    time.Duration // and when it was so
	ended   bool          // at an end of the range
	endedAt time.Duration
	past    uint32 // the last values, newest lowest: 1 for one that was refused
}

// Counts is what became of a channel's values since it began.
type Counts struct {
	Taken      int // all that came, readings that failed among them
	Failed     int // no value came
	Spikes     int // taken out as spikes
	TooFast    int // refused because nothing changes so fast
	Saturated  int // at an end of the range
	OutOfRange int
	NotANumber int
	Stuck      int
}

// Sample is what a Signal makes of one raw value.
type Sample struct {
	Raw   float64       // as it came, for the record
	Value float64       // to use; the last good one when this one was refused or is held back
	At    time.Duration // when Value was so
	Fresh bool          // Value is new
	// Verdict is about Raw: Plausible, or Saturated when the signal lets bounds through; otherwise Raw is refused.
	Verdict Verdict
	AtEnd   time.Duration // how long the raw values have stayed at an end of the range
	Refused bool          // by its verdict: the reading is implausible
}

// Err returns why the raw value was refused, or nil: ErrSaturated, ErrRange or ErrStuck, wrapped with the raw value. A
// value that is only held back is no error: the last one is still used and grows old.
func (s Sample) Err() error {
	if !s.Refused {
		return nil
	}
	cause := ErrRange
	switch s.Verdict {
	case Saturated:
		cause = ErrSaturated
	case Stuck:
		cause = ErrStuck
	}
	return fmt.Errorf("%w: raw value %g", cause, s.Raw)
}

// Next takes one raw value with the time of its conversion (monotonic, since any start). It allocates nothing.
func (s *Signal) Next(raw float64, at time.Duration) Sample {
	verdict := s.Watch.Judge(raw, at)
	out := Sample{Raw: raw, Value: s.value, At: s.when, Verdict: verdict, AtEnd: s.atEnd(verdict, at)}
	s.Counts.count(verdict)
	out.Refused = verdict >= OutOfRange || verdict == Saturated && !s.Bounds
	if out.Refused {
		s.remember(true)
		return out
	}
	v, when, fresh := s.filter(raw, at)
	// A value held back is not bad yet: a real step is held back too.
	s.remember(s.Despike.Rejected+s.Rate.Rejected > s.Counts.Spikes+s.Counts.TooFast)
	s.Counts.Spikes, s.Counts.TooFast = s.Despike.Rejected, s.Rate.Rejected
	if fresh {
		s.value, s.when = v, when
		out.Value, out.At, out.Fresh = v, when, true
	}
	return out
}

// filter sends a believable value through the filters that are set up.
func (s *Signal) filter(v float64, at time.Duration) (value float64, when time.Duration, fresh bool) {
	if s.Despike.Jump > 0 {
		if v, fresh = s.Despike.Next(v); !fresh {
			return 0, 0, false
		}
	}
	if s.Rate.PerSecond > 0 {
		if v, fresh = s.Rate.Next(v, at); !fresh {
			return 0, 0, false
		}
	}
	if s.Median.Over > 1 {
		v, at = s.Median.Next(v, at)
	}
	return v, at, true
}

// Failed tells that a reading was due and none came: it counts against the channel.
func (s *Signal) Failed() {
	s.Counts.Taken++
	s.Counts.Failed++
	s.remember(true)
}

// Degraded tells whether about three in ten or more of the last 32 values were refused or never came (nine, since three in
// ten may fall so). A mean over what is left would look as good as ever.
func (s *Signal) Degraded() bool { return bits.OnesCount32(s.past) >= 9 }

func (s *Signal) remember(bad bool) {
	s.past <<= 1
	if bad {
		s.past |= 1
	}
}

// atEnd returns how long the values have been at an end of the range. Nonsense in between neither ends nor begins it.
func (s *Signal) atEnd(v Verdict, at time.Duration) time.Duration {
	switch {
	case v == Saturated && !s.ended:
		s.ended, s.endedAt = true, at
	case v == Plausible || v == Stuck:
		s.ended = false
	}
	if !s.ended {
		return 0
	}
	return at - s.endedAt
}

func (c *Counts) count(v Verdict) {
	c.Taken++
	switch v {
	case Saturated:
		c.Saturated++
	case OutOfRange:
		c.OutOfRange++
	case NotANumber:
		c.NotANumber++
	case Stuck:
		c.Stuck++
	}
}

const (
	condensedAfter = 15 * time.Minute
	dampAir        = 0.8 // inlet air above this may well leave the cell saturated; assumed
)

// Condensed tells whether a humidity sensor at the outlet has itself become wet: at its upper end for a quarter of an hour,
// while the air that enters (relative humidity, 0 to 1) is far from damp. Its readings then say nothing of the liner,
// and the drying goes on by another evidence. An inlet that is not known is no proof.
func Condensed(atEnd time.Duration, inlet float64) bool {
	return atEnd >= condensedAfter && !math.IsNaN(inlet) && inlet < dampAir
}
