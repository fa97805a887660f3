package readback

import (
	"bytes"
	"errors"
	"fmt"
	"strings"
	"testing"
	"testing/iotest"

	"fullery/recipe/tomltree"
)

const (
	bySector = "cylinder,head,sector,state\n"
	byTrack  = "cylinder,head,missing\n"
)

// What is wrong is told with its place and what would be right, and nothing is taken.
func TestBadTables(t *testing.T) {
	for _, c := range []struct{ name, format, text, want string }{
		{"nothing", "", "", "x.csv:1:1: there is no row of a table in the file; it wants a header, cylinder,head,sector,state or cylinder,head,missing, and rows below it"},
		{"blank", "", "\n , ,\n# a\n", "x.csv:3:1: there is no row"},
		{"header alone", "", bySector + "\n,,\n", "x.csv:3:1: there is no row"},
		{"no header", "", "0,0,1,good\n", `x.csv:1:1: the column "0" is not known; put the names of the columns into the first line: cylinder,head,sector,state`},
		{"misspelt", "", "cylinder,head,sektor,state\n", `x.csv:1:15: the column "sektor" is not known; did you mean sector?`},
		{"another word", "", "track,head,sector,state\n", `x.csv:1:1: the column "track" is not known; call it cylinder`},
		{"unknown", "", "cylinder,head,sector,state,remark\n", `x.csv:1:28: the column "remark" is not known; the columns are cylinder,`},
		{"no name", "", "cylinder,,head,sector,state\n", `x.csv:1:10: the column "" is not known`},
		{"twice", "", "cylinder,head,sector,HEAD\n", "x.csv:1:22: the column head is there twice; leave one out"},
		{"a column short", "", "cylinder,head,state\n", `x.csv:1:1: the columns are ["cylinder" "head" "state"]; give cylinder,head,sector,state, or`},
		{"both kinds", "", "cylinder,head,sector,state,missing\n", "x.csv:1:1: the columns are"},
		{"quotes in the header", "", "cylinder,\"head\n", "x.csv:1:10: the quotation marks do not match on this line; cells of a table need none"},
		{"no separator", "", "cylinder|head\n", `the column "cylinder|head" is not known`},
		{"a strange separator", "", "sep=|\ncylinder|head\n", `x.csv:1:1: the column "sep=|" is not known`},

		{"torn", "", bySector + "0,0,1,good\n0,0,", "x.csv:3:5: this row has 3 cells and the header 4; the row is torn: complete it, or take it out"},
		{"too long", "", bySector + "0,0,1,good,bad\n", "x.csv:2:12: this row has 5 cells and the header 4"},
		{"no state", "", bySector + "0,0,1,\n", `x.csv:2:7: the state "" is not known; write good, bad, missing or untried`},
		{"half a state", "", bySector + "0,0,1,goo", `x.csv:2:7: the state "goo" is not known`},
		{"empty number", "", bySector + "0,,1,good\n", "x.csv:2:3: the head is empty; write its number, or take the row out if it was not tried"},
		{"a date", "", bySector + "0,0,1-2,good\n", `x.csv:2:5: sector "1-2" is not a whole number from 0; write it in digits, like 12; a spreadsheet may`},
		{"a decimal", "", bySector + "0.0,0,1,good\n", `x.csv:2:1: cylinder "0.0" is not a whole number`},
		{"negative", "", bySector + "-1,0,1,good\n", `cylinder "-1" is not a whole number from 0`},
		{"exponent", "", bySector + "1e1,0,1,good\n", `cylinder "1e1" is not a whole number`},
		{"enormous", "", bySector + "99999999999999999999,0,1,good\n", `cylinder "99999999999999999999" is not a whole number`},
		{"another encoding", "", bySector + "\xb0,0,1,good\n", `x.csv:2:1: cylinder "\xb0" is not a number; save the file as CSV in UTF-8`},
		{"columns count letters", "", bySector + "µ,\"0\"1,1,good\n", "x.csv:2:5: the quotation marks do not match"},
		{"a long cell", "", bySector + strings.Repeat("y", 500) + ",0,1,good\n", `cylinder "` + strings.Repeat("y", 40) + `…" is not`},
		{"quotes", "", bySector + "0,\"0\"1,1,good\n", "x.csv:2:5: the quotation marks do not match on this line"},
		{"a doubled mark", "", bySector + "0,0,1,\"go\"\"od\"\n", `x.csv:2:7: the state "go\"\"od" is not known`},
		{"lines of CRLF", "", "# a\r\n" + bySector + "0,0,1,good\r\n0,0,2,god\r\n", `x.csv:4:7: the state "god"`},
		{"lines of CR", "", "# a\r\n" + bySector + "0,0,1,good\r0,0,2,god\r", `x.csv:4:7: the state "god"`},
		{"a cell of two lines", "", bySector + "0,\"0\n\",1,good\n", "x.csv:2:3: the quotation marks do not match"},

		{"cylinder", "90 mm 80x2x18x512", bySector + "80,0,1,good\n", "x.csv:2:1: cylinder 80 cannot be: 90 mm 80x2x18x512 has the cylinders 0 to 79"},
		{"head", "130 mm 40x1x9x512", bySector + "0,0,1,good\n0, 1,1,good\n",
			"x.csv:3:4: head 1 cannot be: 130 mm 40x1x9x512 has only head 0; is the format right? The smallest named one with a place for every row is 130 mm 40x2x8x512"},
		{"sector", "90 mm 80x2x9x512", bySector + "79,1,18,good\n",
			"x.csv:2:6: sector 18 cannot be: 90 mm 80x2x9x512 has the sectors 1 to 9 on track 79/1; is the format right? The smallest named one with a place for every row is 90 mm 80x2x18x512"},
		{"no format has it", "90 mm 80x2x9x512", bySector + "79,1,200,good\n", "on track 79/1"},
		{"counted from 0", "80x2x9x512", bySector + "0,0,0,good\n",
			`x.csv:2:5: sector 0 cannot be: 80x2x9x512 has the sectors 1 to 9 on track 0/0; if this disk's sectors are numbered from 0, give its format as "80x2x9x512, sectors from 0"`},
		{"counted from 1", "80x2x9x512, sectors from 65", bySector + "0,0,0,good\n", "has the sectors 65 to 73 on track 0/0"},
		{"the cartridge has a size", "90 mm 80x2x9x512", bySector + "79,1,16,good\n", "The smallest named one with a place for every row is 90 mm 80x2x18x512"},
		{"first track", "77x2x26x256, first track 16x128", bySector + "0,1,26,good\n0,0,17,good\n", "x.csv:3:5: sector 17 cannot be: 77x2x26x256, first track 16x128 has the sectors 1 to 16 on track 0/0"},
		{"there twice", "", bySector + "0,0,1,good\n\n0,0,01,good\n", "x.csv:4:1: cylinder 0, head 0, sector 1 is there twice, in line 2 as well; take one of the rows out"},

		{"track there twice", "", byTrack + "1,1,0\n1,1,untried\n", "x.csv:3:1: cylinder 1, head 1 is there twice, in line 2 as well"},
		{"more than the track has", "80x2x18x512, first track 9x512", byTrack + "0,0,10\n",
			"x.csv:2:5: 10 missing cannot be: 80x2x18x512, first track 9x512 has 9 sectors on track 0/0; count the sectors that were not read"},
		{"no count", "", byTrack + "0,0,\n", "x.csv:2:5: the count of missing sectors is empty; write 0 if all were read, or untried"},
		{"a word", "", byTrack + "0,0,bad\n", `x.csv:2:5: missing "bad" is not a whole number`},
		{"no such track", "", byTrack + "0,2,0\n", "x.csv:2:3: head 2 cannot be"},

		{"UTF-16", "", "\xff\xfec\x00y\x00", "x.csv:1:1: the file is UTF-16; save it as CSV in UTF-8"},
		{"UTF-16, no mark", "", "\x00c\x00y", "x.csv:1:1: the file is UTF-16"},
		{"a null", "", bySector + "0,0\x00,1,good\n", "x.csv:2:4: there is a zero byte here: this is not a table"},
	} {
		f := mustParse(t, "80x2x18x512")
		if c.format != "" {
			f = mustParse(t, c.format)
		}
		table, err := Read("x.csv", strings.NewReader(c.text), f)
		if table != nil || err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v\nwant %s", c.name, err, c.want)
		}
		if (c.name == "no format has it" || c.name == "counted from 1") && strings.Contains(err.Error(), ";") {
			t.Errorf("%s: %v", c.name, err)
		}
	}
}

