package record

import (
	"context"
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestDealIsKept(t *testing.T) {
	ctx := within(t)
	r := testRecord(t, defaults)
	enlist(t, r, "SB-1", "SB-2", "SB-3")
	d := Deal{Name: "May", Seed: math.MaxUint64, Methods: []DealtMethod{{"ipa", new(2.5), new(0.7)}, {"by hand", new(9.0), nil}, {Method: "wait"}},
		Disks:     []DealtDisk{{"SB-3", "ipa", 2, 1}, {"SB-1", "ipa", 3, 1}, {"SB-2", "by hand", 9, 0}},
		Imbalance: 0.125, Bound: 0.1, Optimal: true, By: "desk", Wall: noon}
	n := must[int64](t)(r.PutDeal(ctx, d))
	want := KeptDeal{Entry: Entry{Number: n, Wall: noon, By: "desk"}, Name: "May", Seed: d.Seed, Methods: d.Methods, Disks: d.Disks,
		Imbalance: 0.125, Bound: 0.1, Optimal: true}
	differ(t, "by number", must[KeptDeal](t)(r.DealByNumber(ctx, n)), want)
	differ(t, "by name", must[KeptDeal](t)(r.DealNamed(ctx, "May")), want)
	wantFault(t, second(r.PutDeal(ctx, d)), ErrKnown, r.Path())
	if err := r.Withdraw(ctx, n, "wrong disks", "", noon); err != nil {
		t.Fatal(err)
	}
	wantFault(t, second(r.DealNamed(ctx, "May")), ErrUnknown, r.Path())
	wantFault(t, second(r.DealByNumber(ctx, 1)), ErrUnknown, r.Path())
	if again := must[int64](t)(r.PutDeal(ctx, d)); again <= n {
		t.Errorf("the new deal is entry %d", again)
	}
	if all := must[[]KeptDeal](t)(r.Deals(ctx)); len(all) != 2 || !all[0].Withdrawn || all[1].Withdrawn {
		t.Errorf("deals %+v", all)
	}
}

func TestDealRefuses(t *testing.T) {
	ctx := within(t)
	r := testRecord(t, defaults)
	enlist(t, r, "SB-1", "SB-2")
	tests := []struct {
		name  string
		spoil func(*Deal)
		kind  error
		says  string
	}{
		{"no name", func(d *Deal) { d.Name = "" }, ErrUnfit, "has a name"},
		{"no disks", func(d *Deal) { d.Disks = nil }, ErrUnfit, "disks"},
		{"method without a name", func(d *Deal) { d.Methods[1].Method = "" }, ErrUnfit, "names that differ"},
		{"method twice", func(d *Deal) { d.Methods[1].Method = "a" }, ErrUnfit, "names that differ"},
		{"no number", func(d *Deal) { d.Imbalance = math.NaN() }, ErrUnfit, "imbalance"},
		{"no bound", func(d *Deal) { d.Bound = math.Inf(1) }, ErrUnfit, "bound"},
		{"disk twice", func(d *Deal) { d.Disks[1].Disk = "SB-1" }, ErrUnfit, `"SB-1" is twice`},
		{"unknown method", func(d *Deal) { d.Disks[1].Method = "c" }, ErrUnfit, `"c"`},
		{"fewer than none", func(d *Deal) { d.Disks[0].Missing = -1 }, ErrUnfit, "-1 missing"},
		{"unknown disk", func(d *Deal) { d.Disks[0].Disk = "SB-9" }, ErrUnknown, `"SB-9"`},
		{"odd name", func(d *Deal) { d.Name = "a\nb" }, ErrUnfit, "control"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			d := Deal{Name: "May", Methods: []DealtMethod{{Method: "a"}, {Method: "b"}}, Disks: []DealtDisk{{"SB-1", "a", 1, 1}, {"SB-2", "b", 1, 1}}}
			tt.spoil(&d)
			_, err := r.PutDeal(ctx, d)
			wantFault(t, err, tt.kind, r.Path())
			if err != nil && !strings.Contains(err.Error(), tt.says) {
				t.Errorf("%q does not say %q", err, tt.says)
			}
		})
	}
	if all := must[[]KeptDeal](t)(r.Deals(ctx)); len(all) != 0 {
		t.Errorf("deals that were refused: %+v", all)
	}
}

