package record

import "context"

// KeptReadback is a reading as the record has it; Entry has who and when.
type KeptReadback struct {
	Entry
	Disk        string
	Round       int
	Drive       string
	Format      string
	Counts      SectorCounts
	TableSHA256 string
	TableBytes  int64
	Source      string

	ImageSHA256 string // "" without an image
	ImageBytes  int64
	ImagePath   string

	HeadsCleaned bool   // since the reading before on this drive; false: somebody forgot
	DriveBefore  int64  // that reading; 0 for the first on the drive
	DiskBefore   string // and its disk

	Against   int64 // 0: it is not known which sectors came back
	Regained  *int
	NewlyLost *int
}

const selectReadback = `select ` + entryColumns + `, b.disk, b.round, b.drive, b.format, b.good, b.bad, b.missing, b.untried,
	b.table_sha256, (select text_bytes from readback_table t where t.sha256 = b.table_sha256), b.source, b.image_sha256,
	coalesce(b.image_bytes, 0), b.image_path, b.heads_cleaned, coalesce(b.drive_before, 0),
	coalesce((select disk from readback o where o.number = b.drive_before), ''), coalesce(b.against, 0), b.regained,
	b.newly_lost from readback b, journal j where j.number = b.number `

func (b *KeptReadback) columns() []any {
	return append(b.Entry.columns(), &b.Disk, &b.Round, &b.Drive, &b.Format, &b.Counts.Good, &b.Counts.Bad,
		&b.Counts.Missing, &b.Counts.Untried, &b.TableSHA256, &b.TableBytes, &b.Source, &b.ImageSHA256, &b.ImageBytes,
		&b.ImagePath, &b.HeadsCleaned, &b.DriveBefore, &b.DiskBefore, &b.Against, &b.Regained, &b.NewlyLost)
}

// Readbacks returns the readings of a disk, withdrawn ones too, by round and then in the order in which they were given.
func (r *Record) Readbacks(ctx context.Context, disk string) ([]KeptReadback, error) {
	return list(ctx, r, selectReadback+`and b.disk = ? order by b.round, b.number`, (*KeptReadback).columns, disk)
}

// ReadbacksOn returns the last readings on a drive, newest first, at most limit; all when limit is 0.
func (r *Record) ReadbacksOn(ctx context.Context, drive string, limit int) ([]KeptReadback, error) {
	query, args := selectReadback+`and b.drive = ? order by b.number desc`, []any{drive}
	if limit > 0 {
		query, args = query+` limit ?`, append(args, limit)
	}
	return list(ctx, r, query, (*KeptReadback).columns, args...)
}

// ReadbackByNumber returns one reading, also a withdrawn one; ErrUnknown when the entry is none.
func (r *Record) ReadbackByNumber(ctx context.Context, n int64) (KeptReadback, error) {
	all, err := list(ctx, r, selectReadback+`and b.number = ?`, (*KeptReadback).columns, n)
	if err == nil && len(all) == 0 {
		err = fault(r.path, ErrUnknown, "reading %d", n)
	}
	if err != nil {
		return KeptReadback{}, err
	}
	return all[0], nil
}

// ReadbackBefore returns the last reading of the last round below round that was read: what a reading of that round is
// compared with. nil when there is none.
func (r *Record) ReadbackBefore(ctx context.Context, disk string, round int) (*KeptReadback, error) {
	all, err := list(ctx, r, selectReadback+`and j.withdrawn = 0 and b.disk = ? and b.round < ?
		order by b.round desc, b.number desc limit 1`, (*KeptReadback).columns, disk, round)
	if err != nil || len(all) == 0 {
		return nil, err
	}
	return &all[0], nil
}

// ReadbackTable returns the table of a reading as it was given, and the compact states of its sectors; nil states when
// none were given. A table that is not what its SHA-256 says is ErrDamaged.
func (r *Record) ReadbackTable(ctx context.Context, n int64) (text, states []byte, err error) {
	var packed []byte
	var size int64
	var sum string
	found, err := r.one(ctx, []any{&sum, &size, &packed, &states}, `select sha256, text_bytes, body_gzip, states
		from readback_table, readback where sha256 = table_sha256 and number = ?`, n)
	if err == nil && !found {
		err = fault(r.path, ErrUnknown, "reading %d", n)
	}
	if err != nil {
		return nil, nil, err
	}
	text, err = unpack(packed, size, sum)
	if err != nil {
		return nil, nil, fault(r.path, ErrDamaged, "the table of reading %d cannot be used: %v", n, err)
	}
	return text, states, nil
}
