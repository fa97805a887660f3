package record

import (
	"context"
	"database/sql"
	"errors"
	"time"
)

// Join is one image made of the good sectors of several readings of a disk.
type Join struct {
	Disk             string
	ImageSHA256      string // of what was written; hexadecimal, as all of them
	ImageBytes       int64
	ImagePath        string
	TableSHA256      string
	ProvenanceSHA256 string
	Good             int // sectors chosen
	Unread           int // sectors that no reading had
	Disputed         int // sectors whose copies differ, so that none was chosen
	Inputs           []JoinInput
	By               string
	Wall             time.Time
}

// JoinInput is a reading that went into a join, with the sums of what was read for it.
type JoinInput struct {
	Readback    int64
	TableSHA256 string
	ImageSHA256 string // "" without an image
}

// KeptJoin is a join as the record has it; Entry has who and when.
type KeptJoin struct {
	Entry
	Disk             string
	ImageSHA256      string
	ImageBytes       int64
	ImagePath        string
	TableSHA256      string
	ProvenanceSHA256 string
	Good             int
	Unread           int
	Disputed         int
	Inputs           []JoinInput
}

// PutJoin writes a join down and returns the number of the entry. It is durable then. Inputs must be readings of the disk
// that stand, each once, with the sums that they had when they were given: a file that has changed since is refused with
// ErrUnfit and named.
func (r *Record) PutJoin(ctx context.Context, d Join) (int64, error) {
	for _, sum := range []string{d.ImageSHA256, d.TableSHA256, d.ProvenanceSHA256} {
		if !isSum(sum) {
			return 0, fault(r.path, ErrUnfit, "%q is no SHA-256 of a file that a join writes", sum)
		}
	}
	if min(d.Good, d.Unread, d.Disputed) < 0 || d.ImageBytes < 0 || len(d.Inputs) == 0 {
		return 0, fault(r.path, ErrUnfit, "a join has readings, and sectors that can be counted")
	}
	return r.act(ctx, kindJoin, d.By, d.Wall, []said{{"the path of the image", d.ImagePath, mostPath}}, func(tx *sql.Tx, n int64) error {
		if err := r.knownDisk(ctx, tx, d.Disk); err != nil {
			return err
		}
		_, err := tx.ExecContext(ctx, `insert into joined (number, disk, image_sha256, image_bytes, image_path, table_sha256,
			provenance_sha256, good, unread, disputed) values (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`, n, d.Disk, d.ImageSHA256,
			d.ImageBytes, d.ImagePath, d.TableSHA256, d.ProvenanceSHA256, d.Good, d.Unread, d.Disputed)
		if err != nil {
			return err
		}
		seen := map[int64]bool{}
		for i, in := range d.Inputs {
			if seen[in.Readback] {
				return fault(r.path, ErrUnfit, "reading %d is in the join twice: it would be its own witness", in.Readback)
			}
			seen[in.Readback] = true
			if err := r.insertInput(ctx, tx, n, i, d.Disk, in); err != nil {
				return err
			}
		}
		return nil
	})
}

func (r *Record) insertInput(ctx context.Context, tx *sql.Tx, n int64, i int, disk string, in JoinInput) error {
	var table, image string
	err := tx.QueryRowContext(ctx, `select table_sha256, image_sha256 from readback b, journal j where j.number = b.number and
		j.withdrawn = 0 and b.number = ? and disk = ?`, in.Readback, disk).Scan(&table, &image)
	switch {
	case errors.Is(err, sql.ErrNoRows):
		return fault(r.path, ErrUnknown, "entry %d is no reading of disk %q", in.Readback, disk)
	case err != nil:
		return err
	case table != in.TableSHA256:
		return fault(r.path, ErrUnfit, "the table of reading %d is not what it was when it was given", in.Readback)
	case image != in.ImageSHA256 && in.ImageSHA256 != "":
		return fault(r.path, ErrUnfit, "the image of reading %d is not what it was when it was given", in.Readback)
	}
	_, err = tx.ExecContext(ctx, `insert into joined_input (joined, seq, readback, table_sha256, image_sha256)
		values (?, ?, ?, ?, ?)`, n, i, in.Readback, in.TableSHA256, in.ImageSHA256)
	return err
}

// Joins returns the joins of a disk, withdrawn ones too, oldest first.
func (r *Record) Joins(ctx context.Context, disk string) ([]KeptJoin, error) {
	all, err := list(ctx, r, `select `+entryColumns+`, disk, image_sha256, image_bytes, image_path, table_sha256,
		provenance_sha256, good, unread, disputed from joined d, journal j where j.number = d.number and disk = ?
		order by d.number`, func(d *KeptJoin) []any {
		return append(d.Entry.columns(), &d.Disk, &d.ImageSHA256, &d.ImageBytes, &d.ImagePath, &d.TableSHA256,
			&d.ProvenanceSHA256, &d.Good, &d.Unread, &d.Disputed)
	}, disk)
	if err != nil {
		return nil, err
	}
	for i := range all {
		all[i].Inputs, err = list(ctx, r, `select readback, table_sha256, image_sha256 from joined_input where joined = ?
			order by seq`, func(in *JoinInput) []any { return []any{&in.Readback, &in.TableSHA256, &in.ImageSHA256} }, all[i].Number)
		if err != nil {
			return nil, err
		}
	}
	return all, nil
}
