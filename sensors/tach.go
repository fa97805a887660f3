package sensors

import (
	"fmt"
	"slices"
	"time"
)

// Tach turns the edges of a tach wire into a speed. It goes by the kernel's own time stamp of each edge, never by when
// the edge was read: a program that is late then still sees the right speed.
//
// A wire beside a motor picks up more than pulses. Two edges can be told from one pulse because nothing turns faster
// than it can: edges that follow each other within half the time of the fastest pulse are one burst and count once, and
// what begins sooner after a counted edge than the fastest pulse would is not counted. That alone would turn steady
// hash into a steady speed just below the fastest, so hash is looked for as such, and then there is no speed at all: a
// heater must not be let on by a fan that hums.
type Tach struct {
	Pulses  int           // edges of one direction for each revolution
	Fastest float64       // revolutions per second at full speed; up to 1.3 times this is believed
	Quiet   time.Duration // without an edge for so long it stands still; 0: one second. Two turns of the slowest speed

	Lost     uint64 // edges that the kernel had no room for, by gaps in the sequence numbers
	Spurious uint64 // edges that were not counted

	begun   bool
	rested  bool          // it stood still before the first edge in the window
	start   time.Duration // of watching
	edges   [tachWindow]time.Duration
	n       int           // counted edges in the window, oldest first
	newest  time.Duration // of all edges, counted or not
	head    time.Duration // first edge of the present burst
	seq     uint32
	seen    bool
	early   bool // the present burst began too soon to count
	lone    bool // the present burst is a single edge so far
	noisy   bool
	hashed  time.Duration // when hash was last seen
	good    int           // counted edges lately
	suspect int           // single early edges lately
}

const (
	tachWindow = 17  // edges: eight turns at two pulses a turn
	headroom   = 1.3 // of full speed: beyond it no fan reading is taken for proof of a fan
)

// Static, so that a reading that is refused twenty times a second allocates nothing.
var (
	errTachSpec  = fmt.Errorf("%w: a tach needs its pulses per turn and its fastest speed", ErrRange)
	errTachHash  = fmt.Errorf("%w: the tach wire carries more edges than anything can turn; look for a missing pull-up or a motor wire beside it", ErrRange)
	errTachBegin = fmt.Errorf("%w: too few edges yet to tell a speed or a standstill", ErrNotReady)
)

// Edge takes one edge (always the same direction) with the kernel's time stamp and the line's sequence number. Edges come
// in their order; one that does not is not counted. A number 0 means that there are none, and then nothing lost is
// noticed.
func (t *Tach) Edge(at time.Duration, seq uint32) {
	if !t.begun {
		t.begun, t.start = true, at
	}
	if !t.seen {
		t.seen, t.seq, t.newest = true, seq, at
		t.rested = at-t.start >= t.quiet()
		t.open(at, 0)
		return
	}
	lost, again := t.gap(seq)
	since := at - t.newest
	if again || since < 0 {
		t.Spurious++
		return
	}
	t.seq, t.newest = seq, at
	t.Lost += uint64(lost)
	// What was lost lay between the two, so that hash which overran the kernel's buffer is still hash.
	if since/time.Duration(lost+1) < t.fastest()/2 {
		t.lone = false
		// A burst that began too soon may hide the true edge, and one of the two has to count.
		if t.early && t.n > 0 && at-t.edges[t.n-1] >= t.fastest() {
			t.early = false
			t.count(at)
		} else {
			t.Spurious++
		}
		if at-t.head >= t.fastest() {
			t.noisy, t.hashed, t.n = true, at, 0
		}
		return
	}
	t.open(at, lost)
}

// gap returns how many edges are missing before this one, and whether it is one that was had already.
func (t *Tach) gap(seq uint32) (lost uint32, again bool) {
	ahead := seq - t.seq // wraps as the kernel's counter does
	switch {
	case seq == 0 || t.seq == 0:
		return 0, false
	case ahead == 0:
		return 0, true
	case ahead > 1<<31: // the line was asked for anew, and counts from the beginning
		return 0, false
	}
	return ahead - 1, false
}

// open begins a burst, which most often is a single good edge.
func (t *Tach) open(at time.Duration, lost uint32) {
	if t.early && t.lone {
		t.suspect++
	}
	if t.n > 0 && at-t.edges[t.n-1] >= t.quiet() {
		t.rested, t.n, t.good, t.suspect = true, 0, 0, 0
	}
	if lost > 0 { // a span over the gap would be too long for its edges
		t.n = 0
	}
	t.head, t.lone = at, true
	t.early = t.n > 0 && at-t.edges[t.n-1] < t.fastest()
	if t.early {
		t.Spurious++
		return
	}
	t.count(at)
}

// count takes an edge into the window.
func (t *Tach) count(at time.Duration) {
	if t.n == tachWindow {
		copy(t.edges[:], t.edges[1:])
		t.n--
	}
	t.edges[t.n] = at
	t.n++
	if t.good++; t.good > 2*tachWindow { // what was long ago counts less
		t.good, t.suspect = t.good/2, t.suspect/2
	}
}

// Speed returns the revolutions per second at a moment, and how long ago the last edge was that it rests on. Hand over all
// edges up to that moment first. Between edges the speed is never more than an edge at this very moment would make it, so
// that what has stopped is seen to slow down at once; after Quiet without an edge it is 0, with age 0, since silence is
// news too. Hash on the wire is ErrRange; ErrNotReady only until the first edges have come, or Quiet has passed without
// any. With an error the speed is 0.
func (t *Tach) Speed(now time.Duration) (rps float64, age time.Duration, err error) {
	if t.Pulses <= 0 || !(t.Fastest > 0) {
		return 0, 0, errTachSpec
	}
	if !t.begun {
		t.begun, t.start = true, now
	}
	if t.noisy && now-t.hashed < t.quiet() {
		return 0, 0, errTachHash
	}
	t.noisy = false
	// Silence is counted from the last edge of any worth, so that a wire that still twitches is not called at rest.
	last := t.start
	if t.seen {
		last = t.newest
	}
	age = max(now-last, 0)
	switch {
	case age >= t.quiet():
		return 0, 0, nil
	case t.suspect > 0 && 2*t.suspect >= t.good:
		return 0, 0, errTachHash
	case t.n == 0, t.n == 1 && !t.rested:
		return 0, 0, errTachBegin
	}
	age = max(now-t.edges[t.n-1], 0)
	if t.n == 1 {
		return 0, age, nil
	}
	return t.turning(now), age, nil
}

// turning returns the speed from two or more edges. It compares whole turns where it can: the pulses of one turn are
// seldom evenly spaced. The middle one of the last turns is not moved by a single false or missing edge.
func (t *Tach) turning(now time.Duration) float64 {
	k := min(t.Pulses, t.n-1, tachWindow/2)
	var turns [tachWindow]time.Duration
	n := t.n - k
	for i := range n {
		turns[i] = t.edges[i+k] - t.edges[i]
	}
	slices.Sort(turns[:n])
	// If the next edge came now, this is what the turn up to it would have taken.
	took := max(turns[n/2], now-t.edges[t.n-k])
	return float64(k) / float64(t.Pulses) / took.Seconds()
}

// fastest returns the shortest time between two edges that is believed.
func (t *Tach) fastest() time.Duration {
	if t.Pulses <= 0 || !(t.Fastest > 0) {
		return 0
	}
	return time.Duration(float64(time.Second) / (headroom * t.Fastest * float64(t.Pulses)))
}

func (t *Tach) quiet() time.Duration {
	if t.Quiet <= 0 {
		return time.Second
	}
	return t.Quiet
}