// A handful of problems is told at once, in the order of the file, and the rest counted.
func TestProblemsTogether(t *testing.T) {
	text := bySector
	for i := range 20 {
		text += fmt.Sprintf("%d,0,1,gone\n", i)
	}
	_, err := Read("x.csv", strings.NewReader(text), mustParse(t, "80x2x18x512"))
	var problems tomltree.Problems
	if !errors.As(err, &problems) || len(problems) != mostProblems+1 {
		t.Fatalf("%T %v", err, err)
	}
	for i, p := range problems[:mostProblems] {
		if want := (tomltree.Place{File: "x.csv", Line: 2 + i, Column: 7}); p.Place.Line != want.Line || p.Place.File != "x.csv" {
			t.Errorf("%v, want line %d", p, want.Line)
		}
	}
	if got := problems[mostProblems].String(); got != "x.csv:7:7: here and below are 15 problems more; mend the ones above first" {
		t.Error(got)
	}
	// The hint at another format stands by the first address that cannot be, whichever problem that is.
	_, err = Read("x.csv", strings.NewReader(bySector+"0,0,1,gone\n0,0,30,good\n0,0,31,good\n"), mustParse(t, "80x2x18x512"))
	if lines := strings.Split(err.Error(), "\n"); len(lines) != 3 || !strings.HasSuffix(lines[1], "is 90 mm 80x2x36x512") || strings.Contains(lines[2], "named") {
		t.Error(err)
	}
}

