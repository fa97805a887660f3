package compare

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"
)

// said fails unless one of the sentences holds all of the parts.
func said(t *testing.T, words []string, parts ...string) {
	t.Helper()
	for _, w := range words {
		all := true
		for _, part := range parts {
			all = all && strings.Contains(w, part)
		}
		if all {
			return
		}
	}
	t.Errorf("no sentence says %q:\n%s", parts, strings.Join(words, "\n"))
}

// Eight disks cannot choose between two liquids unless the difference is enormous, and are told how many could.
func TestEightDisksCannotChoose(t *testing.T) {
	rows := twoGroups([]int{-60, -35, -80, -20}, []int{-30, -45, -10, -25})
	r := compared(t, rows)
	p := r.Pairs[0]
	if p.Better != "" || p.P <= alpha || p.Needed == nil || *p.Needed < 8 || r.NeededPerGroup == nil || *r.NeededPerGroup != *p.Needed {
		t.Fatalf("%+v", p)
	}
	if r.SmallestDetectable == nil || *r.SmallestDetectable < 30 {
		t.Fatalf("smallest detectable %v", r.SmallestDetectable)
	}
	said(t, r.Words, "a and b: no difference is shown", "counted over all deals within the blocks")
	said(t, r.Words, "these 8 disks could have shown a difference of about", fmt.Sprintf("about %d disks a method", *p.Needed))
	said(t, r.Words, "a: with 4 disks the smallest p that can come out is 0.125:", "no result could have been significant")
}

func TestFewDisks(t *testing.T) {
	for n := 1; n <= 5; n++ {
		m := compared(t, singles([]int{-9, -8, -7, -12, -30}[:n]...)).Methods[0]
		if want := 2 / float64(int(1)<<n); m.P != want || m.SmallestP != want {
			t.Errorf("%d disks: p %v, smallest %v, want %v", n, m.P, m.SmallestP, want)
		}
		if m.Interval != nil {
			t.Errorf("%d disks have a 95 %% interval %v", n, *m.Interval)
		}
	}
	r := compared(t, twoGroups([]int{-1, -2, -3}, []int{-70, -80, -90}))
	said(t, r.Words, "a and b: with 3 and 3 disks the smallest p that can come out is 0.1", "do not choose")
	said(t, r.Words, "these 6 disks could not have shown a difference of any size")
	if r.SmallestDetectable != nil || r.Pairs[0].Better != "" {
		t.Errorf("%+v", r.Pairs[0])
	}
}

func TestShownDifference(t *testing.T) {
	r := compared(t, twoGroups([]int{-60, -55, -70, -52, -66, -61}, []int{-5, 3, -12, -20, 0, -9}))
	p := r.Pairs[0]
	if p.Better != "a" || p.P != 2.0/924 || *p.Difference > -45 || *p.Difference < -65 {
		t.Errorf("%+v", p)
	}
	said(t, r.Words, "a left fewer sectors missing than b, by 54", "p = 0.00216, counted")
	said(t, r.Words, "a: fewer sectors are missing than before, by 60.5 a disk (95 % interval 52 to 70)")
}

// With a stated difference the number of disks is about that one.
func TestStatedDifference(t *testing.T) {
	rows := twoGroups([]int{-60, -35, -80, -20, -50, -31}, []int{-30, -45, -10, -25, -52, -30})
	r, err := Compare(rows, Options{Difference: 5})
	if err != nil {
		t.Fatal(err)
	}
	wide, err := Compare(rows, Options{Difference: 50})
	if err != nil {
		t.Fatal(err)
	}
	if *r.NeededPerGroup < 40**wide.NeededPerGroup {
		t.Errorf("5 sectors take %d disks, 50 take %d", *r.NeededPerGroup, *wide.NeededPerGroup)
	}
	said(t, r.Words, "To show one of 5 sectors about")
}

