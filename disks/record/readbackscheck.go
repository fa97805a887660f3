package record

import (
	"context"
	"database/sql"
	"encoding/hex"
	"errors"
	"strings"
)

// checkReadback refuses what cannot be a reading, before anything is written.
func (r *Record) checkReadback(b Readback) error {
	c := b.Counts
	switch {
	case b.Round < 0 || b.Round > mostRounds:
		return fault(r.path, ErrUnfit, "rounds count from 0, as found, to %d, and this is round %d", mostRounds, b.Round)
	case min(c.Good, c.Bad, c.Missing, c.Untried) < 0 || c.Total() == 0:
		return fault(r.path, ErrUnfit, "%d good, %d bad, %d missing and %d untried sectors are no disk", c.Good, c.Bad, c.Missing, c.Untried)
	case len(b.Table) == 0 || len(b.Table) > mostTable:
		return fault(r.path, ErrUnfit, "the table has %d bytes, and 1 to %d are taken", len(b.Table), mostTable)
	case len(b.States) > mostStates:
		return fault(r.path, ErrUnfit, "the states of the sectors have %d bytes, and %d are the most", len(b.States), mostStates)
	case b.ImageSHA256 != "" && (!isSum(b.ImageSHA256) || b.ImageBytes < 0):
		return fault(r.path, ErrUnfit, "%q with %d bytes is no image", b.ImageSHA256, b.ImageBytes)
	case b.ImageSHA256 == "" && (b.ImageBytes != 0 || b.ImagePath != ""):
		return fault(r.path, ErrUnfit, "the image has no SHA-256")
	case (b.Against == 0) != (b.Regained == nil) || (b.Regained == nil) != (b.NewlyLost == nil):
		return fault(r.path, ErrUnfit, "regained and newly lost are counted against a reading, all three or none")
	}
	return r.checkWords([]said{{"the name of the drive", b.Drive, mostName}, {"the format", b.Format, mostText},
		{"the name of the table's file", b.Source, mostPath}, {"the path of the image", b.ImagePath, mostPath},
		{"the name of who read it", b.By, mostName}})
}

// isSum tells whether a text is a SHA-256 as the record writes it, so that two can be compared as text.
func isSum(s string) bool {
	b, err := hex.DecodeString(s)
	return err == nil && len(b) == 32 && strings.ToLower(s) == s
}

// checkAgainst looks at the reading that another is counted against.
func (r *Record) checkAgainst(ctx context.Context, tx *sql.Tx, b Readback) error {
	if b.Against == 0 {
		return nil
	}
	var disk string
	var good, unread int
	err := tx.QueryRowContext(ctx, `select disk, good, bad + missing from readback b, journal j where j.number = b.number and
		j.withdrawn = 0 and b.number = ?`, b.Against).Scan(&disk, &good, &unread)
	switch {
	case errors.Is(err, sql.ErrNoRows), err == nil && disk != b.Disk:
		return fault(r.path, ErrUnknown, "entry %d is no reading of disk %q", b.Against, b.Disk)
	case err != nil:
		return err
	case *b.Regained < 0 || *b.Regained > min(unread, b.Counts.Good) || *b.NewlyLost < 0 || *b.NewlyLost > min(good, b.Counts.Unread()):
		return fault(r.path, ErrUnfit, "%d regained and %d newly lost do not fit the reading before, with %d good and %d not read, and this one, with %d and %d",
			*b.Regained, *b.NewlyLost, good, unread, b.Counts.Good, b.Counts.Unread())
	}
	return nil
}

const sameImage = `select b.number, disk, round, source from readback b, journal j where j.number = b.number and
	j.withdrawn = 0 and image_sha256 = ? and image_sha256 <> '' order by b.number limit 1`

const sameTable = `select b.number, disk, round, source from readback b, journal j where j.number = b.number and
	j.withdrawn = 0 and table_sha256 = ? and (disk = ? or ? > 0) order by b.number limit 1`

// notTwice refuses a file that was given before: counted twice, it would be its own witness. It names the first.
func (r *Record) notTwice(ctx context.Context, tx *sql.Tx, b Readback, sum string) error {
	if b.Again {
		return nil
	}
	try := func(what, query string, args ...any) error {
		var n int64
		var round int
		var disk, source string
		err := tx.QueryRowContext(ctx, query, args...).Scan(&n, &disk, &round, &source)
		if errors.Is(err, sql.ErrNoRows) {
			return nil
		}
		if err == nil {
			err = fault(r.path, ErrKnown, "this %s was given as entry %d, the reading of disk %q in round %d from %q", what, n, disk, round, source)
		}
		return err
	}
	if err := try("image", sameImage, b.ImageSHA256); err != nil {
		return err
	}
	return try("table", sameTable, sum, b.Disk, b.Counts.Unread()+b.Counts.Untried)
}