// The same table in every form that a person or a spreadsheet writes is the same table.
func TestFormsOfATable(t *testing.T) {
	const plain = "cylinder,head,sector,state\n0,0,1,good\n0,1,9,bad\n79,1,18,missing\n3,0,7,untried\n"
	f := mustParse(t, "80x2x18x512")
	want, err := Read("plain", strings.NewReader(plain), f)
	if err != nil {
		t.Fatal(err)
	}
	if c := want.Total(); c != (Counts{Good: 1, Bad: 1, Missing: 1, Untried: 2877}) {
		t.Fatalf("%+v", c)
	}
	swap := func(pairs ...string) string { return strings.NewReplacer(pairs...).Replace(plain) }
	for name, text := range map[string]string{
		"mark of UTF-8":      "\xef\xbb\xbf" + plain,
		"CRLF":               swap("\n", "\r\n"),
		"CR":                 swap("\n", "\r"),
		"mixed line ends":    swap("good\n", "good\r", "bad\n", "bad\r\n"),
		"semicolons":         swap(",", ";"),
		"tabs":               swap(",", "\t"),
		"spaces":             swap(",", " ,  "),
		"spaces and tabs":    swap(",", " \t "),
		"quoted":             `"` + strings.TrimSuffix(swap(",", `","`, "\n", "\"\n\""), `"`),
		"quoted, with CRLF":  `"` + strings.TrimSuffix(swap(",", `" , "`, "\n", "\"\r\n\""), `"`),
		"spaces in quotes":   `" ` + strings.TrimSuffix(swap(",", ` "," `, "\n", " \"\n\" "), `" `),
		"upper case":         strings.ToUpper(plain),
		"leading zeros":      swap("79", "0079", ",7,", ",007,"),
		"blank lines":        swap("\n", "\n\n  \n"),
		"a padded table":     swap("\n", ",,\n") + ",,,,,\n\n",
		"comments":           "# read on the bench\n" + swap("good\n", "good\n  # a scratch, here\n\"# quoted, by a spreadsheet\"\n#\xb0\n"),
		"no end of line":     strings.TrimSuffix(plain, "\n"),
		"separator said":     "sep=;\n" + swap(",", ";"),
		"said and quoted":    "\"sep=,\"\r\n" + plain,
		"untried not there":  swap("3,0,7,untried\n", ""),
		"other order":        "state,sector,cylinder,head\nmissing,18,79,1\ngood,1,0,0\nbad,9,0,1\n",
		"all of it together": "\xef\xbb\xbfSEP=;\r\n\r\n#a;b\r\n\"State\";Sector;CYLINDER;head;;\r\nMissing; 18;79;\"1\"\r\nGOOD;1;0;0;\r\n;;;\r\nbad;9;0;1",
	} {
		got, err := Read(name, strings.NewReader(text), f)
		if err != nil || !got.Equal(want) {
			t.Errorf("%s: %v\n%q", name, err, text)
		}
	}
}