func TestRounds(t *testing.T) {
	ctx := within(t)
	r := testRecord(t, defaults)
	enlist(t, r, "SB-1", "SB-2")
	deal := must[int64](t)(r.PutDeal(ctx, Deal{Name: "May", Methods: []DealtMethod{{Method: "ethanol"}}, Disks: []DealtDisk{{"SB-1", "ethanol", 1, 1}}}))
	c1 := clean(t, r, "SB-1", "ethanol", "", noon)
	c2 := clean(t, r, "SB-1", "water-detergent", "", noon)
	other := clean(t, r, "SB-2", "ethanol", "", noon)
	must[int64](t)(r.PutReadback(ctx, reading("SB-1", 1, 5))) // by its newest cycle, for the deal
	must[int64](t)(r.PutReadback(ctx, reading("SB-1", 1, 4))) // another reading of that round
	must[int64](t)(r.PutReadback(ctx, reading("SB-1", 2, 3))) // no cycle since: by hand, and the deal is used
	must[int64](t)(r.PutRound(ctx, Round{Disk: "SB-1", Round: 3, Method: "swab", By: "desk", Wall: noon}))
	must[int64](t)(r.PutRound(ctx, Round{Disk: "SB-1", Round: 4, Cycle: c1, Deal: deal}))
	got := must[[]KeptRound](t)(r.Rounds(ctx, "SB-1"))
	for i := range got {
		got[i].Entry = Entry{}
	}
	differ(t, "rounds", got, []KeptRound{
		{Disk: "SB-1", Round: 1, Method: "water-detergent", Cycle: c2, Deal: deal, Dealt: "ethanol"},
		{Disk: "SB-1", Round: 2, Method: ByHand},
		{Disk: "SB-1", Round: 3, Method: "swab"},
		{Disk: "SB-1", Round: 4, Method: "ethanol", Cycle: c1, Deal: deal, Dealt: "ethanol"},
	})
	for _, tt := range []struct {
		d    Round
		kind error
	}{
		{Round{Disk: "SB-9", Round: 1}, ErrUnknown},
		{Round{Disk: "SB-1", Round: 0}, ErrUnfit},
		{Round{Disk: "SB-1", Round: 1000}, ErrUnfit},
		{Round{Disk: "SB-1", Round: 3}, ErrKnown},
		{Round{Disk: "SB-1", Round: 5, Cycle: other}, ErrUnknown},
		{Round{Disk: "SB-1", Round: 5, Cycle: 99}, ErrUnknown},
		{Round{Disk: "SB-1", Round: 5, Cycle: c2}, ErrKnown},
		{Round{Disk: "SB-2", Round: 1, Deal: deal}, ErrUnknown},
		{Round{Disk: "SB-1", Round: 5, Method: strings.Repeat("x", 201)}, ErrUnfit},
	} {
		_, err := r.PutRound(ctx, tt.d)
		wantFault(t, err, tt.kind, r.Path())
	}
	wantFault(t, r.Withdraw(ctx, deal, "x", "", noon), ErrUnfit, r.Path())
}

func TestJoins(t *testing.T) {
	ctx := within(t)
	r := testRecord(t, defaults)
	enlist(t, r, "SB-1", "SB-2")
	a := reading("SB-1", 0, 5)
	a.ImageSHA256 = sum("a")
	first := must[int64](t)(r.PutReadback(ctx, a))
	noImage := must[int64](t)(r.PutReadback(ctx, reading("SB-1", 1, 3)))
	other := must[int64](t)(r.PutReadback(ctx, reading("SB-2", 0, 3)))
	good := joinOf(t, r, "SB-1", first, noImage)
	tests := []struct {
		name  string
		spoil func(*Join)
		kind  error
		says  string
	}{
		{"sum", func(d *Join) { d.ProvenanceSHA256 = "" }, ErrUnfit, "no SHA-256"},
		{"count", func(d *Join) { d.Disputed = -1 }, ErrUnfit, "counted"},
		{"nothing", func(d *Join) { d.Inputs = nil }, ErrUnfit, "has readings"},
		{"twice", func(d *Join) { d.Inputs[1] = d.Inputs[0] }, ErrUnfit, "own witness"},
		{"unknown disk", func(d *Join) { d.Disk = "SB-9" }, ErrUnknown, "SB-9"},
		{"of another disk", func(d *Join) { d.Inputs[1].Readback = other }, ErrUnknown, "no reading of disk"},
		{"table changed", func(d *Join) { d.Inputs[1].TableSHA256 = sum("0") }, ErrUnfit, fmt.Sprintf("table of reading %d", noImage)},
		{"image changed", func(d *Join) { d.Inputs[0].ImageSHA256 = sum("0") }, ErrUnfit, fmt.Sprintf("image of reading %d", first)},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			d := good
			d.Inputs = append([]JoinInput{}, good.Inputs...)
			tt.spoil(&d)
			_, err := r.PutJoin(ctx, d)
			wantFault(t, err, tt.kind, r.Path())
			if err != nil && !strings.Contains(err.Error(), tt.says) {
				t.Errorf("%q does not say %q", err, tt.says)
			}
		})
	}
	n := must[int64](t)(r.PutJoin(ctx, good))
	differ(t, "joins", must[[]KeptJoin](t)(r.Joins(ctx, "SB-1")), []KeptJoin{{Entry: Entry{Number: n, Wall: good.Wall, By: "desk"},
		Disk: "SB-1", ImageSHA256: sum("d"), ImageBytes: 10240, ImagePath: "joined.img", TableSHA256: sum("e"),
		ProvenanceSHA256: sum("f"), Good: 18, Unread: 1, Disputed: 1, Inputs: good.Inputs}})
	wantFault(t, r.Withdraw(ctx, first, "x", "", noon), ErrUnfit, r.Path())
	if err := r.Withdraw(ctx, n, "x", "", noon); err != nil {
		t.Fatal(err)
	}
	if err := r.Withdraw(ctx, first, "x", "", noon); err != nil {
		t.Error(err)
	}
	wantFault(t, second(r.PutJoin(ctx, good)), ErrUnknown, r.Path()) // its reading was withdrawn
}

