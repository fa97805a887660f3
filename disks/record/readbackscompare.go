package record

import "context"

// Comparison asks which disks to compare before and after.
type Comparison struct {
	Deal  int64 // only rounds of this deal; 0: of all
	Round int   // only this round; 0: of each disk the first one that is read
}

// Compared is one disk before and after a round: the last reading before it, and the first one of it. Withdrawn entries
// do not count. Both readings are one try at the drive, whatever their number, so that no method profits from more of them.
type Compared struct {
	Disk   string
	Round  int
	Method string // what was done
	Deal   int64  // 0 without one
	Dealt  string // what the deal had given the disk; another Method strayed from it
	Block  int    // of the deal; 0: placed, not dealt, or without a deal

	Before, After               int64 // readings, by their entries
	BeforeCounts, AfterCounts   SectorCounts
	BeforeCleaned, AfterCleaned bool // the heads, before each reading

	Split     bool // it is known which sectors came back
	Regained  int
	NewlyLost int
}

const selectCompared = `select d.disk, d.round, d.method, coalesce(d.deal, 0), coalesce(e.method, ''), coalesce(e.block, 0),
	b.number, b.good, b.bad, b.missing, b.untried, b.heads_cleaned,
	a.number, a.good, a.bad, a.missing, a.untried, a.heads_cleaned,
	case when a.against = b.number then 1 else 0 end, coalesce(a.regained, 0), coalesce(a.newly_lost, 0)
	from round d join journal j on j.number = d.number and j.withdrawn = 0
	join readback a on a.number = (select min(x.number) from readback x, journal k where k.number = x.number and
		k.withdrawn = 0 and x.disk = d.disk and x.round = d.round)
	join readback b on b.number = (select max(x.number) from readback x, journal k where k.number = x.number and
		k.withdrawn = 0 and x.disk = d.disk and x.round = (select max(y.round) from readback y, journal l where
		l.number = y.number and l.withdrawn = 0 and y.disk = d.disk and y.round < d.round))
	left join deal_disk e on e.deal = d.deal and e.disk = d.disk
	where (? = 0 or d.deal = ?) and (? = 0 or d.round = ?) order by d.disk, d.round`

// Compare returns the disks that were read before and after a round, by label, each once. What is missing for a disk that
// is not among them its Story tells.
func (r *Record) Compare(ctx context.Context, q Comparison) ([]Compared, error) {
	all, err := list(ctx, r, selectCompared, func(c *Compared) []any {
		return []any{&c.Disk, &c.Round, &c.Method, &c.Deal, &c.Dealt, &c.Block,
			&c.Before, &c.BeforeCounts.Good, &c.BeforeCounts.Bad, &c.BeforeCounts.Missing, &c.BeforeCounts.Untried, &c.BeforeCleaned,
			&c.After, &c.AfterCounts.Good, &c.AfterCounts.Bad, &c.AfterCounts.Missing, &c.AfterCounts.Untried, &c.AfterCleaned,
			&c.Split, &c.Regained, &c.NewlyLost}
	}, q.Deal, q.Deal, q.Round, q.Round)
	first := all[:0]
	for _, c := range all {
		if len(first) > 0 && first[len(first)-1].Disk == c.Disk {
			continue
		}
		if !c.Split {
			c.Regained, c.NewlyLost = 0, 0
		}
		first = append(first, c)
	}
	return first, err
}