func TestMethodsThatNeverMeet(t *testing.T) {
	rows := twoGroups([]int{-60, -55}, []int{-5, 3})
	for i := range rows {
		rows[i].Block = rows[i].Method
	}
	r := compared(t, rows)
	if p := r.Pairs[0]; p.Difference != nil || p.P != 1 || p.Disks != [2]int{} {
		t.Errorf("%+v", p)
	}
	said(t, r.Words, "no block holds both")
}

// Blocks that differ widely, each with a method's harder share: only what differs within a block counts.
func TestBlocksAreNotCompared(t *testing.T) {
	var rows []Row
	for b := range 6 {
		for i := range 4 {
			method := "a"
			if i == 3 || b > 3 && i == 2 {
				method = "b"
			}
			change := -40*b - i
			rows = append(rows, Row{Disk: fmt.Sprint(b, i), Block: fmt.Sprint(b), Method: method, Before: 500, After: 500 + change})
		}
	}
	if d := *compared(t, rows).Pairs[0].Difference; d < 0 || d > 4 {
		t.Errorf("difference %v, want between 0 and 4: the blocks' own differences must not come in", d)
	}
}

// Starts that are all alike leave no line to lay, whatever rounding makes of their mean.
func TestEqualStartsAreNotAdjustedFor(t *testing.T) {
	for _, before := range []int{0, 7, 1000, 2879} {
		rows := twoGroups([]int{4, 9, 5, 6, 1, 2}, []int{9, 0, 7, 3, 1, 8, 7})
		for i := range rows {
			rows[i].Before, rows[i].After = before, before+rows[i].change()
		}
		if p := compared(t, rows).Pairs[0]; p.Slope != 0 || *p.StartDifference != 0 || p.StartP != 1 {
			t.Errorf("all start at %d: slope %v, starts differ by %v, p %v", before, p.Slope, *p.StartDifference, p.StartP)
		}
	}
}

// A difference that no chance explains is still no winner between disks that did not start alike.
func TestUnlikeStartsHaveNoWinner(t *testing.T) {
	alike := twoGroups([]int{-300, -290, -310, -305, -295, -302, -298, -301}, []int{0, 5, -6, 2, -3, 7, -1, 4})
	if p := compared(t, alike).Pairs[0]; p.Better != "a" {
		t.Fatalf("at equal starts %q is better", p.Better)
	}
	for i := range alike {
		more := 3 * (i % 8)
		if i < 8 {
			more += 12
		}
		alike[i].Before, alike[i].After = alike[i].Before+more, alike[i].After+more
	}
	r := compared(t, alike)
	p := r.Pairs[0]
	if p.Better != "" || p.Adjusted > alpha || p.Interval == nil || p.Interval[1] >= 0 || p.StartP > alpha {
		t.Errorf("%+v", p)
	}
	said(t, r.Words, "a and b: their disks did not start alike (12 missing sectors apart", "neither is called better")
}

func TestRegainedAndLostAreKeptApart(t *testing.T) {
	rows := []Row{
		{Disk: "1", Method: "m", Before: 50, After: 30, Split: true, Regained: 45, NewlyLost: 25},
		{Disk: "2", Method: "m", Before: 10, After: 12, Split: true, Regained: 0, NewlyLost: 2},
		{Disk: "3", Method: "m", Before: 7, After: 7},
	}
	r := compared(t, rows)
	m := r.Methods[0]
	if m.Counted != 2 || *m.Regained != 45 || *m.NewlyLost != 27 || m.Net != 18 || m.Better != 1 || m.Worse != 1 {
		t.Errorf("%+v", m)
	}
	said(t, r.Words, "1 better, 1 worse, 1 unchanged", "On 2 disks", "45 were regained and 27 newly lost, a net of +18")
}