func TestTableByTrack(t *testing.T) {
	f := mustParse(t, "80x2x18x512, first track 9x512")
	got, err := Read("x.csv", strings.NewReader("Missing;Head;Cylinder\r\n9;0;0\r\n0;1;0\r\n3;0;79\r\nUNTRIED;1;79\r\n"), f)
	if err != nil || !got.ByTrack() {
		t.Fatal(err)
	}
	if c := got.Total(); c != (Counts{Good: 18 + 15, Missing: 9 + 3, Untried: 18 * 157}) {
		t.Errorf("%+v", c)
	}
}

// Whatever goes wrong with the reader itself is told, and half a file is not a table.
func TestReaderFails(t *testing.T) {
	f := mustParse(t, "80x2x18x512")
	broken := errors.New("the stick was pulled out")
	from := iotest.TimeoutReader(iotest.OneByteReader(strings.NewReader(bySector + "0,0,1,good\n")))
	if table, err := Read("x.csv", from, f); table != nil || !errors.Is(err, iotest.ErrTimeout) {
		t.Errorf("%v %v", table, err)
	}
	if _, err := Read("x.csv", iotest.ErrReader(broken), f); !errors.Is(err, broken) || !strings.HasPrefix(err.Error(), "cannot read x.csv: ") {
		t.Error(err)
	}
	if _, err := Read("x.csv", strings.NewReader(bySector), Format{}); err == nil {
		t.Error("a format without cylinders was read with")
	}
	large := bytes.Repeat([]byte("#\n"), mostFile/2+1)
	if _, err := Read("x.csv", bytes.NewReader(large), f); err == nil || !strings.Contains(err.Error(), "larger than 33554432 bytes") {
		t.Error(err)
	}
}

// FuzzRead: no input panics; an error begins with the file's name on every line and comes without a table; a table that
// was read is written and read back as it was.
func FuzzRead(f *testing.F) {
	for _, text := range []string{"", bySector, bySector + "0,0,1,good\n", byTrack + "0,0,1\n1;1;untried", "sep=;\r\nstate;sector;head;cylinder\rBAD;2;1;1",
		"\xef\xbb\xbf\"cylinder\"\t\"head\"\t\"missing\"\n# a\n\n1\t1\t0", "\xff\xfec\x00", bySector + "0,0,1,\"good\n", "\"\"\"", "#\n\"#"} {
		f.Add([]byte(text), "2x2x3x128, first track 2x256")
	}
	f.Add([]byte(bySector+"0,0,65,missing"), "90 mm 80x2x9x512, sectors from 65")
	f.Fuzz(func(t *testing.T, text []byte, format string) {
		format2, err := Parse(format)
		if err != nil {
			if strings.Contains(err.Error(), "\n") {
				t.Fatal(err)
			}
			format2 = plain(0, 2, 2, 3, 128)
		}
		table, err := Read("x.csv", bytes.NewReader(text), format2)
		if err != nil {
			for line := range strings.Lines(err.Error()) {
				if table != nil || !strings.HasPrefix(line, "x.csv:") || len(line) > 400+2*len(format2.String()) {
					t.Fatalf("%v %q", table, line)
				}
			}
			return
		}
		if table.Total().Total() != format2.Total() {
			t.Fatalf("%+v of %d", table.Total(), format2.Total())
		}
		var file bytes.Buffer
		if err := table.Write(&file); err != nil {
			t.Fatal(err)
		}
		if again, err := Read("x.csv", &file, format2); err != nil || !again.Equal(table) {
			t.Fatalf("%v\n%s", err, text)
		}
	})
}
