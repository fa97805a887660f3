package record

import (
	"context"
	"database/sql"
	"time"
)

// Look is what somebody saw on a disk, and what follows from it. The record does not judge: findings, verdict and reason
// are words.
type Look struct {
	Disk     string
	Findings string // "mould=some, hub=loose"
	Verdict  string
	Reason   string
	By       string
	Wall     time.Time
}

// KeptLook is a look as the record has it; Entry has who and when.
type KeptLook struct {
	Entry
	Disk     string
	Findings string
	Verdict  string
	Reason   string
}

// PutLook writes a look at a known disk down and returns the number of the entry. It is durable then.
func (r *Record) PutLook(ctx context.Context, l Look) (int64, error) {
	if l.Verdict == "" {
		return 0, fault(r.path, ErrUnfit, "the look at disk %q has no verdict", l.Disk)
	}
	words := []said{{"the findings", l.Findings, mostText}, {"the verdict", l.Verdict, mostName}, {"the reason", l.Reason, mostText}}
	return r.act(ctx, kindLook, l.By, l.Wall, words, func(tx *sql.Tx, n int64) error {
		if err := r.knownDisk(ctx, tx, l.Disk); err != nil {
			return err
		}
		_, err := tx.ExecContext(ctx, `insert into look (number, disk, findings, verdict, reason) values (?, ?, ?, ?, ?)`,
			n, l.Disk, l.Findings, l.Verdict, l.Reason)
		return err
	})
}

// Looks returns the looks at a disk, withdrawn ones too, oldest first.
func (r *Record) Looks(ctx context.Context, disk string) ([]KeptLook, error) {
	return list(ctx, r, `select `+entryColumns+`, disk, findings, verdict, reason from look l, journal j
		where j.number = l.number and disk = ? order by l.number`, func(l *KeptLook) []any {
		return append(l.Entry.columns(), &l.Disk, &l.Findings, &l.Verdict, &l.Reason)
	}, disk)
}
