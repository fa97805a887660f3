package main

import (
	"bytes"
	"encoding/json"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"fullery/disks/compare"

	"pgregory.net/rapid"
)

// sample is one of the invented tables.
func sample(name string) string { return filepath.Join("testdata", "compare", name) }

// command runs one command line in this process.
func command(t interface{ Helper() }, in string, args ...string) (status int, out, errs string) {
	t.Helper()
	var o, e bytes.Buffer
	status = execute(args, strings.NewReader(in), &o, &e)
	return status, o.String(), e.String()
}

// The tables that ship with the tests say that they are invented.
func TestSamplesAreInvented(t *testing.T) {
	files, err := filepath.Glob(sample("*.csv"))
	if err != nil || len(files) < 4 {
		t.Fatalf("%d tables, %v", len(files), err)
	}
	for _, file := range files {
		text, err := os.ReadFile(file)
		if err != nil || !bytes.HasPrefix(text, []byte("# Invented, and not measured:")) {
			t.Errorf("%s does not say so: %v", file, err)
		}
	}
}

// What each table lets one say, first of all.
func TestCompareAnswers(t *testing.T) {
	for _, c := range []struct {
		file  string
		want  []string
		wants []string // not
	}{
		{"eight.csv", []string{"8 disks, 2 methods\n\nThese 8 disks cannot choose between isopropanol-91 and water-detergent",
			"disks a method could show a difference as large as was seen"}, []string{"Shown:", "p, all pairs"}},
		{"twenty.csv", []string{"Shown: isopropanol-91 left fewer sectors missing than water-detergent", "if chance dealt the disks",
			"Of what could be read before it lost more on these disks: 10.5 sectors a disk, water-detergent 8.8."}, []string{"cannot choose"}},
		{"one-method.csv", []string{"Shown: after isopropanol-91 fewer sectors are missing", "no other method to compare it with"},
			[]string{"Between methods", "cannot choose"}},
		{"two-hundred.csv", []string{"p, all pairs", "Shown: water-detergent left fewer sectors missing than read again"}, []string{"cannot choose"}},
	} {
		status, out, errs := command(t, "", "compare", sample(c.file))
		flat := strings.ReplaceAll(out, ".\n", ". ")
		for _, want := range c.want {
			if !strings.Contains(out, want) && !strings.Contains(strings.Join(strings.Fields(flat), " "), want) {
				t.Errorf("%s: it does not say %q:\n%s", c.file, want, out)
			}
		}
		for _, not := range c.wants {
			if strings.Contains(out, not) {
				t.Errorf("%s: it says %q:\n%s", c.file, not, out)
			}
		}
		if status != 0 || errs != "" {
			t.Errorf("%s: status %d, %s", c.file, status, errs)
		}
	}
}

// The names that programs rely on, and null where something is not known.
func TestCompareJSON(t *testing.T) {
	status, out, errs := command(t, "", "compare", sample("eight.csv"), "--json", "--difference", "10", "--seed", "7")
	if status != 0 {
		t.Fatal(status, errs)
	}
	var got struct {
		Methods []map[string]any
		Pairs   []map[string]any
		Words   []string
		Seed    uint64
		Least   *float64 `json:"smallest_detectable"`
		Needed  *int     `json:"needed_per_group"`
	}
	if err := json.Unmarshal([]byte(out), &got); err != nil {
		t.Fatal(err)
	}
	for _, key := range []string{"name", "n", "before", "after", "median_change", "interval", "p_signflip", "exact"} {
		if _, ok := got.Methods[0][key]; !ok {
			t.Errorf("a method has no %q", key)
		}
	}
	for _, key := range []string{"a", "b", "difference", "interval", "p", "exact", "adjusted"} {
		if _, ok := got.Pairs[0][key]; !ok {
			t.Errorf("a pair has no %q", key)
		}
	}
	if got.Methods[0]["interval"] != nil || len(got.Words) == 0 || got.Seed != 7 || got.Least == nil || got.Needed == nil || *got.Needed != 16 {
		t.Errorf("%s", out)
	}
}

