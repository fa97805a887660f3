package record

import (
	"context"
	"database/sql"
	"time"
)

// HeadCleaning tells that the heads of a drive were cleaned.
type HeadCleaning struct {
	Drive string // its name; "" where there is only one
	By    string
	Wall  time.Time
}

// KeptHeadCleaning is a cleaning as the record has it.
type KeptHeadCleaning struct {
	Entry
	Drive string
}

// PutHeadCleaning writes a cleaning down and returns the number of the entry. It is durable then.
func (r *Record) PutHeadCleaning(ctx context.Context, h HeadCleaning) (int64, error) {
	words := []said{{"the name of the drive", h.Drive, mostName}}
	return r.act(ctx, kindHeads, h.By, h.Wall, words, func(tx *sql.Tx, n int64) error {
		return cleaned(ctx, tx, n, h.Drive)
	})
}

func cleaned(ctx context.Context, tx *sql.Tx, n int64, drive string) error {
	_, err := tx.ExecContext(ctx, `insert into head_cleaning (number, drive) values (?, ?)`, n, drive)
	return err
}

// HeadCleanings returns every cleaning of the heads of a drive, oldest first.
func (r *Record) HeadCleanings(ctx context.Context, drive string) ([]KeptHeadCleaning, error) {
	return r.headCleanings(ctx, `where j.number = h.number and drive = ? order by h.number`, drive)
}

func (r *Record) headCleanings(ctx context.Context, which string, args ...any) ([]KeptHeadCleaning, error) {
	return list(ctx, r, `select `+entryColumns+`, drive from head_cleaning h, journal j `+which,
		func(h *KeptHeadCleaning) []any { return append(h.Entry.columns(), &h.Drive) }, args...)
}

// Drive is what the record knows of the heads of a drive.
type Drive struct {
	Name      string
	Cleanings int
	Readbacks int   // readings on it, withdrawn ones too: the disk was in the drive
	Forgotten int   // of them those without a cleaning since the one before
	Cleaned   int64 // entry of the last cleaning; 0 for none
	Since     int   // readings since then: above 0 the heads are to be cleaned before the next disk
	LastDisk  string
}

const selectDrive = `select name,
	(select count(*) from head_cleaning where drive = name),
	(select count(*) from readback where drive = name),
	(select count(*) from readback where drive = name and heads_cleaned = 0),
	(select coalesce(max(number), 0) from head_cleaning where drive = name),
	(select count(*) from readback where drive = name and
		number > (select coalesce(max(number), 0) from head_cleaning where drive = name)),
	coalesce((select disk from readback where drive = name order by number desc limit 1), '')
	from (select drive as name from head_cleaning union select drive from readback) as names order by name`

// Drives returns every drive that was read on or cleaned, by name.
func (r *Record) Drives(ctx context.Context) ([]Drive, error) {
	return list(ctx, r, selectDrive, func(d *Drive) []any {
		return []any{&d.Name, &d.Cleanings, &d.Readbacks, &d.Forgotten, &d.Cleaned, &d.Since, &d.LastDisk}
	})
}
