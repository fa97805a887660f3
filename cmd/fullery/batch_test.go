package main

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"fullery/disks/batch"
	"fullery/disks/compare"

	"github.com/charmbracelet/x/ansi"
	"pgregory.net/rapid"
)

// anyLabel draws labels as people write them, some of them unkind to CSV.
func anyLabel() *rapid.Generator[string] {
	return rapid.Custom(func(t *rapid.T) string {
		return rapid.SampledFrom([]string{"SB-", "#", "fern house, part ", `"alpine" `, "世界", "accession register of the alpine house and the pits, part ",
			"=", "a;b "}).Draw(t, "kind")
	})
}

// anyBatch draws a batch that can be dealt.
func anyBatch(t *rapid.T) (disks []batch.Disk, methods []string) {
	names := []string{"isopropanol-91", "water-detergent", "by hand", "a name, with a comma", "#9", strings.Repeat("long ", 12) + "name"}
	methods = names[:rapid.IntRange(2, len(names)).Draw(t, "methods")]
	for i := range rapid.IntRange(len(methods), 30).Draw(t, "disks") {
		d := batch.Disk{Name: anyLabel().Draw(t, "label") + fmt.Sprint(i), Missing: rapid.IntRange(0, 400).Draw(t, "missing")}
		if i < 3 && rapid.Bool().Draw(t, "bound") {
			d.Only = methods[i%2]
		}
		disks = append(disks, d)
	}
	return disks, methods
}

// From a deal to its sheet and its table: nothing is lost on the way, every disk has one line of 80 characters at most, and
// compare takes the table when it is filled in. Disks that were placed are compared with nobody.
func TestDealToCompare(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		disks, methods := anyBatch(t)
		dealt, err := batch.Deal(disks, methods, rapid.Uint64().Draw(t, "seed"), 1000)
		if err != nil {
			t.Skip(err)
		}
		text, err := json.Marshal(dealt)
		if err != nil {
			t.Fatal(err)
		}
		again, err := readDeal("deal.json", strings.NewReader(string(text)))
		if err != nil {
			t.Fatal(err)
		}
		checkSheet(t, again, len(disks))

		filled := strings.ReplaceAll(tableToFill(again), ",,", ",5,")
		rows, err := compare.Read("results.csv", strings.NewReader(filled))
		if err != nil {
			t.Fatalf("%v\n%s", err, filled)
		}
		placed := 0
		for _, d := range dealt.Disks {
			i := slices.IndexFunc(rows, func(r compare.Row) bool { return r.Disk == d.Name })
			if i < 0 || rows[i].Method != d.Group || rows[i].Before != d.Missing {
				t.Fatalf("%+v became row %d of\n%s", d, i, filled)
			}
			if d.Block != 0 {
				continue
			}
			placed++
			for _, r := range rows {
				if r.Block == rows[i].Block && r.Method != rows[i].Method {
					t.Fatalf("%q was placed, and shares its block with %q", d.Name, r.Disk)
				}
			}
		}
		if len(rows) != len(disks) {
			t.Fatalf("%d rows of %d disks, %d placed", len(rows), len(disks), placed)
		}
	})
}

// checkSheet checks what is printed of a deal.
func checkSheet(t *rapid.T, d batch.Dealt, disks int) {
	var b strings.Builder
	printSheet(&b, "deal.json", d)
	boxes := strings.Repeat(" [ ]", len(batch.Ticks())) + " _____"
	if got := strings.Count(b.String(), boxes); got != disks {
		t.Fatalf("%d lines with boxes for %d disks:\n%s", got, disks, b.String())
	}
	for _, line := range strings.Split(b.String(), "\n") {
		if ansi.StringWidth(line) > sheetColumns {
			t.Fatalf("a line of %d characters: %s", ansi.StringWidth(line), line)
		}
	}
	flat := strings.Join(strings.Fields(b.String()), "")
	for _, p := range d.Disks {
		// A label that is folded goes on behind boxes and figures: its parts are there.
		for _, part := range strings.Fields(p.Name) {
			if !strings.Contains(flat, part) {
				t.Fatalf("%q of %q is not on the sheet:\n%s", part, p.Name, b.String())
			}
		}
	}
}

// The same disks, methods and seed are dealt the same, whatever their order; a seed that is drawn is told, and deals the same
// again.
func TestDealAgain(t *testing.T) {
	forward, backward := "disk,missing\n", "missing;disk\n"
	for i := range 12 {
		forward += fmt.Sprintf("SB-%d,%d\n", i, i*i)
		backward += fmt.Sprintf("%d;SB-%d\n", (11-i)*(11-i), 11-i)
	}
	status, first, errs := command(t, forward, "batch", "deal", "-", "--methods", "a, b", "--json")
	if status != 0 {
		t.Fatal(errs)
	}
	var d batch.Dealt
	if err := json.Unmarshal([]byte(first), &d); err != nil || d.Seed == 0 || d.Seed > mostSeed {
		t.Fatalf("%v, seed %d", err, d.Seed)
	}
	seed := fmt.Sprint(d.Seed)
	if _, again, _ := command(t, backward, "batch", "deal", "-", "--methods", "a,b", "--json", "--seed", seed); again != first {
		t.Errorf("seed %s:\n%s\nthen\n%s", seed, first, again)
	}
	_, words, _ := command(t, forward, "batch", "deal", "-", "--methods", "a,b", "--seed", seed)
	if !strings.Contains(words, "seed "+seed) || strings.Contains(words, "The seed was drawn") || !strings.Contains(words, "add --seed "+seed+" --out") {
		t.Errorf("%s", words)
	}
	var keys map[string]any
	if err := json.Unmarshal([]byte(first), &keys); err != nil {
		t.Fatal(err)
	}
	for _, key := range []string{"groups", "imbalance", "optimal", "bound", "seed"} {
		if _, ok := keys[key]; !ok {
			t.Errorf("a deal has no %q", key)
		}
	}
	seeds := map[string]bool{}
	for range 4 {
		_, out, _ := command(t, forward, "batch", "deal", "-", "--groups", "2")
		line, _, _ := strings.Cut(out, "\n")
		seeds[line] = true
	}
	if len(seeds) < 2 {
		t.Errorf("seeds that are drawn are always the same: %v", seeds)
	}
}

