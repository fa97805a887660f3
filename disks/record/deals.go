package record

import (
	"context"
	"database/sql"
	"errors"
	"math"
	"slices"
	"strconv"
	"time"
)

// Deal is an assignment of disks to methods.
type Deal struct {
	Name      string // unique
	Seed      uint64 // with which it can be drawn again
	Methods   []DealtMethod
	Disks     []DealtDisk
	Imbalance float64 // sectors
	Bound     float64 // sectors: no deal has a smaller imbalance
	Optimal   bool    // proved
	By        string
	Wall      time.Time
}

// DealtMethod is one group of a deal.
type DealtMethod struct {
	Method string
	Mean   *float64 // missing sectors a disk; nil for a method without disks
	Spread *float64 // their standard deviation; nil below two disks
}

// DealtDisk is a disk of a deal.
type DealtDisk struct {
	Disk    string
	Method  string
	Missing int // sectors, when it was dealt
	Block   int // which disks may be exchanged in a test; 0: placed by a constraint, not dealt
}

// KeptDeal is a deal as the record has it.
type KeptDeal struct {
	Entry
	Name      string
	Seed      uint64
	Methods   []DealtMethod
	Disks     []DealtDisk
	Imbalance float64
	Bound     float64
	Optimal   bool
}

// PutDeal writes a deal of known disks down and returns the number of the entry, to which rounds point. It is durable
// then. A name that a deal has is refused with ErrKnown.
func (r *Record) PutDeal(ctx context.Context, d Deal) (int64, error) {
	if err := r.checkDeal(d); err != nil {
		return 0, err
	}
	return r.act(ctx, kindDeal, d.By, d.Wall, nil, func(tx *sql.Tx, n int64) error {
		var had int64
		err := tx.QueryRowContext(ctx, `select d.number from deal d, journal j where j.number = d.number and
			j.withdrawn = 0 and name = ?`, d.Name).Scan(&had)
		if err == nil {
			return fault(r.path, ErrKnown, "entry %d is a deal named %q", had, d.Name)
		}
		if !errors.Is(err, sql.ErrNoRows) {
			return err
		}
		return r.insertDeal(ctx, tx, n, d)
	})
}

func (r *Record) insertDeal(ctx context.Context, tx *sql.Tx, n int64, d Deal) error {
	_, err := tx.ExecContext(ctx, `insert into deal (number, name, seed, imbalance, bound, optimal) values (?, ?, ?, ?, ?, ?)`,
		n, d.Name, strconv.FormatUint(d.Seed, 10), d.Imbalance, d.Bound, d.Optimal)
	if err != nil {
		return err
	}
	for i, m := range d.Methods {
		if _, err := tx.ExecContext(ctx, `insert into deal_method (deal, place, method, mean, spread) values (?, ?, ?, ?, ?)`,
			n, i, m.Method, optional(m.Mean), optional(m.Spread)); err != nil {
			return err
		}
	}
	for i, k := range d.Disks {
		if err := r.knownDisk(ctx, tx, k.Disk); err != nil {
			return err
		}
		if _, err := tx.ExecContext(ctx, `insert into deal_disk (deal, place, disk, method, missing, block)
			values (?, ?, ?, ?, ?, ?)`, n, i, k.Disk, k.Method, k.Missing, k.Block); err != nil {
			return err
		}
	}
	return nil
}

// checkDeal refuses a deal that does not hold together.
func (r *Record) checkDeal(d Deal) error {
	if d.Name == "" || len(d.Methods) == 0 || len(d.Disks) == 0 {
		return fault(r.path, ErrUnfit, "a deal has a name, methods and disks")
	}
	for _, x := range []float64{d.Imbalance, d.Bound} {
		if math.IsNaN(x) || math.IsInf(x, 0) || x < 0 {
			return fault(r.path, ErrUnfit, "the imbalance of deal %q or its bound is no number of sectors", d.Name)
		}
	}
	words := []said{{"the name of the deal", d.Name, mostName}}
	var methods []string
	for _, m := range d.Methods {
		if m.Method == "" || slices.Contains(methods, m.Method) {
			return fault(r.path, ErrUnfit, "the methods of deal %q must have names that differ", d.Name)
		}
		methods = append(methods, m.Method)
		words = append(words, said{"the name of a method", m.Method, mostName})
	}
	seen := map[string]bool{}
	for _, k := range d.Disks {
		switch {
		case seen[k.Disk]:
			return fault(r.path, ErrUnfit, "disk %q is twice in deal %q", k.Disk, d.Name)
		case !slices.Contains(methods, k.Method):
			return fault(r.path, ErrUnfit, "disk %q is dealt to %q, which deal %q has not", k.Disk, k.Method, d.Name)
		case k.Missing < 0 || k.Block < 0:
			return fault(r.path, ErrUnfit, "disk %q has %d missing sectors and block %d", k.Disk, k.Missing, k.Block)
		}
		seen[k.Disk] = true
	}
	return r.checkWords(words)
}

const selectDeal = `select ` + entryColumns + `, name, seed, imbalance, bound, optimal from deal d, journal j
	where j.number = d.number `

func (d *KeptDeal) columns() []any {
	return append(d.Entry.columns(), &d.Name, &d.Seed, &d.Imbalance, &d.Bound, &d.Optimal)
}

// Deals returns every deal without its methods and disks, withdrawn ones too, oldest first.
func (r *Record) Deals(ctx context.Context) ([]KeptDeal, error) {
	return list(ctx, r, selectDeal+`order by d.number`, (*KeptDeal).columns)
}

// DealNamed returns the deal of a name that stands, whole; ErrUnknown when there is none.
func (r *Record) DealNamed(ctx context.Context, name string) (KeptDeal, error) {
	return r.deal(ctx, `and withdrawn = 0 and name = ?`, name)
}

// DealByNumber returns the deal of an entry, whole, also a withdrawn one; ErrUnknown when the entry is no deal.
func (r *Record) DealByNumber(ctx context.Context, n int64) (KeptDeal, error) {
	return r.deal(ctx, `and d.number = ?`, n)
}

func (r *Record) deal(ctx context.Context, which string, arg any) (KeptDeal, error) {
	all, err := list(ctx, r, selectDeal+which, (*KeptDeal).columns, arg)
	if err == nil && len(all) == 0 {
		err = fault(r.path, ErrUnknown, "deal %v", arg)
	}
	if err != nil {
		return KeptDeal{}, err
	}
	d := all[0]
	if d.Methods, err = list(ctx, r, `select method, mean, spread from deal_method where deal = ? order by place`,
		func(m *DealtMethod) []any { return []any{&m.Method, &m.Mean, &m.Spread} }, d.Number); err != nil {
		return KeptDeal{}, err
	}
	d.Disks, err = list(ctx, r, `select disk, method, missing, block from deal_disk where deal = ? order by place`,
		func(k *DealtDisk) []any { return []any{&k.Disk, &k.Method, &k.Missing, &k.Block} }, d.Number)
	return d, err
}
