package record

import (
	"context"
	"path/filepath"
	"testing"
)

// oldDisks is what a record of layout 4 holds: a finished cycle with a drying, one cut short, and a drying by hand.
const oldDisks = `
insert into disk (id, created_wall) values ('SB-0147', '2026-05-04T12:00:00.000Z'), ('SB-0200', null);
insert into file (sha256, body) values ('e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855', '');
insert into cycle (number, disk, bench, bench_sha256, simulated, recipe, recipe_title, recipe_sha256, liquid, rinse, flammable,
	program, boot_id, started_wall, started_mono_s, clock_set, clock_back, state, stage, last_at_s, dosed_ml, last_seq,
	lost_entries, ended, reason) select n, 'SB-0147', 'cellar', sha256, 1, 'water-detergent', '', sha256, 'water-detergent', '',
	'', '0.1', 'b00t', '2026-05-04T12:0' || n || ':00.000Z', n, 1, 0, 'complete', 1, 60, 2, 9, 0, n % 2, '' from file,
	(select 1 as n union select 2);
insert into stage (cycle, stage, work, begun_s) values (1, 0, 'wet', 1), (2, 0, 'wet', 1);
insert into drying (cycle, seq, stage, liquid, time_min, evidence, dry) values (1, 7, 2, 'water-detergent', 44, 'surface', 1);
insert into drying_by_hand (number, logged_wall, bench, bench_sha256, simulated, rack, disk, liquid, time_min, what_it_says,
	evidence) select 1, '2026-05-04T13:00:00.000Z', 'cellar', sha256, 1, 1, 'SB-0200', 'water', 40, 'exact', 'weighed' from file;
`

// TestLayout4IsBroughtUpToDate: nothing of an older record is lost or changed, its disks are listed as not registered, and
// everything new can be done with them.
func TestLayout4IsBroughtUpToDate(t *testing.T) {
	ctx := within(t)
	path := filepath.Join(t.TempDir(), "seed-bank.db")
	all, err := migrations(embedded)
	if err != nil {
		t.Fatal(err)
	}
	db := raw(t, path)
	if err := migrate(ctx, path, db, all[:4]); err != nil {
		t.Fatal(err)
	}
	if _, err := db.Exec(oldDisks); err != nil {
		t.Fatal(err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	_, err = OpenReadOnly(ctx, path)
	wantFault(t, err, ErrOlder, path)
	r := reopen(t, path, defaults)
	p, err := r.ListDisks(ctx, DiskQuery{State: Unregistered})
	if err != nil {
		t.Fatal(err)
	}
	differ(t, "disks", p, DiskPage{Total: 2, Disks: []DiskRow{
		{Label: "SB-0147", Created: noon, Cycles: 2, Rounds: -1}, {Label: "SB-0200", Rounds: -1}}})
	if got := outline(must[Story](t)(r.Story(ctx, "SB-0147"))); got != "cycle:water-detergent/1 cycle:water-detergent/0" {
		t.Errorf("story %q", got)
	}
	if got := outline(must[Story](t)(r.Story(ctx, "SB-0200"))); got != "drying:weighed" {
		t.Errorf("story %q", got)
	}
	enlist(t, r, "SB-0147")
	must[int64](t)(r.PutReadback(ctx, reading("SB-0147", 1, 3)))
	rounds := must[[]KeptRound](t)(r.Rounds(ctx, "SB-0147"))
	if len(rounds) != 1 || rounds[0].Cycle != 2 || rounds[0].AfterCycle != 2 {
		t.Errorf("rounds %+v", rounds)
	}
	if cut, err := r.CutShort(context.Background(), "cellar"); err != nil || cut == nil || cut.Number != 2 {
		t.Errorf("the cycle cut short is %+v, %v", cut, err)
	}
}
