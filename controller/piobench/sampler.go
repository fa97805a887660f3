package piobench

import (
	"sync"
	"time"

	"fullery/controller"
	"fullery/recipe"
	"fullery/sensors"
)

// value is one thing that a chip measures.
type value struct {
	si   float64 // what it says, in the SI unit of its sensor
	raw  float64 // as the chip gave it, for watching and for judging
	name string  // of the raw unit: "counts", "code"
}

// source is one chip on a bus, or one channel of it, as the sampler uses it.
type source struct {
	name   string          // for people: "sht3x at 0x44 on main"
	feeds  []recipe.Sensor // what its values are, in order
	every  time.Duration
	whole  bool                               // one reading gives all that the chip measures
	limits func(recipe.Sensor) sensors.Limits // of the raw value
	begin  func() error                       // brings the chip into its known state
	read   func(into []value) error           // fills one value for each of feeds, or fails and fills none
	jump   float64                            // counts; 0: single spikes cannot be
	chain  []sensors.Signal                   // of the raw values, one for each of feeds

	begun  bool
	wait   time.Duration // until it may be begun again
	next   time.Duration
	failed int // in a row
	buffer []value
}

// A reading fails for good after so many transfers in a row that failed: occasional ones happen on every bus, and meanwhile
// the last reading grows old.
const failsAfter = 3

// A chip that could not be begun is tried again after a while that doubles, up to a limit: a bus that is stuck must not be
// hammered, and one that comes back must be found without a restart.
const (
	firstRetry = 250 * time.Millisecond
	lastRetry  = 4 * time.Second
)

// Look is a sensor as it stands, for a person who watches.
type Look struct {
	Sensor  recipe.Sensor
	Reading controller.Reading
	Raw     float64
	RawName string
	Source  string
	Reads   int    // values that came
	Fails   int    // transfers that failed, and values that were refused
	Trouble string // what went wrong last, "" if nothing has
}

// table is the latest of every sensor. Its lock is held for moments only, never across a transfer.
type table struct {
	mu   sync.Mutex
	rows [recipe.NumSensors]row
}

type row struct {
	value   float64
	raw     float64
	rawName string
	source  string
	at      time.Duration
	quality controller.Quality
	reads   int
	fails   int
	trouble error
}

// put notes a value.
func (t *table) put(s recipe.Sensor, source string, v value, at time.Duration, q controller.Quality) {
	t.mu.Lock()
	defer t.mu.Unlock()
	r := &t.rows[s]
	r.value, r.raw, r.rawName, r.source, r.at, r.quality = v.si, v.raw, v.name, source, at, q
	r.reads++
}

// fail notes a failure. For good means that the value it had is not to be used any more.
func (t *table) fail(s recipe.Sensor, source string, err error, at time.Duration, q controller.Quality, forGood bool) {
	t.mu.Lock()
	defer t.mu.Unlock()
	r := &t.rows[s]
	r.source, r.trouble = source, err
	r.fails++
	if forGood {
		r.value, r.at, r.quality = 0, at, q
	}
}

// read fills the readings of what the table knows.
func (t *table) read(now time.Duration, into *controller.Readings) {
	t.mu.Lock()
	defer t.mu.Unlock()
	for i := range t.rows {
		if r := &t.rows[i]; r.quality != controller.Absent {
			into[i] = controller.Reading{Value: r.value, Age: max(now-r.at, 0), Quality: r.quality}
		}
	}
}

// look shows one row.
func (t *table) look(s recipe.Sensor, now time.Duration) Look {
	t.mu.Lock()
	defer t.mu.Unlock()
	r := &t.rows[s]
	l := Look{Sensor: s, Raw: r.raw, RawName: r.rawName, Source: r.source, Reads: r.reads, Fails: r.fails,
		Reading: controller.Reading{Value: r.value, Age: max(now-r.at, 0), Quality: r.quality}}
	if r.trouble != nil {
		l.Trouble = r.trouble.Error()
	}
	return l
}

// poll reads the source, and sets when it next is due.
func (s *source) poll(t *table, now func() time.Duration) {
	at := now()
	if !s.begun && s.start(t, now) != nil {
		return
	}
	err := s.read(s.buffer)
	done := now()
	s.next = max(s.next+s.every, at+s.every/2, done) // it keeps its pace; what a slow bus made it miss is not made up
	if err != nil {
		s.trouble(t, err, done)
		return
	}
	s.failed = 0
	for i, v := range s.buffer {
		s.accept(t, i, v, done)
	}
}

// start begins the chip. It may have lost its power meanwhile, so that every failure for good leads here again.
func (s *source) start(t *table, now func() time.Duration) error {
	err := s.begin()
	if err == nil {
		s.begun, s.wait = true, 0
		return nil
	}
	s.wait = min(max(2*s.wait, firstRetry), lastRetry)
	s.next = now() + s.wait
	s.failed = failsAfter
	s.trouble(t, err, now())
	return err
}

// trouble notes a transfer that failed. An answer that must not be believed is refused at once.
func (s *source) trouble(t *table, err error, at time.Duration) {
	s.failed++
	q, forGood := controller.Failed, s.failed >= failsAfter
	if sensors.Disbelieved(err) {
		q, forGood = controller.Implausible, true
	}
	if s.failed >= failsAfter {
		s.begun = false
	}
	for _, f := range s.feeds {
		t.fail(f, s.name, err, at, q, forGood)
	}
}

// accept sends one value through its chain and notes it. What is refused is implausible; what is held back, as a spike may
// be, leaves the last value, which grows old.
func (s *source) accept(t *table, i int, v value, at time.Duration) {
	switch out := s.chain[i].Next(v.raw, at); {
	case out.Refused:
		t.fail(s.feeds[i], s.name, out.Err(), at, controller.Implausible, true)
	case out.Fresh:
		t.put(s.feeds[i], s.name, v, at, controller.Good)
	}
}
