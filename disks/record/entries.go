package record

import (
	"context"
	"database/sql"
	"strings"
	"time"
)

// Event is one thing that happened in a cycle: a guard that tripped or cleared, an order, a change of state.
type Event struct {
	At       time.Duration // monotonic, since the cycle's start
	Wall     time.Time     // wall clock as it read; zero when not looked at
	Kind     string        // "state", "stage", "guard", "order", …
	ID       string        // which guard, which order
	Stage    int           // index into the stages; -1 for none
	State    string        // the cycle's state after it; "" when unchanged
	Response string        // what the guard did
	Said     string        // the sentence that the operator was told
	Value    *float64      // the quantity it is about, if any
}

// StageChange is the beginning or the end of a stage.
type StageChange struct {
	At      time.Duration // monotonic, since the cycle's start
	Stage   int           // index into the stages
	Begun   bool          // it begins (again, after a hold); otherwise it ends
	Actual  time.Duration // at its end: its own time, holds not counted
	Ending  string        // at its end: how it ended
	DosedML *float64      // liquid given so far in the cycle, mL
}

// Sample is one row of the time series. A reading that is not good stays nil: no number ever stands in its place.
type Sample struct {
	At          time.Duration // monotonic, since the cycle's start
	Stage       int           // index into the stages; -1 for none
	DosedML     *float64      // liquid given so far in the cycle, mL
	PadFrontKPa *float64      // kPa, force over area
	PadBackKPa  *float64
	PadsRPM     *float64 // measured, 1/min
	HubRPM      *float64 // measured, 1/min
	FanRPM      *float64 // measured, 1/min
	AirInC      *float64 // °C, air entering
	AirInPct    *float64 // % relative humidity of the air entering
	AirC        *float64 // °C, air at the cartridge
	AirOutC     *float64 // °C, air leaving
	AirOutPct   *float64 // % relative humidity of the air leaving
	SurfaceC    *float64 // °C, jacket of the cartridge
	VapourPct   *float64 // % of the lower flammable limit
	WeightG     *float64
	PumpPct     *float64 // asked, % of full
	RinsePct    *float64 // asked, % of full
	FanPct      *float64 // asked, % of full
	HeaterPct   *float64 // asked, % of full
	LeftMin     *float64 // min until dry, as expected then: median,
	LeftLowMin  *float64 // and its 80 % interval
	LeftHighMin *float64
}

// sampleNames are the columns that readings points at, in the same order.
const sampleNames = "dosed_ml, pad_front_kpa, pad_back_kpa, pads_rpm, hub_rpm, fan_rpm, air_in_c, air_in_pct, air_c, " +
	"air_out_c, air_out_pct, surface_c, vapour_pct, weight_g, pump_pct, rinse_pct, fan_pct, heater_pct, " +
	"left_min, left_low_min, left_high_min"

// readings lists the optional fields, for writing and for reading.
func (s *Sample) readings() []**float64 {
	return []**float64{&s.DosedML, &s.PadFrontKPa, &s.PadBackKPa, &s.PadsRPM, &s.HubRPM, &s.FanRPM, &s.AirInC,
		&s.AirInPct, &s.AirC, &s.AirOutC, &s.AirOutPct, &s.SurfaceC, &s.VapourPct, &s.WeightG, &s.PumpPct, &s.RinsePct,
		&s.FanPct, &s.HeaterPct, &s.LeftMin, &s.LeftLowMin, &s.LeftHighMin}
}

// Drying is one drying that was timed, from which later estimates learn.
type Drying struct {
	Stage    int
	Liquid   string
	Time     time.Duration // from the end of wetting to the evidence, or to where it was cut off
	Evidence string        // weighed, surface, air, drag or timed
	Dry      bool          // false: it ended before the evidence was complete, so Time is only a lower bound
	AirC     *float64      // °C, mean of the air entering
	AirPct   *float64      // % relative humidity of the air entering, mean
	KeptG    *float64      // g of liquid in the liner when its drying began; nil when it was not weighed
}

// clockNote tells when, during a cycle, the wall clock became trustworthy, and what it read then.
type clockNote struct {
	at   time.Duration
	wall time.Time
}

// End is how a cycle ended.
type End struct {
	State          string // complete, stopped or aborted
	Reason         string
	Wall           time.Time
	Duration       time.Duration // monotonic, since the cycle's start
	LiquidML       float64
	PadFrontKPa    *float64 // mean while the pads turned
	PadBackKPa     *float64
	Drying         time.Duration
	DryingEvidence string // "" when nothing was dried
}

// progress is how far a cycle got. It is written with every batch, so that a cycle without an end says where it was.
type progress struct {
	at    time.Duration
	state string
	stage int
	dosed float64
}

// reach moves the progress to a time and an amount; neither ever goes back.
func (p *progress) reach(at time.Duration, dosed *float64) {
	p.at = max(p.at, at)
	if dosed != nil {
		p.dosed = max(p.dosed, number(*dosed))
	}
}

// entry is one thing in the queue.
type entry interface {
	// write adds the entry to the transaction of b under its sequence number. It may be called again for the same
	// number, and no content may make it fail: an entry that never succeeds would hold up all that follow it.
	write(ctx context.Context, b *batch, seq uint64) error
	// advance moves the progress to where the entry shows the cycle to be.
	advance(p *progress)
}