func TestCompare(t *testing.T) {
	r := testRecord(t, defaults)
	fillDisks(t, r)
	got := must[[]Compared](t)(r.Compare(within(t), Comparison{}))
	reads := func(disk string) []KeptReadback { return must[[]KeptReadback](t)(r.Readbacks(within(t), disk)) }
	a, b := reads("SB-1"), reads("SB-2")
	want := []Compared{
		{Disk: "SB-1", Round: 1, Method: "water-detergent", Deal: got[0].Deal, Dealt: "water-detergent", Block: 1, Before: a[0].Number,
			After: a[1].Number, BeforeCounts: SectorCounts{Good: 15, Bad: 5}, AfterCounts: SectorCounts{Good: 18, Bad: 2},
			BeforeCleaned: true, Split: true, Regained: 4, NewlyLost: 1},
		{Disk: "SB-2", Round: 1, Method: ByHand, Deal: got[0].Deal, Dealt: "dry brush", Block: 1, Before: b[0].Number, After: b[1].Number,
			BeforeCounts: SectorCounts{Good: 16, Bad: 4}, AfterCounts: SectorCounts{Good: 19, Bad: 1}, BeforeCleaned: true, AfterCleaned: true},
	}
	differ(t, "all", got, want)
	differ(t, "of the deal", must[[]Compared](t)(r.Compare(within(t), Comparison{Deal: got[0].Deal, Round: 1})), want)
	if none := must[[]Compared](t)(r.Compare(within(t), Comparison{Deal: 1})); len(none) != 0 {
		t.Errorf("of no deal: %+v", none)
	}
}

// TestCompareAgainstPlainRule: any readings of any rounds, some withdrawn, against a search through lists.
func TestCompareAgainstPlainRule(t *testing.T) {
	r := testRecord(t, defaults)
	n := 0
	rapid.Check(t, func(t *rapid.T) {
		n++
		ctx := context.Background()
		disk := fmt.Sprint("SB-", n)
		if _, err := r.RegisterDisk(ctx, Registration{Label: disk}); err != nil {
			t.Fatal(err)
		}
		var kept []Readback
		var numbers []int64
		for i := range rapid.IntRange(1, 6).Draw(t, "readings") {
			b := reading(disk, rapid.IntRange(0, 3).Draw(t, "round"), rapid.IntRange(0, 20).Draw(t, "unread"))
			b.Table, b.HeadsCleaned = fmt.Append(nil, disk, i), false
			number, err := r.PutReadback(ctx, b)
			if err != nil {
				t.Fatal(err)
			}
			if rapid.IntRange(0, 4).Draw(t, "withdrawn") == 0 {
				if err := r.Withdraw(ctx, number, "x", "", noon); err != nil {
					t.Fatal(err)
				}
				continue
			}
			kept, numbers = append(kept, b), append(numbers, number)
		}
		var before, after int64
		for round := 1; round <= 3 && before*after == 0; round++ {
			before, after = 0, 0
			for lower := round - 1; lower >= 0 && before == 0; lower-- {
				for i, b := range kept {
					if b.Round == lower {
						before = numbers[i]
					}
				}
			}
			for i := len(kept) - 1; i >= 0; i-- {
				if kept[i].Round == round {
					after = numbers[i]
				}
			}
		}
		all, err := r.Compare(ctx, Comparison{})
		if err != nil {
			t.Fatal(err)
		}
		var got Compared
		for _, c := range all {
			if c.Disk == disk {
				got = c
			}
		}
		if before*after == 0 {
			before, after = 0, 0
		}
		if got.Before != before || got.After != after {
			t.Fatalf("compared %d with %d, want %d with %d of %+v", got.Before, got.After, before, after, kept)
		}
	})
}
