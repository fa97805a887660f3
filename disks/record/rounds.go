package record

import (
	"context"
	"database/sql"
	"errors"
	"time"
)

// ByHand is the method of a round without a cycle, unless a person names it otherwise.
const ByHand = "by hand"

// Round is one cleaning of a disk that a reading follows: by a cycle of the bench, or by hand. Round 0, as found, has no
// row: nothing was done before it.
type Round struct {
	Disk   string
	Round  int    // from 1
	Method string // "": the recipe of the cycle, or ByHand without one
	Cycle  int64  // 0: by hand
	Deal   int64  // entry of the deal that gave the disk its method; 0 for none
	By     string
	Wall   time.Time
}

// KeptRound is a round as the record has it.
type KeptRound struct {
	Entry
	Disk   string
	Round  int
	Method string // what was done
	Cycle  int64
	Deal   int64
	Dealt  string // what the deal had given the disk; "" without a deal. Another Method strayed from it.
}

// PutRound writes down how a disk was cleaned before the reading of a round, and returns the number of the entry. It is
// durable then. PutReadback does it by itself for a round that is not there. A round that is there is refused with
// ErrKnown, and so is a cycle that belongs to another round; withdraw the wrong one first.
func (r *Record) PutRound(ctx context.Context, d Round) (int64, error) {
	words := []said{{"the method", d.Method, mostName}}
	return r.act(ctx, kindRound, d.By, d.Wall, words, func(tx *sql.Tx, n int64) error {
		if err := r.knownDisk(ctx, tx, d.Disk); err != nil {
			return err
		}
		had, err := theRound(ctx, tx, d.Disk, d.Round)
		if err != nil {
			return err
		}
		if had != 0 {
			return fault(r.path, ErrKnown, "entry %d is round %d of disk %q", had, d.Round, d.Disk)
		}
		return r.insertRound(ctx, tx, n, d)
	})
}

// theRound returns the entry of a round; 0 when there is none that stands.
func theRound(ctx context.Context, tx *sql.Tx, disk string, round int) (n int64, err error) {
	err = tx.QueryRowContext(ctx, `select coalesce(max(d.number), 0) from round d, journal j where j.number = d.number
		and j.withdrawn = 0 and disk = ? and round = ?`, disk, round).Scan(&n)
	return n, err
}

// insertRound writes the row of entry n after looking at what it points to.
func (r *Record) insertRound(ctx context.Context, tx *sql.Tx, n int64, d Round) error {
	if d.Round < 1 || d.Round > mostRounds {
		return fault(r.path, ErrUnfit, "a disk is cleaned in rounds 1 to %d, and this is round %d", mostRounds, d.Round)
	}
	recipe := ByHand
	if d.Cycle != 0 {
		var err error
		if recipe, err = r.cycleForRound(ctx, tx, d); err != nil {
			return err
		}
	}
	if d.Method == "" {
		d.Method = recipe
	}
	if d.Deal != 0 {
		var had int
		if err := tx.QueryRowContext(ctx, `select count(*) from deal_disk d, journal j where j.number = d.deal and
			j.withdrawn = 0 and deal = ? and disk = ?`, d.Deal, d.Disk).Scan(&had); err != nil {
			return err
		}
		if had == 0 {
			return fault(r.path, ErrUnknown, "entry %d is no deal that has disk %q", d.Deal, d.Disk)
		}
	}
	_, err := tx.ExecContext(ctx, `insert into round (number, disk, round, method, cycle, deal)
		values (?, ?, ?, ?, nullif(?, 0), nullif(?, 0))`, n, d.Disk, d.Round, d.Method, d.Cycle, d.Deal)
	return err
}

// mostRounds is far more than any disk bears.
const mostRounds = 999

// cycleForRound returns the recipe of the round's cycle, which must be one of the disk and of no other round.
func (r *Record) cycleForRound(ctx context.Context, tx *sql.Tx, d Round) (recipe string, err error) {
	var disk string
	err = tx.QueryRowContext(ctx, `select recipe, coalesce(disk, '') from cycle where number = ?`, d.Cycle).Scan(&recipe, &disk)
	if errors.Is(err, sql.ErrNoRows) || err == nil && disk != d.Disk {
		return "", fault(r.path, ErrUnknown, "cycle %d is none of disk %q", d.Cycle, d.Disk)
	}
	if err != nil {
		return "", err
	}
	var other int
	err = tx.QueryRowContext(ctx, `select round from round d, journal j where j.number = d.number and j.withdrawn = 0
		and cycle = ? limit 1`, d.Cycle).Scan(&other)
	if err == nil {
		return "", fault(r.path, ErrKnown, "cycle %d belongs to round %d of disk %q", d.Cycle, other, d.Disk)
	}
	if !errors.Is(err, sql.ErrNoRows) {
		return "", err
	}
	return recipe, nil
}

// guessRound makes out how a disk was cleaned before its round: by its newest cycle since the round before was read (or
// since the record began), else by hand; and for the newest deal that has the disk and no round of it yet.
func guessRound(ctx context.Context, tx *sql.Tx, disk string, round int) (Round, error) {
	d := Round{Disk: disk, Round: round}
	err := tx.QueryRowContext(ctx, `select coalesce(max(number), 0) from cycle where disk = ? and number >
		(select coalesce(max(j.after_cycle), 0) from readback b, journal j where j.number = b.number and j.withdrawn = 0
		and b.disk = ? and b.round < ?) and not exists (select 1 from round d, journal j where j.number = d.number and
		j.withdrawn = 0 and d.cycle = cycle.number)`, disk, disk, round).Scan(&d.Cycle)
	if err != nil {
		return d, err
	}
	err = tx.QueryRowContext(ctx, `select coalesce(max(deal), 0) from deal_disk d, journal j where j.number = d.deal and
		j.withdrawn = 0 and disk = ? and not exists (select 1 from round o, journal k where k.number = o.number and
		k.withdrawn = 0 and o.disk = d.disk and o.deal >= d.deal)`, disk).Scan(&d.Deal)
	return d, err
}

// Rounds returns the rounds of a disk, withdrawn ones too, in the order in which they were written down.
func (r *Record) Rounds(ctx context.Context, disk string) ([]KeptRound, error) {
	return list(ctx, r, `select `+entryColumns+`, d.disk, d.round, d.method, coalesce(d.cycle, 0), coalesce(d.deal, 0),
		coalesce((select method from deal_disk e where e.deal = d.deal and e.disk = d.disk), '')
		from round d, journal j where j.number = d.number and d.disk = ? order by d.number`, func(d *KeptRound) []any {
		return append(d.Entry.columns(), &d.Disk, &d.Round, &d.Method, &d.Cycle, &d.Deal, &d.Dealt)
	}, disk)
}