// "Shown" stands in the answer exactly where the comparison shows something, and every pair that it does not is told as such,
// or counted.
func TestAnswerNamesNoWinnerFromNoise(t *testing.T) {
	// told checks one answer, and returns how many pairs it shows.
	told := func(t rapid.TB, rows []compare.Row) (better int) {
		result, err := compare.Compare(rows, compare.Options{})
		if err != nil {
			t.Fatal(err)
		}
		k := &compared{rows: rows, result: result}
		answer := strings.Join(k.answer(), "\n")
		for _, p := range result.Pairs {
			if p.Better != "" {
				better++
			}
		}
		if got := strings.Count(answer, "Shown: m"); got != better {
			t.Fatalf("%d pairs are shown and %d told:\n%s", better, got, answer)
		}
		open := len(result.Pairs) - better
		said := strings.Count(answer, "cannot choose") + strings.Count(answer, "Nothing can be said")
		if said != min(open, mostTold) || strings.Contains(answer, "Nor is anything") != (open > mostTold) {
			t.Fatalf("%d pairs are open and %d told:\n%s", open, said, answer)
		}
		return better
	}
	rapid.Check(t, func(t *rapid.T) {
		var rows []compare.Row
		methods := rapid.IntRange(1, 4).Draw(t, "methods")
		for i := range rapid.IntRange(1, 24).Draw(t, "disks") {
			m := rapid.IntRange(0, methods-1).Draw(t, "method")
			before := rapid.IntRange(0, 80).Draw(t, "before")
			after := max(0, before-rapid.IntRange(0, 3).Draw(t, "gain")*(m*20)+rapid.IntRange(-9, 9).Draw(t, "noise"))
			rows = append(rows, compare.Row{Disk: fmt.Sprint(i), Method: fmt.Sprint("m", m), Before: before, After: after,
				Block: rapid.SampledFrom([]string{"", "", "x"}).Draw(t, "block")})
		}
		told(t, rows)
	})
	var plain []compare.Row // what no chance explains
	for i := range 20 {
		plain = append(plain, compare.Row{Disk: fmt.Sprint(i), Method: fmt.Sprint("m", i%2), Before: 60 + i, After: 60 + i - 40*(i%2) - i%3})
	}
	if told(t, plain) != 1 {
		t.Error("nothing was shown where a method regained forty sectors a disk more")
	}
}

// Disks whose method did nothing: over many such tables a winner is called as rarely as is promised. 5 % of 300 are 15, of 60
// are 3; more than 28, or 9, have a probability below 1 in 1000 (binomial).
func TestNoiseHasNoWinner(t *testing.T) {
	tables, most, winners := 300, 28, 0
	if testing.Short() {
		tables, most = 60, 9
	}
	chance := rand.New(rand.NewPCG(11, 0))
	for range tables {
		text := "disk,method,before,after\n"
		for i, at := range chance.Perm(16) {
			before := 20 + chance.IntN(200)
			text += fmt.Sprintf("SB-%d,%s,%d,%d\n", i, []string{"a", "b"}[at%2], before, chance.IntN(before+1))
		}
		status, out, errs := command(t, text, "compare", "-")
		if status != 0 {
			t.Fatal(status, errs)
		}
		if strings.Contains(out, "left fewer sectors missing") {
			winners++
		}
	}
	t.Logf("%d winners among %d tables of noise", winners, tables)
	if winners > most {
		t.Errorf("%d winners among %d tables of noise", winners, tables)
	}
}

