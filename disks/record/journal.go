package record

import (
	"context"
	"database/sql"
	"errors"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"
)

// What is done to disks besides cycles is a journal of entries. Their numbers count up over all kinds, so that the order
// of a look, a cleaning of heads and a readback is known without a clock; each also knows the last cycle before it.

// Entry is what every entry of the journal has.
type Entry struct {
	Number     int64
	Wall       time.Time // as the wall clock read; zero when not known
	By         string    // who says so; may be ""
	AfterCycle int64     // the last cycle, of any disk, that had begun; 0 for none

	Withdrawn     bool // it was wrong; it stays, and no sum counts it
	WithdrawnWhy  string
	WithdrawnBy   string
	WithdrawnWall time.Time
}

// entryColumns are read by columns, in the same order.
const entryColumns = `j.number, j.wall, j.by_whom, j.after_cycle, j.withdrawn, j.withdrawn_why, j.withdrawn_by,
	j.withdrawn_wall`

func (e *Entry) columns() []any {
	return []any{&e.Number, intoWall{&e.Wall}, &e.By, &e.AfterCycle, &e.Withdrawn, &e.WithdrawnWhy, &e.WithdrawnBy,
		intoWall{&e.WithdrawnWall}}
}

// Kinds of entries, as the column kind has them.
const (
	kindRegister = "register"
	kindLook     = "look"
	kindHeads    = "heads"
	kindRound    = "round"
	kindReadback = "readback"
	kindJoin     = "join"
	kindDeal     = "deal"
)

// enter adds an entry to the journal, within the caller's transaction, and returns its number.
func enter(ctx context.Context, tx *sql.Tx, kind, by string, wall time.Time) (int64, error) {
	n, err := next(ctx, tx, "journal")
	if err != nil {
		return 0, err
	}
	_, err = tx.ExecContext(ctx, `insert into journal (number, kind, wall, by_whom, after_cycle)
		values (?, ?, ?, ?, (select coalesce(max(number), 0) from cycle))`, n, kind, wallText(wall), by)
	return n, err
}

// act checks words, then runs f in one transaction with the number of a new entry of that kind.
func (r *Record) act(ctx context.Context, kind, by string, wall time.Time, words []said, f func(tx *sql.Tx, n int64) error) (n int64, err error) {
	if err := r.checkWords(append(words, said{"the name of who did it", by, mostName})); err != nil {
		return 0, err
	}
	err = r.update(ctx, func(tx *sql.Tx) error {
		if n, err = enter(ctx, tx, kind, by, wall); err != nil {
			return err
		}
		return f(tx, n)
	})
	if err != nil {
		return 0, err
	}
	return n, nil
}

// Limits of what people write, in bytes: far above what anybody types, far below what makes a page unreadable.
const (
	mostName = 200
	mostText = 10_000
	mostPath = 4096
)

// said is a text from a person with its limit.
type said struct {
	what string // for the sentence
	text string
	most int // bytes
}

// checkWords refuses texts that cannot be kept or shown: too long, not UTF-8, or with control characters, of which only
// longer texts may have line ends and tabs.
func (r *Record) checkWords(words []said) error {
	for _, s := range words {
		odd := func(c rune) bool { return unicode.IsControl(c) && (s.most == mostName || c != '\n' && c != '\t') }
		switch {
		case len(s.text) > s.most:
			return fault(r.path, ErrUnfit, "%s has %d bytes, and %d are the most", s.what, len(s.text), s.most)
		case !utf8.ValidString(s.text):
			return fault(r.path, ErrUnfit, "%s is not UTF-8 text", s.what)
		case strings.ContainsFunc(s.text, odd):
			return fault(r.path, ErrUnfit, "%s holds a control character", s.what)
		}
	}
	return nil
}

// holders find, for each kind that can be withdrawn, an entry that rests on the one with a number: while there is such a
// one, it stays. Nothing rests on kinds with an empty query.
var holders = map[string]string{
	kindLook: "",
	kindJoin: "",
	kindReadback: `select j.number from journal j, readback r where j.withdrawn = 0 and r.number = ? and (
		exists (select 1 from joined_input i where i.joined = j.number and i.readback = r.number) or
		exists (select 1 from readback b where b.number = j.number and b.against = r.number))`,
	kindRound: `select j.number from journal j, readback b, round d where j.number = b.number and j.withdrawn = 0 and
		b.disk = d.disk and b.round = d.round and d.number = ?`,
	kindDeal: `select j.number from journal j, round d where j.number = d.number and j.withdrawn = 0 and d.deal = ?`,
}

// Withdraw marks an entry as wrong, with the reason: a look, a round, a readback, a join or a deal. It stays in the record,
// but nothing counts it any more. It is refused while something else that stands rests on it (a join on a readback, a
// readback on its round or on the one it was counted against, a round on a deal).
func (r *Record) Withdraw(ctx context.Context, number int64, why, by string, wall time.Time) error {
	if err := r.checkWords([]said{{"the reason", why, mostText}, {"the name of who did it", by, mostName}}); err != nil {
		return err
	}
	if strings.TrimSpace(why) == "" {
		return fault(r.path, ErrUnfit, "entry %d is withdrawn with a reason only", number)
	}
	return r.update(ctx, func(tx *sql.Tx) error {
		if err := r.mayWithdraw(ctx, tx, number); err != nil {
			return err
		}
		_, err := tx.ExecContext(ctx, `update journal set withdrawn = 1, withdrawn_why = ?, withdrawn_by = ?,
			withdrawn_wall = ? where number = ?`, why, by, wallText(wall), number)
		return err
	})
}

func (r *Record) mayWithdraw(ctx context.Context, tx *sql.Tx, number int64) error {
	var kind string
	var already bool
	err := tx.QueryRowContext(ctx, `select kind, withdrawn from journal where number = ?`, number).Scan(&kind, &already)
	switch {
	case errors.Is(err, sql.ErrNoRows):
		return fault(r.path, ErrUnknown, "entry %d", number)
	case err != nil:
		return err
	case already:
		return fault(r.path, ErrKnown, "entry %d was withdrawn before", number)
	}
	query, can := holders[kind]
	if !can {
		return fault(r.path, ErrUnfit, "entry %d (%s) is not one that can be withdrawn", number, kind)
	}
	if query == "" {
		return nil
	}
	var on int64
	err = tx.QueryRowContext(ctx, query+` limit 1`, number).Scan(&on)
	if errors.Is(err, sql.ErrNoRows) {
		return nil
	}
	if err == nil {
		err = fault(r.path, ErrUnfit, "entry %d rests on entry %d: withdraw that one first", on, number)
	}
	return err
}
