package readback

import (
	"bytes"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// imageOf makes an image of sectors that each hold one letter.
func imageOf(f Format, letters string) []byte {
	image := make([]byte, 0, f.Size())
	for lba := range f.Total() {
		from, to, _ := f.Span(lba)
		image = append(image, bytes.Repeat([]byte{letters[lba%len(letters)]}, to-from)...)
	}
	return image
}

// lettersOf is the inverse of imageOf; what was filled in is '-'.
func lettersOf(t *testing.T, j *Joined) string {
	t.Helper()
	f, letters := j.Table.Format(), ""
	for lba := range f.Total() {
		from, to, _ := f.Span(lba)
		sector := j.Image[from:to]
		switch {
		case bytes.Equal(sector, bytes.Repeat(sector[:1], len(sector))):
			letters += string(sector[:1])
		case string(sector) == strings.Repeat("sector unknown  ", len(sector)/16):
			letters += "-"
		default:
			t.Fatalf("sector %d is %q", lba, sector)
		}
	}
	return letters
}

func statesOf(t *Table) string {
	letters := ""
	for lba := range t.Format().Total() {
		s, _ := t.State(lba)
		letters += string("-gbm"[s])
	}
	return letters
}

func TestJoin(t *testing.T) {
	const format = "1x1x12x128"
	f := mustParse(t, format)
	round := func(n int, states, image string) Round {
		r := Round{Source: Source{Number: n}, Table: sectorsOf(t, format, states)}
		if image != "" {
			r.Image = imageOf(f, image)
		}
		return r
	}
	// Sector by sector: one copy; two agree; two differ; 2 against 1; 2 against 2; 3 against 1; 1, 1, 1; none, bad beats
	// missing; none, missing beats untried; good only without an image, which beats bad; never tried; bad bytes are not
	// copies.
	j, err := Join([]Round{
		round(3, "-bgggggm--"+"-g", "zzACBBDzz--"+"F"),
		round(0, "ggggggg"+"-mb-b", "EEBBBBEzzz-"+"G"),
		round(4, "b--gggm"+"--g-b", ""),
		round(1, "bg-gggg"+"b---b", "zEzBCBFzzz-"+"G"),
		round(2, "mb--gg-"+"m-m-b", "zzzzCAzzzz-"+"G"),
	})
	if err != nil {
		t.Fatal(err)
	}
	if got := lettersOf(t, j); got != "EE-B-B-----F" {
		t.Error(got)
	}
	if got := statesOf(j.Table); got != "ggbgbgbbmm-g" {
		t.Error(got)
	}
	if d := cmp.Diff([]int{0, 0, -1, 0, -1, 0, -1, -1, -1, -1, -1, 3}, j.From); d != "" {
		t.Error(d)
	}
	if d := cmp.Diff([]Dispute{{2, [][]int{{0}, {3}}}, {4, [][]int{{0, 3}, {1, 2}}}, {6, [][]int{{0}, {1}, {3}}}}, j.Disputed); d != "" {
		t.Error(d)
	}
	if d := cmp.Diff([]Dispute{{3, [][]int{{0, 1}, {3}}}, {5, [][]int{{0, 1, 3}, {2}}}}, j.Outvoted); d != "" {
		t.Error(d)
	}
	if !slices.Equal(j.WithoutImage, []int{9}) || !slices.Equal(j.Unplaced, make([]int, 5)) {
		t.Errorf("%v %v", j.WithoutImage, j.Unplaced)
	}
	var file bytes.Buffer
	if err := j.WriteProvenance(&file); err != nil || file.String() != "cylinder,head,sector,round\n0,0,1,0\n0,0,2,0\n0,0,4,0\n0,0,6,0\n0,0,12,3\n" {
		t.Errorf("%v\n%s", err, file.String())
	}
	if err := j.WriteProvenance(full{}); err == nil {
		t.Error("a full disk went unnoticed")
	}
}

// The chosen bytes may be those of a later round when the first copies were wrong.
func TestFirstCopyIsOutvoted(t *testing.T) {
	const format = "1x1x1x128"
	f := mustParse(t, format)
	var rounds []Round
	for i, letter := range []string{"A", "B", "B"} {
		rounds = append(rounds, Round{Source{i, "reading, " + letter + fmt.Sprint(i)}, sectorsOf(t, format, "g"), imageOf(f, letter)})
	}
	j, err := Join(rounds)
	if err != nil || lettersOf(t, j) != "B" || j.From[0] != 1 || len(j.Outvoted) != 1 || !slices.Equal(j.Outvoted[0].Copies[0], []int{1, 2}) {
		t.Fatalf("%v %+v", err, j)
	}
	var file bytes.Buffer
	if _ = j.WriteProvenance(&file); file.String() != "cylinder,head,sector,round\n0,0,1,\"reading, B1\"\n" {
		t.Error(file.String())
	}
}

// A count by track gives bytes only where it leaves nothing open.
func TestJoinByTrack(t *testing.T) {
	const format = "2x2x2x128"
	f := mustParse(t, format)
	j, err := Join([]Round{
		{Source{1, ""}, tracksOf(t, "90 mm "+format, 0, 1, 2, -1), imageOf(f, "ABCDEFGH")},
		{Source{0, ""}, sectorsOf(t, format, "g-------"), imageOf(f, "A")},
	})
	if err != nil || lettersOf(t, j) != "AB------" || statesOf(j.Table) != "ggmmmm--" || !slices.Equal(j.Unplaced, []int{0, 1}) ||
		j.From[0] != 0 || j.From[1] != 1 || j.Table.Format().Media != MM90 {
		t.Fatalf("%v %+v", err, j)
	}
}

// What was read of a track, but cannot be placed, is counted per round.
func TestUnplaced(t *testing.T) {
	const format = "1x2x10x128"
	f := mustParse(t, format)
	j, err := Join([]Round{{Source{0, ""}, tracksOf(t, format, 3, 1), imageOf(f, "A")}, {Source{1, ""}, tracksOf(t, format, 10, 0), nil}})
	if err != nil || !slices.Equal(j.Unplaced, []int{7 + 9, 0}) || j.Table.Total() != (Counts{Missing: 20}) || len(j.WithoutImage) != 10 {
		t.Errorf("%v %+v %+v", err, j.Unplaced, j.Table.Total())
	}
}

func TestJoinRefuses(t *testing.T) {
	const format = "80x2x9x512"
	f := mustParse(t, format)
	good, image := sectorsOf(t, format, "g"), make([]byte, f.Size())
	other := sectorsOf(t, "80x2x18x512", "g")
	for want, rounds := range map[string][]Round{
		"no round has an image: there is nothing to join":                       nil,
		"no round has an image":                                                 {{Source{0, ""}, good, nil}},
		"round 1 has no table: without one nobody knows":                        {{Source{0, ""}, good, image}, {Source{1, ""}, nil, image}},
		"round 0 has no table":                                                  {{Source{0, ""}, nil, image}},
		"round -1 cannot be: rounds are numbered from 0":                        {{Source{-1, "x"}, good, image}},
		"round 2 is given twice: give every reading once":                       {{Source{2, ""}, good, image}, {Source{0, ""}, good, image}, {Source{2, ""}, good, image}},
		"round r.csv is given twice":                                            {{Source{2, "r.csv"}, good, image}, {Source{2, "r.csv"}, good, nil}},
		"round 0 has the format 80x2x9x512, and round 1 80x2x18x512: read both": {{Source{1, ""}, other, nil}, {Source{0, ""}, good, image}},
		"round 0: the image has 1474560 bytes and 80x2x9x512 has 737280: 737280 too many; this size would fit 90 mm 80x2x18x512": {{Source{0, ""}, good, make([]byte, 1474560)}},
		"round 0: the image has 0 bytes": {{Source{0, ""}, good, []byte{}}},
	} {
		if j, err := Join(rounds); j != nil || err == nil || !strings.Contains(err.Error(), want) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%v\nwant %s", err, want)
		}
	}
	if m := mediaOf([]Round{{Table: sectorsOf(t, "90 mm "+format, "")}, {Table: good}, {Table: sectorsOf(t, "130 mm "+format, "")}}); m != 0 {
		t.Errorf("rounds that differ in the size of the cartridge gave %d mm", m)
	}
}