// The picture has a panel a method, a mark a disk, and says what the disks show. A file of that name stays as it is.
func TestComparePicture(t *testing.T) {
	file := filepath.Join(t.TempDir(), "slopes.svg")
	status, out, errs := command(t, "", "compare", sample("twenty.csv"), "--plot", file)
	if status != 0 || !strings.Contains(out, "The slopes are drawn in "+file) {
		t.Fatal(status, out, errs)
	}
	picture, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	texts := ""
	for d := xml.NewDecoder(bytes.NewReader(picture)); ; {
		tok, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		if chars, ok := tok.(xml.CharData); ok {
			texts += string(chars) + " "
		}
	}
	for _, want := range []string{"isopropanol-91", "9 better, 1 worse, 0 the same", "SB-0402", "Shown: isopropanol-91 left fewer"} {
		if !strings.Contains(texts, want) {
			t.Errorf("the picture does not say %q", want)
		}
	}
	status, out, errs = command(t, "", "compare", sample("eight.csv"), "--plot", file)
	if again, err := os.ReadFile(file); status != statusUsage || out != "" || !strings.Contains(errs, "add --force") || err != nil || !bytes.Equal(again, picture) {
		t.Errorf("status %d, %s%s, %v", status, out, errs, err)
	}
	if status, _, errs := command(t, "", "compare", sample("eight.csv"), "--plot", file, "--force"); status != 0 {
		t.Errorf("status %d, %s", status, errs)
	}
	if again, _ := os.ReadFile(file); bytes.Equal(again, picture) {
		t.Error("--force did not replace the picture")
	}
	// Where the picture cannot be written the figures are shown all the same.
	status, out, errs = command(t, "", "compare", sample("eight.csv"), "--plot", filepath.Join(file, "x.svg"))
	if status != statusUsage || !strings.Contains(out, "cannot choose") || !strings.Contains(errs, "cannot write") {
		t.Errorf("status %d, %s%s", status, out, errs)
	}
}

// A name that would paint the screen does not.
func TestCompareCleansNames(t *testing.T) {
	text := "disk,method,before,after\nSB-1,\x1b[31mred,10,4\nSB-2,b\u202eb,9,9\nSB-3,\x1b[31mred,7,8\n"
	for _, args := range [][]string{{"compare", "-"}, {"compare", "-", "--json"}} {
		status, out, errs := command(t, text, args...)
		if status != 0 || strings.ContainsAny(out+errs, "\x1b") || args[len(args)-1] != "--json" && strings.Contains(out, "\u202e") {
			t.Errorf("%v: status %d: %q %q", args, status, out, errs)
		}
	}
	if _, _, errs := command(t, text+"SB-4,b,x\x1b[2J,1\n", "compare", "-"); strings.Contains(errs, "\x1b") {
		t.Errorf("%q", errs)
	}
}

// Any text gives an answer or one sentence with a way out, and never a picture from nothing.
func TestCompareOfAnything(t *testing.T) {
	pieces := []string{"disk,method,before,after\n", "SB-1,a,1,2\n", "SB-2,b,3,0\n", "SB-2", ",", ";", "\t", "\n", `"`, "#", "-1", "999999999999", "\x00",
		"\xef\xbb\xbf", "é", "block", "a,a,a,a\n"}
	rapid.Check(t, func(t *rapid.T) {
		text := strings.Join(rapid.SliceOfN(rapid.SampledFrom(pieces), 0, 12).Draw(t, "pieces"), "")
		status, out, errs := command(t, text, "compare", "-")
		switch {
		case status == 0 && (out == "" || errs != ""), status != 0 && (status != statusUsage || out != "" || strings.Count(errs, "\n") != 1):
			t.Fatalf("status %d, %q, %q", status, out, errs)
		}
	})
}

func TestPrintFigures(t *testing.T) {
	var b bytes.Buffer
	printFigures(&b, 1, [][]string{{"method", "n"}, {"世界", "7"}, {strings.Repeat("long ", 9), "12"}})
	lines := strings.Split(b.String(), "\n")
	want := []string{"  method                     n", "  世界                       7", "  long long long long lon…  12", ""}
	if !slices.Equal(lines, want) {
		t.Errorf("%q", lines)
	}
}
