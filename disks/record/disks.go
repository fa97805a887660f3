package record

import (
	"context"
	"database/sql"
	"errors"
	"strings"
	"time"
)

// The register. A disk is known by its label. One that a cycle or a drying named has a row too, but is not registered.

// Registration is what the register says of a disk, when it is entered or changed.
type Registration struct {
	Label   string // as it is written on the disk: unique, up to 200 bytes, no control characters
	MediaMM int    // nominal size of the cartridge in mm; 0 when not said
	Format  string // geometry, as the package of readbacks writes it; "" when not said
	Note    string
	By      string
	Wall    time.Time
}

// RegisterDisk enters a disk, also one that so far was only named by a cycle. It returns the number of the entry, and is
// durable then. A disk that is registered already is refused with ErrKnown.
func (r *Record) RegisterDisk(ctx context.Context, d Registration) (int64, error) {
	return r.register(ctx, d, "registered", func(tx *sql.Tx) error {
		var had bool
		err := tx.QueryRowContext(ctx, `select registered from disk where id = ?`, d.Label).Scan(&had)
		if err != nil && !errors.Is(err, sql.ErrNoRows) {
			return err
		}
		if had {
			return fault(r.path, ErrKnown, "disk %q is registered", d.Label)
		}
		_, err = tx.ExecContext(ctx, `insert into disk (id, created_wall, registered, media_mm, format, note, registered_wall)
			values (?, ?, 1, nullif(?, 0), ?, ?, ?) on conflict (id) do update set registered = 1,
			media_mm = excluded.media_mm, format = excluded.format, note = excluded.note,
			registered_wall = excluded.registered_wall`,
			d.Label, wallText(d.Wall), d.MediaMM, d.Format, d.Note, wallText(d.Wall))
		return err
	})
}

// ChangeDisk changes size, format and note of a registered disk to what d says. What they were before is kept in the
// journal. ErrUnknown when the disk is not registered.
func (r *Record) ChangeDisk(ctx context.Context, d Registration) (int64, error) {
	return r.register(ctx, d, "changed", func(tx *sql.Tx) error {
		res, err := tx.ExecContext(ctx, `update disk set media_mm = nullif(?, 0), format = ?, note = ?
			where id = ? and registered = 1`, d.MediaMM, d.Format, d.Note, d.Label)
		return r.touched(res, err, ErrUnknown, "disk %q is not registered", d.Label)
	})
}

// register writes an entry of the register after f has changed the disk's row.
func (r *Record) register(ctx context.Context, d Registration, what string, f func(*sql.Tx) error) (int64, error) {
	if err := r.checkLabel(d.Label); err != nil {
		return 0, err
	}
	if d.MediaMM < 0 || d.MediaMM > 1000 {
		return 0, fault(r.path, ErrUnfit, "no cartridge measures %d mm", d.MediaMM)
	}
	words := []said{{"the format", d.Format, mostText}, {"the note", d.Note, mostText}}
	return r.act(ctx, kindRegister, d.By, d.Wall, words, func(tx *sql.Tx, n int64) error {
		if err := f(tx); err != nil {
			return err
		}
		return changed(ctx, tx, n, d.Label, what, "")
	})
}

// changed notes in the journal what the register says now.
func changed(ctx context.Context, tx *sql.Tx, n int64, label, what, why string) error {
	_, err := tx.ExecContext(ctx, `insert into register_change (number, disk, what, media_mm, format, note, why)
		select ?, id, ?, media_mm, format, note, ? from disk where id = ?`, n, what, why, label)
	return err
}

// RetireDisk takes a disk out of the work, with the reason. Everything about it stays. A disk that was only named can be
// retired too. ErrUnknown when there is none of that label, ErrKnown when it is retired.
func (r *Record) RetireDisk(ctx context.Context, label, why, by string, wall time.Time) (int64, error) {
	return r.retire(ctx, label, why, by, wall, true)
}

// ReturnDisk takes a retired disk back into the work. ErrKnown when it is not retired.
func (r *Record) ReturnDisk(ctx context.Context, label, why, by string, wall time.Time) (int64, error) {
	return r.retire(ctx, label, why, by, wall, false)
}

func (r *Record) retire(ctx context.Context, label, why, by string, wall time.Time, out bool) (int64, error) {
	what, state, when, reason := "returned", "in the work", any(nil), ""
	if out {
		what, state, when, reason = "retired", "retired", wallText(wall), why
	}
	return r.act(ctx, kindRegister, by, wall, []said{{"the reason", why, mostText}}, func(tx *sql.Tx, n int64) error {
		if err := r.knownDisk(ctx, tx, label); err != nil {
			return err
		}
		res, err := tx.ExecContext(ctx, `update disk set retired = ?, retired_wall = ?, retired_why = ?
			where id = ? and retired <> ?`, out, when, reason, label, out)
		if err := r.touched(res, err, ErrKnown, "disk %q is %s", label, state); err != nil {
			return err
		}
		return changed(ctx, tx, n, label, what, why)
	})
}

// touched turns a statement that met no row into an error.
func (r *Record) touched(res sql.Result, err error, kind error, format string, args ...any) error {
	if err != nil {
		return err
	}
	n, err := res.RowsAffected()
	if err == nil && n == 0 {
		return fault(r.path, kind, format, args...)
	}
	return err
}

// checkLabel refuses labels that could not be told apart on a sheet or typed again.
func (r *Record) checkLabel(label string) error {
	if label == "" || strings.TrimSpace(label) != label {
		return fault(r.path, ErrUnfit, "a label must not be empty, nor begin or end with a space: %q", label)
	}
	return r.checkWords([]said{{"the label", label, mostName}})
}

// knownDisk refuses a label that the record has not met: a mistyped one would make a disk that does not exist.
func (r *Record) knownDisk(ctx context.Context, tx *sql.Tx, label string) error {
	var n int
	if err := tx.QueryRowContext(ctx, `select count(*) from disk where id = ?`, label).Scan(&n); err != nil {
		return err
	}
	if n == 0 {
		return fault(r.path, ErrUnknown, "disk %q", label)
	}
	return nil
}

// RegisterChange is an entry of the register: what it said from then on.
type RegisterChange struct {
	Entry
	Disk    string
	What    string // registered, changed, retired or returned
	MediaMM int    // 0 when not said
	Format  string
	Note    string
	Why     string // of retiring and returning
}

// RegisterChanges returns every change of the register about a disk, oldest first.
func (r *Record) RegisterChanges(ctx context.Context, disk string) ([]RegisterChange, error) {
	return list(ctx, r, `select `+entryColumns+`, disk, what, coalesce(media_mm, 0), format, note, why
		from register_change c, journal j where j.number = c.number and disk = ? order by c.number`,
		func(c *RegisterChange) []any {
			return append(c.Entry.columns(), &c.Disk, &c.What, &c.MediaMM, &c.Format, &c.Note, &c.Why)
		}, disk)
}