// drawRounds draws readings of one disk in which a sector that is called good may hold something else now and then.
func drawRounds(t *rapid.T, f Format) []Round {
	numbers := rapid.SliceOfNDistinct(rapid.IntRange(0, 12), 1, 7, rapid.ID[int]).Draw(t, "numbers")
	rounds := make([]Round, len(numbers))
	for i, n := range numbers {
		r := Round{Source: Source{Number: n}, Table: drawTable(t, f, fmt.Sprintf("table %d", n))}
		if rapid.Bool().Draw(t, "a second reading of the round") && i > 0 {
			r.Source = Source{rounds[0].Number, fmt.Sprintf("reading %d", i)}
		}
		if i == 0 || rapid.IntRange(0, 4).Draw(t, "without an image") > 0 {
			wrong := rapid.SliceOfN(rapid.SampledFrom([]byte("AAAAAAB")), 1, 23).Draw(t, "letters")
			r.Image = imageOf(f, string(wrong))
			r.Image[rapid.IntRange(0, len(r.Image)-1).Draw(t, "flipped")] ^= 0x10
		}
		rounds[i] = r
	}
	return rounds
}

func drawSmallFormat(t *rapid.T) Format {
	f := drawFormat(t)
	f.Cylinders, f.Other = min(f.Cylinders, 3), slices.DeleteFunc(f.Other, func(o Track) bool { return o.Cylinder > 2 })
	return f
}