// batch is one transaction of entries of one cycle; statements are prepared once in it.
type batch struct {
	path  string // for sentences
	tx    *sql.Tx
	cycle int64
	ready map[string]*sql.Stmt
}

// exec runs a statement and returns how many rows it touched.
func (b *batch) exec(ctx context.Context, query string, args ...any) (int64, error) {
	st := b.ready[query]
	if st == nil {
		var err error
		if st, err = b.tx.PrepareContext(ctx, query); err != nil {
			return 0, err
		}
		b.ready[query] = st
	}
	res, err := st.ExecContext(ctx, args...)
	if err != nil {
		return 0, err
	}
	return res.RowsAffected()
}

// Each write can be repeated, because a commit whose answer was lost is tried again: rows that are there already
// stay as they are, and changes set values that do not depend on the old ones.

const insertEvent = `insert into event (cycle, seq, at_s, wall, kind, id, stage, state, response, said, value)
	values (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?) on conflict (cycle, seq) do nothing`

func (e Event) write(ctx context.Context, b *batch, seq uint64) error {
	_, err := b.exec(ctx, insertEvent, b.cycle, seq, seconds(e.At), wallText(e.Wall), e.Kind, e.ID, e.Stage, e.State,
		e.Response, e.Said, optional(e.Value))
	return err
}

func (e Event) advance(p *progress) {
	p.reach(e.At, nil)
	if e.State != "" {
		p.state = e.State
	}
}

// A stage that begins again after a hold keeps its first beginning; the events tell of the others. One that was not
// planned is added rather than refused.
const (
	beginStage = `insert into stage (cycle, stage, work, begun_s) values (?, ?, '', ?)
		on conflict (cycle, stage) do update set begun_s = coalesce(stage.begun_s, excluded.begun_s)`
	endStage = `insert into stage (cycle, stage, work, actual_s, ending) values (?, ?, '', ?, ?)
		on conflict (cycle, stage) do update set actual_s = excluded.actual_s, ending = excluded.ending`
)

func (s StageChange) write(ctx context.Context, b *batch, _ uint64) (err error) {
	if s.Begun {
		_, err = b.exec(ctx, beginStage, b.cycle, s.Stage, seconds(s.At))
	} else {
		_, err = b.exec(ctx, endStage, b.cycle, s.Stage, seconds(s.Actual), s.Ending)
	}
	return err
}

func (s StageChange) advance(p *progress) {
	p.reach(s.At, s.DosedML)
	if s.Begun {
		p.stage = s.Stage
	}
}

var insertSample = `insert into sample (cycle, seq, at_s, stage, ` + sampleNames + `) values (?, ?, ?, ?` +
	strings.Repeat(", ?", strings.Count(sampleNames, ",")+1) + `) on conflict (cycle, seq) do nothing`

func (s Sample) write(ctx context.Context, b *batch, seq uint64) error {
	args := []any{b.cycle, seq, seconds(s.At), s.Stage}
	for _, v := range s.readings() {
		args = append(args, optional(*v))
	}
	_, err := b.exec(ctx, insertSample, args...)
	return err
}

func (s Sample) advance(p *progress) {
	p.reach(s.At, s.DosedML)
	if s.Stage >= 0 {
		p.stage = s.Stage
	}
}

const insertDrying = `insert into drying (cycle, seq, stage, liquid, time_min, evidence, dry, air_c, air_pct, kept_g)
	values (?, ?, ?, ?, ?, ?, ?, ?, ?, ?) on conflict (cycle, seq) do nothing`

func (d Drying) write(ctx context.Context, b *batch, seq uint64) error {
	_, err := b.exec(ctx, insertDrying, b.cycle, seq, d.Stage, d.Liquid, d.Time.Minutes(), d.Evidence, d.Dry,
		optional(d.AirC), optional(d.AirPct), optional(d.KeptG))
	return err
}

func (d Drying) advance(*progress) {}

func (c clockNote) write(ctx context.Context, b *batch, _ uint64) error {
	_, err := b.exec(ctx, `update cycle set clock_at_s = ?, clock_wall = ? where number = ?`,
		seconds(c.at), wallText(c.wall), b.cycle)
	return err
}

func (c clockNote) advance(p *progress) { p.reach(c.at, nil) }

// The end is for a cycle that nobody has closed as cut short.
const endCycle = `update cycle set ended = 1, reason = ?, ended_wall = ?, duration_s = ?, liquid_ml = ?,
	pad_front_kpa = ?, pad_back_kpa = ?, drying_min = ?, drying_evidence = ? where number = ? and choice = ''`

func (e End) write(ctx context.Context, b *batch, _ uint64) error {
	n, err := b.exec(ctx, endCycle, e.Reason, wallText(e.Wall), seconds(e.Duration), number(e.LiquidML),
		optional(e.PadFrontKPa), optional(e.PadBackKPa), e.Drying.Minutes(), e.DryingEvidence, b.cycle)
	if err == nil && n == 0 {
		err = fault(b.path, ErrEnded, "cycle %d was already closed as cut short", b.cycle)
	}
	return err
}

func (e End) advance(p *progress) {
	p.reach(e.Duration, &e.LiquidML)
	p.state = e.State
}
