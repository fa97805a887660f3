package record

import (
	"context"
	"strings"
	"time"
)

// DiskState is what a list of disks is narrowed to.
type DiskState int

// The states. A disk may be in several; the zero value leaves none out.
const (
	AnyState     DiskState = iota
	Registered             // in the register, and not retired
	Unregistered           // only ever named by a cycle or a drying, and not retired
	Retired
	NotLookedAt  // not retired, and nobody looked at it
	NotRead      // not retired, and never read
	NotReadAgain // not retired, and cleaned since it was read last
)

// stateConditions narrow disk d.
var stateConditions = map[DiskState]string{
	AnyState:     "1 = 1",
	Registered:   "d.registered = 1 and d.retired = 0",
	Unregistered: "d.registered = 0 and d.retired = 0",
	Retired:      "d.retired = 1",
	NotLookedAt: `d.retired = 0 and not exists (select 1 from look l, journal j where j.number = l.number and
		j.withdrawn = 0 and l.disk = d.id)`,
	NotRead: `d.retired = 0 and not exists (select 1 from readback b, journal j where j.number = b.number and
		j.withdrawn = 0 and b.disk = d.id)`,
	NotReadAgain: `d.retired = 0 and ` + lastReading + ` > 0 and (
		(select coalesce(max(c.number), 0) from cycle c where c.disk = d.id) >
		(select after_cycle from journal j where j.number = ` + lastReading + `) or
		(select coalesce(max(o.number), 0) from round o, journal j where j.number = o.number and j.withdrawn = 0 and
		o.disk = d.id and o.cycle is null) > ` + lastReading + `)`,
}

// lastReading is the newest reading of disk d; 0 for none.
const lastReading = `(select coalesce(max(b.number), 0) from readback b, journal j where j.number = b.number and
	j.withdrawn = 0 and b.disk = d.id)`

// DiskQuery is what to list. The zero value lists every disk.
type DiskQuery struct {
	Text  string // part of the label or of the note, whatever the case of its letters from A to Z; "" for all
	State DiskState
	After string // begin after this label: the last one of the page before; "" for the first page
	Limit int    // disks on the page; 0 is no limit
}

// DiskRow is a disk in a list.
type DiskRow struct {
	Label      string
	Registered bool // false: only named by a cycle or a drying
	MediaMM    int  // 0 when not said
	Format     string
	Note       string
	Created    time.Time // first seen; zero when not known
	Entered    time.Time // registered; zero when not, or not known

	Retired     bool
	RetiredWall time.Time
	RetiredWhy  string

	Cycles    int
	Verdict   string // of the last look; "" when nobody looked
	Readbacks int
	Rounds    int  // highest round that was read; -1 when none was
	Found     *int // sectors not read in the first reading of round 0; nil without one
	Now       *int // sectors not read in the newest reading
	Joined    *int // sectors not read or disputed in the newest join
}

// DiskPage is a part of a list.
type DiskPage struct {
	Disks []DiskRow // by label
	Total int       // disks that the query finds, on all pages
	More  bool      // there are more after the last one: ask again with its label as After
}

const selectDiskRow = `select d.id, d.registered, coalesce(d.media_mm, 0), d.format, d.note, d.created_wall, d.registered_wall,
	d.retired, d.retired_wall, d.retired_why,
	(select count(*) from cycle c where c.disk = d.id),
	coalesce((select l.verdict from look l, journal j where j.number = l.number and j.withdrawn = 0 and l.disk = d.id
		order by l.number desc limit 1), ''),
	(select count(*) from readback b, journal j where j.number = b.number and j.withdrawn = 0 and b.disk = d.id),
	(select coalesce(max(b.round), -1) from readback b, journal j where j.number = b.number and j.withdrawn = 0 and b.disk = d.id),
	(select b.bad + b.missing from readback b, journal j where j.number = b.number and j.withdrawn = 0 and b.disk = d.id
		and b.round = 0 order by b.number limit 1),
	(select b.bad + b.missing from readback b where b.number = ` + lastReading + `),
	(select o.unread + o.disputed from joined o, journal j where j.number = o.number and j.withdrawn = 0 and o.disk = d.id
		order by o.number desc limit 1)
	from disk d `

func (d *DiskRow) columns() []any {
	return []any{&d.Label, &d.Registered, &d.MediaMM, &d.Format, &d.Note, intoWall{&d.Created}, intoWall{&d.Entered},
		&d.Retired, intoWall{&d.RetiredWall}, &d.RetiredWhy, &d.Cycles, &d.Verdict, &d.Readbacks, &d.Rounds, &d.Found,
		&d.Now, &d.Joined}
}

// ListDisks returns a page of the disks that the query finds, by label, those that are not registered too.
func (r *Record) ListDisks(ctx context.Context, q DiskQuery) (p DiskPage, err error) {
	narrowed, known := stateConditions[q.State]
	if !known {
		narrowed = stateConditions[AnyState]
	}
	where, args := `where `+narrowed, []any{}
	if q.Text != "" {
		part := "%" + strings.NewReplacer(`\`, `\\`, `%`, `\%`, `_`, `\_`).Replace(q.Text) + "%"
		where += ` and (lower(d.id) like lower(?) escape '\' or lower(d.note) like lower(?) escape '\')`
		args = append(args, part, part)
	}
	if _, err := r.one(ctx, []any{&p.Total}, `select count(*) from disk d `+where, args...); err != nil {
		return DiskPage{}, err
	}
	if q.After != "" {
		where, args = where+` and d.id > ?`, append(args, q.After)
	}
	where += ` order by d.id`
	if q.Limit > 0 { // one more than asked tells whether there are more
		where, args = where+` limit ?`, append(args, q.Limit+1)
	}
	p.Disks, err = list(ctx, r, selectDiskRow+where, (*DiskRow).columns, args...)
	if q.Limit > 0 && len(p.Disks) > q.Limit {
		p.Disks, p.More = p.Disks[:q.Limit], true
	}
	return p, err
}

// DiskByLabel returns one disk; ErrUnknown when the record does not know it.
func (r *Record) DiskByLabel(ctx context.Context, label string) (DiskRow, error) {
	all, err := list(ctx, r, selectDiskRow+`where d.id = ?`, (*DiskRow).columns, label)
	if err == nil && len(all) == 0 {
		err = fault(r.path, ErrUnknown, "disk %q", label)
	}
	if err != nil {
		return DiskRow{}, err
	}
	return all[0], nil
}
