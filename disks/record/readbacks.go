package record

import (
	"bytes"
	"compress/gzip"
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"time"
)

// Limits of one readback, in bytes.
const (
	mostTable  = 32 << 20 // of the table's text, as much as the reader of tables takes
	mostStates = 1 << 20  // of the compact states: a byte a sector of the largest format
)

// Readback is one reading of a disk: its table, and what is known of its image, which is not kept.
type Readback struct {
	Disk   string
	Round  int    // 0: as found; several readings a round are allowed
	Drive  string // its name; "" where there is only one
	Format string
	Counts SectorCounts
	Table  []byte // the table's text
	States []byte // state of every sector, in whatever form the caller reads again; nil for none
	Source string // name of the file that the table came from

	ImageSHA256 string // of the flat image, 64 hexadecimal digits; "" without one
	ImageBytes  int64
	ImagePath   string

	// Against is the reading that Regained and NewlyLost are counted against, by its entry: 0 with nil where it is not
	// known which sectors came back. See ReadbackBefore.
	Against   int64
	Regained  *int
	NewlyLost *int

	HeadsCleaned bool // the heads were cleaned right before: a cleaning is entered too
	Again        bool // the same table or image as before was really read again: do not refuse it
	By           string
	Wall         time.Time
}

// SectorCounts says how many sectors are in which state.
type SectorCounts struct{ Good, Bad, Missing, Untried int }

// Unread is how many sectors were tried and not read.
func (c SectorCounts) Unread() int { return c.Bad + c.Missing }

// Total is all sectors of the format.
func (c SectorCounts) Total() int { return c.Good + c.Bad + c.Missing + c.Untried }

// PutReadback writes a reading of a known disk down and returns the number of its entry; all of it is durable then, or
// nothing. A round that has no row yet gets one (see PutRound), by the disk's newest cycle since the round before, or by
// hand. The first reading with the same table or image is named, with ErrKnown, unless Again is set: the same image of any
// disk; the same table of this disk, or of another one where something is missing. Two whole disks may well be alike.
func (r *Record) PutReadback(ctx context.Context, b Readback) (n int64, err error) {
	if err := r.checkReadback(b); err != nil {
		return 0, err
	}
	packed, err := pack(b.Table)
	if err != nil {
		return 0, err
	}
	sum := sumOf(b.Table)
	err = r.update(ctx, func(tx *sql.Tx) error {
		if err := r.mayRead(ctx, tx, b, sum); err != nil {
			return err
		}
		if err := r.prepare(ctx, tx, b); err != nil {
			return err
		}
		if _, err := tx.ExecContext(ctx, `insert into readback_table (sha256, text_bytes, body_gzip, states)
			values (?, ?, ?, ?) on conflict (sha256) do update
			set states = coalesce(readback_table.states, excluded.states)`, sum, len(b.Table), packed, blob(b.States)); err != nil {
			return err
		}
		if n, err = enter(ctx, tx, kindReadback, b.By, b.Wall); err != nil {
			return err
		}
		return insertReadback(ctx, tx, n, b, sum)
	})
	if err != nil {
		return 0, err
	}
	return n, nil
}

// mayRead tells what stands against the reading in what the record has.
func (r *Record) mayRead(ctx context.Context, tx *sql.Tx, b Readback, sum string) error {
	if err := r.knownDisk(ctx, tx, b.Disk); err != nil {
		return err
	}
	if err := r.checkAgainst(ctx, tx, b); err != nil {
		return err
	}
	return r.notTwice(ctx, tx, b, sum)
}

// prepare enters what came before the reading: the cleaning of the heads and the round, when they are to be.
func (r *Record) prepare(ctx context.Context, tx *sql.Tx, b Readback) error {
	if b.HeadsCleaned {
		n, err := enter(ctx, tx, kindHeads, b.By, b.Wall)
		if err != nil {
			return err
		}
		if err := cleaned(ctx, tx, n, b.Drive); err != nil {
			return err
		}
	}
	if b.Round == 0 {
		return nil
	}
	had, err := theRound(ctx, tx, b.Disk, b.Round)
	if err != nil || had != 0 {
		return err
	}
	d, err := guessRound(ctx, tx, b.Disk, b.Round)
	if err != nil {
		return err
	}
	n, err := enter(ctx, tx, kindRound, b.By, b.Wall)
	if err != nil {
		return err
	}
	return r.insertRound(ctx, tx, n, d)
}

// insertReadback writes the row. Heads count as cleaned when a cleaning lies between the reading before on this drive, of
// whichever disk, and this one; for the first reading any earlier cleaning will do.
func insertReadback(ctx context.Context, tx *sql.Tx, n int64, b Readback, sum string) error {
	var before, cleaning int64
	if err := tx.QueryRowContext(ctx, `select coalesce(max(number), 0) from readback where drive = ?`, b.Drive).Scan(&before); err != nil {
		return err
	}
	if err := tx.QueryRowContext(ctx, `select coalesce(max(number), 0) from head_cleaning where drive = ?`, b.Drive).Scan(&cleaning); err != nil {
		return err
	}
	var size any
	if b.ImageSHA256 != "" {
		size = b.ImageBytes
	}
	_, err := tx.ExecContext(ctx, `insert into readback (number, disk, round, drive, format, good, bad, missing, untried,
		table_sha256, image_sha256, image_bytes, image_path, source, heads_cleaned, drive_before, against, regained,
		newly_lost) values (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, nullif(?, 0), nullif(?, 0), ?, ?)`,
		n, b.Disk, b.Round, b.Drive, b.Format, b.Counts.Good, b.Counts.Bad, b.Counts.Missing, b.Counts.Untried,
		sum, b.ImageSHA256, size, b.ImagePath, b.Source, cleaning > before, before, b.Against, maybeCount(b.Regained), maybeCount(b.NewlyLost))
	return err
}

// sumOf is the SHA-256 of a text, hexadecimal.
func sumOf(text []byte) string {
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:])
}

// pack compresses a text. The same text gives the same bytes.
func pack(text []byte) ([]byte, error) {
	var to bytes.Buffer
	w := gzip.NewWriter(&to)
	if _, err := w.Write(text); err != nil {
		return nil, err
	}
	if err := w.Close(); err != nil {
		return nil, err
	}
	return to.Bytes(), nil
}

// unpack gives the text back, of the size and with the sum that it must have; a file may come from anywhere.
func unpack(packed []byte, size int64, sum string) ([]byte, error) {
	w, err := gzip.NewReader(bytes.NewReader(packed))
	if err != nil {
		return nil, err
	}
	if size < 0 || size > mostTable {
		return nil, fmt.Errorf("a table of %d bytes", size)
	}
	text, err := io.ReadAll(io.LimitReader(w, size+1))
	if err != nil {
		return nil, err
	}
	if int64(len(text)) != size || sumOf(text) != sum {
		return nil, errors.New("its SHA-256 does not fit")
	}
	return text, nil
}

// blob is bytes as they are kept: null for none.
func blob(b []byte) any {
	if len(b) == 0 {
		return nil
	}
	return b
}

// maybeCount is a count as it is kept: null when not known.
func maybeCount(n *int) any {
	if n == nil {
		return nil
	}
	return *n
}