// A deal is kept whole, and is never replaced without a word; where it cannot be kept it is shown.
func TestDealIsKept(t *testing.T) {
	dir := t.TempDir()
	file, table := filepath.Join(dir, "deal.json"), filepath.Join(dir, "results.csv")
	const disks = "disk,missing\nSB-1,4\nSB-2,9\nSB-3,5\nSB-4,8\n"
	if status, out, errs := command(t, disks, "batch", "deal", "-", "--groups", "2", "--out", file); status != 0 || !strings.Contains(out, "kept in "+file) {
		t.Fatal(status, out, errs)
	}
	before, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	status, out, errs := command(t, disks, "batch", "deal", "-", "--groups", "2", "--out", file)
	if after, _ := os.ReadFile(file); status != statusUsage || out != "" || !strings.Contains(errs, "is there already") || string(after) != string(before) {
		t.Errorf("status %d, %s%s", status, out, errs)
	}
	status, out, errs = command(t, disks, "batch", "deal", "-", "--groups", "2", "--out", filepath.Join(dir, "no", "deal.json"))
	if status != statusUsage || !strings.Contains(out, "4 disks dealt") || !strings.Contains(errs, "cannot write") {
		t.Errorf("status %d, %s%s", status, out, errs)
	}
	for i, want := range []int{statusDone, statusUsage} {
		if status, _, errs := command(t, "", "batch", "sheet", file, "--table", table); status != want {
			t.Errorf("sheet %d: status %d, %s", i, status, errs)
		}
	}
	if status, _, errs := command(t, "", "compare", table); status != statusUsage || !strings.Contains(errs, table+":2: after is empty") {
		t.Errorf("status %d, %s", status, errs)
	}
}

// goodDeal is a deal of two groups as it is kept.
const goodDeal = `{"groups":[{"name":"a","disks":["x","y"]},
{"name":"b","disks":["z"]}],"seed":3,
"disks":[{"disk":"x","missing":1,"group":"a","block":1},{"disk":"y","missing":3,"group":"a","block":1},{"disk":"z","missing":2,"group":"b","block":1}]}`

func TestReadDealRefuses(t *testing.T) {
	if _, err := readDeal("d", strings.NewReader("\ufeff"+goodDeal)); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ from, to, want string }{
		{goodDeal, "", "d:1: this is not JSON"},
		{goodDeal, "[]", "d:1: this is JSON, but no deal"},
		{goodDeal, "{}", "there is no deal in it"},
		{`"seed":3,`, `"seed":3`, "d:3: this is not JSON"},
		{`"seed":3`, `"seed":-3`, `d:2: "seed" cannot be a number -3`},
		{`["z"]`, `["z","x"]`, `the disk "x" is in the list of "b"`},
		{`["x","y"]`, `["x","x"]`, "the groups list 2 of its 3 disks"},
		{`["x","y"]`, `["x"]`, "the groups list 2 of its 3 disks"},
		{`"name":"b"`, `"name":"a"`, `the group "a" has no name of its own`},
		{`"disk":"z"`, `"disk":"x"`, `the disk "x" is there twice`},
		{`"disk":"z"`, `"disk":" "`, "a disk has no name"},
		{`"disk":"z"`, `"disk":"z\u001b[2J"`, "cannot be seen"},
		{`"missing":2`, `"missing":-2`, "cannot have -2 sectors missing"},
		{`"group":"b"`, `"group":"c"`, `is in the group "c", which is not there`},
		{`"group":"b","block":1`, `"group":"b","block":99999999999`, "cannot be in block 99999999999"},
	} {
		if _, err := readDeal("d", strings.NewReader(strings.Replace(goodDeal, c.from, c.to, 1))); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s for %s: %v", c.to, c.from, err)
		}
	}
}

// Whatever stands in a file, it is refused or has a sheet.
func FuzzReadDeal(f *testing.F) {
	f.Add([]byte(goodDeal))
	f.Add([]byte(`{"groups":[{"name":"a"},{"name":"b"}],"disks":[]}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		d, err := readDeal("d", strings.NewReader(string(data)))
		if err != nil {
			return
		}
		var b strings.Builder
		printSheet(&b, "d", d)
		if strings.Count(b.String(), "_____") < len(d.Disks) {
			t.Errorf("%d disks on\n%s", len(d.Disks), b.String())
		}
	})
}

func TestLetters(t *testing.T) {
	for i, want := range map[int]string{0: "A", 25: "Z", 26: "AA", 51: "AZ", 52: "BA"} {
		if got := letterOf(i); got != want {
			t.Errorf("letter %d is %s, want %s", i, got, want)
		}
	}
}