// plainJoin is the rule in the plainest words: write down every good copy of a sector, count equal ones, take what
// there is if they are all equal, or what more than half of at least three say. It returns the content of each sector,
// "" for none, and whether it is disputed.
func plainJoin(f Format, rounds []Round) (content []string, disputed []bool) {
	content, disputed = make([]string, f.Total()), make([]bool, f.Total())
	for lba := range content {
		from, to, _ := f.Span(lba)
		votes, n := map[string]int{}, 0
		for _, r := range rounds {
			if s, known := r.Table.State(lba); s == Good && known && r.Image != nil {
				votes[string(r.Image[from:to])]++
				n++
			}
		}
		for what, v := range votes {
			if v == n || n >= 3 && v > n-v {
				content[lba] = what
			}
		}
		disputed[lba] = n > 0 && content[lba] == ""
	}
	return content, disputed
}

// Against the plain rule: every sector that some round holds is in the image as one of the good copies or disputed, and
// never anything else; the source of each sector is the lowest round that holds these bytes.
func TestJoinAgainstPlainRule(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := drawSmallFormat(t)
		rounds := drawRounds(t, f)
		j, err := Join(rounds)
		if err != nil {
			t.Fatal(err)
		}
		content, disputed := plainJoin(f, rounds)
		var listed []int
		for _, d := range j.Disputed {
			listed = append(listed, d.LBA)
		}
		for lba, want := range content {
			from, to, _ := f.Span(lba)
			got, state := string(j.Image[from:to]), j.Table.states[lba]
			filler := strings.Repeat(Fill, (to-from)/16)
			if disputed[lba] != slices.Contains(listed, lba) || (state == Good) != (want != "") || (j.From[lba] >= 0) != (want != "") ||
				want != "" && got != want || want == "" && got != filler || disputed[lba] && state != Bad {
				t.Fatalf("sector %d is %q, %s, from %d; want %q, disputed %v", lba, got[:16], state, j.From[lba], want, disputed[lba])
			}
			if want != "" {
				checkLowest(t, f, rounds, j, lba, want)
			}
		}
	})
}

// checkLowest checks the provenance of one sector.
func checkLowest(t *rapid.T, f Format, rounds []Round, j *Joined, lba int, content string) {
	from, to, _ := f.Span(lba)
	source := j.Rounds[j.From[lba]]
	for _, r := range rounds {
		s, known := r.Table.State(lba)
		holds := s == Good && known && r.Image != nil && string(r.Image[from:to]) == content
		if r.compare(source) == 0 && !holds || holds && r.compare(source) < 0 {
			t.Fatalf("sector %d is said to come from %s; round %s holds it: %v", lba, source, r.Source, holds)
		}
	}
}

// The order in which the rounds are given changes nothing.
func TestJoinIsOrderFree(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := drawSmallFormat(t)
		rounds := drawRounds(t, f)
		want, err := Join(rounds)
		if err != nil {
			t.Fatal(err)
		}
		got, err := Join(rapid.Permutation(rounds).Draw(t, "shuffled"))
		if err != nil {
			t.Fatal(err)
		}
		if !reflect.DeepEqual(want, got) {
			t.Fatalf("%+v\nwant %+v", got, want)
		}
	})
}