func TestRefusals(t *testing.T) {
	good := Row{Disk: "1", Method: "m", Before: 5, After: 3}
	for want, spoil := range map[string]func(*Row){
		"no label":             func(r *Row) { r.Disk = "" },
		"no method":            func(r *Row) { r.Method = "" },
		"below zero":           func(r *Row) { r.After = -1 },
		"than any disk has":    func(r *Row) { r.Before = mostSectors + 1 },
		"of the 4 that it has": func(r *Row) { r.Sectors = 4 },
		"only 5 were missing":  func(r *Row) { r.Split, r.Regained, r.NewlyLost = true, 6, 4 },
		"do not leave 3":       func(r *Row) { r.Split, r.Regained = true, 1 },
		"cannot be below zero": func(r *Row) { r.Split, r.Regained, r.NewlyLost = true, 1, -1 },
		"only 1 were readable": func(r *Row) { r.Split, r.Regained, r.NewlyLost, r.Sectors = true, 4, 2, 6 },
	} {
		row := good
		spoil(&row)
		if _, err := Compare([]Row{row}, Options{}); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v, want something with %q", err, want)
		}
	}
	if _, err := Compare([]Row{good, good}, Options{}); err == nil || !strings.Contains(err.Error(), "twice") {
		t.Errorf("a disk that is there twice: %v", err)
	}
	if _, err := Compare(nil, Options{}); err == nil {
		t.Error("nothing is compared")
	}
	var many []Row
	for i := range mostMethods + 1 {
		many = append(many, Row{Disk: fmt.Sprint(i), Method: fmt.Sprint(i)})
	}
	if _, err := Compare(many, Options{}); err == nil || !strings.Contains(err.Error(), "methods") {
		t.Errorf("too many methods: %v", err)
	}
}

// The names in JSON are promised.
func TestJSON(t *testing.T) {
	text, err := json.Marshal(compared(t, twoGroups([]int{-1, -2, -3, -9, -4, -5}, []int{0, 1, 2, 2, 1, 4})))
	if err != nil {
		t.Fatal(err)
	}
	var got struct {
		Methods []struct {
			Name                            string
			N                               int
			Before, After, Median_Change, P float64
			Interval                        []float64
			Exact                           *bool
		}
		Pairs []struct {
			A, B                    string
			Difference, P, Adjusted *float64
			Interval                []float64
			Exact                   *bool
		}
		Smallest_Detectable *float64
		Needed_Per_Group    *int
		Words               []string
	}
	if err := json.Unmarshal(text, &got); err != nil {
		t.Fatal(err)
	}
	m, p := got.Methods[1], got.Pairs[0]
	if m.Name != "b" || m.N != 6 || m.Before != 5000 || m.Median_Change != 1.5 || len(m.Interval) != 2 || m.Exact == nil {
		t.Errorf("%s", text)
	}
	if p.A != "a" || p.B != "b" || p.Difference == nil || p.P == nil || p.Adjusted == nil || p.Exact == nil || len(p.Interval) != 2 ||
		got.Smallest_Detectable == nil || got.Needed_Per_Group == nil || len(got.Words) < 4 {
		t.Errorf("%s", text)
	}
	for _, name := range []string{`"p_signflip":`, `"regained":null`, `"newly_lost":null`} {
		if !strings.Contains(string(text), name) {
			t.Errorf("%s is not in %s", name, text)
		}
	}
}

// Hundreds of disks are too many to count: the p is drawn, says so, and has the seed beside it.
func TestManyDisksAreDrawn(t *testing.T) {
	var rows []Row
	for i := range 1900 {
		rows = append(rows, Row{Disk: fmt.Sprint(i), Method: []string{"a", "b"}[i%2], Before: 3000 + i*7919%997, After: 2000 + i*104729%1999})
	}
	r, err := Compare(rows, Options{Seed: 5, Draws: 200})
	if err != nil {
		t.Fatal(err)
	}
	if p := r.Pairs[0]; p.Exact || p.Error <= 0 || p.P < 2.0/201 {
		t.Errorf("%+v", p)
	}
	said(t, r.Words, "drawn, standard error")
	said(t, r.Words, "the seed is 5")
}