// What was joined, joined again, alone or with readings that hold nothing new, is the same.
func TestJoinIsIdempotent(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := drawSmallFormat(t)
		once, err := Join(drawRounds(t, f))
		if err != nil {
			t.Fatal(err)
		}
		again := []Round{{Source{0, "joined"}, once.Table, once.Image}}
		if rapid.Bool().Draw(t, "and a round in which nothing was tried") {
			nothing, _ := NewTable(f)
			again = append(again, Round{Source{1, ""}, nothing, make([]byte, f.Size())})
		}
		if rapid.Bool().Draw(t, "and a copy") {
			again = append(again, Round{Source{2, ""}, once.Table, bytes.Clone(once.Image)})
		}
		twice, err := Join(again)
		if err != nil || !bytes.Equal(twice.Image, once.Image) || !twice.Table.Equal(once.Table) || len(twice.Disputed) > 0 || len(twice.WithoutImage) > 0 {
			t.Fatalf("%v\n%s\nwant\n%s", err, statesOf(twice.Table), statesOf(once.Table))
		}
	})
}

// A majority needs three: two readings that differ are disputed, whichever states the others have, and a third that
// agrees with one of them settles it.
func TestMajorityNeedsThree(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := drawSmallFormat(t)
		table, _ := NewTable(f)
		for i := range table.states {
			table.states[i] = Good
		}
		a, b := make([]byte, f.Size()), make([]byte, f.Size())
		lba := rapid.IntRange(0, f.Total()-1).Draw(t, "sector")
		from, to, _ := f.Span(lba)
		b[rapid.IntRange(from, to-1).Draw(t, "byte")] = 1
		rounds := []Round{{Source{0, ""}, table, a}, {Source{1, ""}, table, b}, {Source{2, ""}, table, nil}}
		j, err := Join(rounds)
		if err != nil || len(j.Disputed) != 1 || j.Disputed[0].LBA != lba || len(j.Outvoted) != 0 || j.Table.Total() != (Counts{Good: f.Total() - 1, Bad: 1}) {
			t.Fatalf("%v %+v", err, j.Disputed)
		}
		third := rapid.SampledFrom([][]byte{a, b}).Draw(t, "third")
		rounds[2].Image = third
		j, err = Join(rounds)
		if err != nil || len(j.Disputed) != 0 || len(j.Outvoted) != 1 || !bytes.Equal(j.Image, third) || j.Table.Total() != (Counts{Good: f.Total()}) {
			t.Fatalf("%v %+v", err, j.Disputed)
		}
	})
}

// The rounds themselves are not changed.
func TestJoinKeepsItsInput(t *testing.T) {
	const format = "2x2x2x128"
	f := mustParse(t, format)
	table, image := sectorsOf(t, format, "gbm-gggg"), imageOf(f, "ABCDEFGH")
	rounds := []Round{{Source{1, ""}, table, image}, {Source{0, ""}, tracksOf(t, format, 0, 0, 0, 0), imageOf(f, "ABCDEFGX")}}
	j, err := Join(rounds)
	if err != nil {
		t.Fatal(err)
	}
	clear(j.Image)
	_ = j.Table.Set(Address{0, 0, 1}, Missing)
	if rounds[0].Number != 1 || statesOf(table) != "gbm-gggg" || !bytes.Equal(image, imageOf(f, "ABCDEFGH")) {
		t.Error("the rounds were changed")
	}
}

// Whole disks of the sizes that come, with a first track of another density among them.
func TestJoinOfWholeDisks(t *testing.T) {
	for _, n := range Formats() {
		f := n.Format
		left, right := sectorsOf(t, n.Name(), ""), sectorsOf(t, n.Name(), "")
		for i := range left.states {
			left.states[i], right.states[i] = Good, Bad
			if i%2 == 1 {
				left.states[i], right.states[i] = right.states[i], left.states[i]
			}
		}
		truth := imageOf(f, "ABCDEFGHIJKLM")
		j, err := Join([]Round{{Source{0, ""}, left, onlyGood(f, left, truth)}, {Source{1, ""}, right, onlyGood(f, right, truth)}})
		if err != nil || !bytes.Equal(j.Image, truth) || j.Table.Total() != (Counts{Good: f.Total()}) {
			t.Errorf("%s: %v", n.Name(), err)
		}
	}
}

// onlyGood is an image in which nothing but the good sectors is left.
func onlyGood(f Format, t *Table, image []byte) []byte {
	image = bytes.Clone(image)
	for lba, s := range t.states {
		if from, to, _ := f.Span(lba); s != Good {
			clear(image[from:to])
		}
	}
	return image
}
