package compare

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

var twoDisks = []Row{
	{Disk: "007", Method: "water, warm", Before: 12, After: 3},
	{Disk: "1e3", Method: "by hand", Before: 0, After: 4},
}

// However a spreadsheet saves it, the same table is the same rows; labels stay text.
func TestReadIsSpreadsheetProof(t *testing.T) {
	for name, text := range map[string]string{
		"plain":       "disk,method,before,after\n007,\"water, warm\",12,3\n1e3,by hand,0,4\n",
		"no last end": "disk,method,before,after\n007,\"water, warm\",12,3\n1e3,by hand,0,4",
		"mark, CRLF":  "\ufeffDisk,METHOD,Before,After\r\n007,\"water, warm\",12,3\r\n1e3,by hand,0,4\r\n",
		"CR":          "disk,method,before,after\r007,\"water, warm\",12,3\r1e3,by hand,0,4\r",
		"semicolons":  "after;before;disk;method\n3;12;007;water, warm\n4;0;1e3;by hand\n",
		"tabs":        "after\tbefore\tdisk\tmethod\n3\t12\t007\twater, warm\n4\t0\t\"1e3\"\t\"by hand\"\n",
		"sep line":    "sep=;\nafter;before;disk;method\n3;12;007;water, warm\n4;0;1e3;by hand\n",
		"comments":    "# seed bank\n\n  # two disks\ndisk , method, before , after,,\n,,,,,\n 007 , \"water, warm\" , 12 , 3,,\n1e3,by hand,0,4,,\n;;\n",
	} {
		rows, err := Read("t.csv", strings.NewReader(text))
		if err != nil {
			t.Errorf("%s: %v", name, err)
		} else if diff := cmp.Diff(twoDisks, rows); diff != "" {
			t.Errorf("%s: %s", name, diff)
		}
	}
}

func TestReadOptionalColumns(t *testing.T) {
	rows, err := Read("t.csv", strings.NewReader(
		"block,disk,method,before,after,Newly Lost,regained,sectors\n"+
			"I,1,m,12,3,2,11,1440\n"+
			"I,2,m,12,3,,10,\n"+
			"II,3,m,12,3,1,,\n"+
			",4,m,12,3,,,1440\n"))
	if err != nil {
		t.Fatal(err)
	}
	want := []Row{
		{Disk: "1", Block: "I", Method: "m", Before: 12, After: 3, Split: true, Regained: 11, NewlyLost: 2, Sectors: 1440},
		{Disk: "2", Block: "I", Method: "m", Before: 12, After: 3, Split: true, Regained: 10, NewlyLost: 1},
		{Disk: "3", Block: "II", Method: "m", Before: 12, After: 3, Split: true, Regained: 10, NewlyLost: 1},
		{Disk: "4", Method: "m", Before: 12, After: 3, Sectors: 1440},
	}
	if diff := cmp.Diff(want, rows); diff != "" {
		t.Error(diff)
	}
}

func TestReadRefusesWithItsLine(t *testing.T) {
	const head = "disk,method,before,after\n"
	for text, want := range map[string]string{
		"":                                               "t.csv: there is nothing",
		"# only a comment\n":                             "t.csv: there is nothing",
		head:                                             "t.csv: there is no disk",
		"disk,method,before\n1,m,2\n":                    `t.csv:1: the columns disk, method, before and after must be there; seen are ["disk" "method" "before"]`,
		"disk,method,before,after,blok\n":                `t.csv:1: the column "blok" is not known`,
		"disk,method,before,after,disk\n":                `t.csv:1: the column "disk" is there twice`,
		head + "1,m,2\n":                                 "t.csv:2: after is empty",
		head + "1,m,,2\n":                                "t.csv:2: before is empty",
		head + "\n#\n1,m,2,3,4\n":                        "t.csv:4: it has 5 cells, but there are 4 columns",
		"disk,method,before,after,\n1,m,2,3,4\n":         `t.csv:2: "4" stands in a column without a name`,
		head + "1,m,2,1.5\n":                             `t.csv:2: after: "1.5" is no whole number`,
		head + "1,m,-2,1\n":                              `t.csv:2: before: "-2" is no whole number`,
		head + "1,m,٣,1\n":                               `t.csv:2: before: "٣" is no whole number`,
		head + "1,m,99999999999999999999,1\n":            "t.csv:2: before: 99999999999999999999 sectors are more",
		head + "1,m,2,1\n2,m,3,3\n1,m,2,1\n":             `t.csv:4: disk "1" is on line 2 already`,
		head + "x,m,2,1\nX,m,3,3\n":                      `t.csv:3: disk "X" is on line 2 already`,
		head + "1,IPA,2,1\n2,ipa,3,3\n":                  `t.csv:3: method "ipa" and "IPA" on line 2 differ only in case`,
		head + "1,m,2,\"1\n":                             "t.csv:2: a quotation mark is not closed",
		head + "1,\"m\"x,2,1\n":                          `t.csv:2: "x" stands between`,
		head + ",m,2,1\n":                                `t.csv:2: disk "": it has no label`,
		head + "1,,2,1\n":                                `t.csv:2: disk "1": it has no method`,
		head + "1,m\xff,2,1\n":                           "t.csv:2: there are characters",
		head + "1,m,2,1\n2,\ufeffm,2,1\n":                "t.csv:3: there are characters",
		"\xff\xfed\x00i\x00":                             "t.csv: it is UTF-16",
		"disk,method,before,after,regained\n1,m,9,2,1\n": `t.csv:2: disk "1": regained and newly lost cannot be below zero`,
		strings.Repeat("x", mostBytes+1):                 "t.csv: it is larger",
	} {
		rows, err := Read("t.csv", strings.NewReader(text))
		if err == nil || !strings.HasPrefix(err.Error(), want) || rows != nil {
			t.Errorf("%.60q: %v rows, %v\nwant %s", text, len(rows), err, want)
		}
	}
}

// Whatever is read can be compared, or was refused; it never panics.
func FuzzRead(f *testing.F) {
	f.Add("disk,method,before,after\n1,a,5,3\n2,b,5,4\n")
	f.Add("\ufeffdisk;method;before;after;block;newly_lost;regained\r\n1;\"a\";5;3;x;1;3\r\n2;b;5;5;x;;\r\n")
	f.Add("sep=\t\ndisk\tmethod\tbefore\tafter\n1\ta\t5\t3\n")
	f.Add("disk,method,before,after\n1,\"a\"\"\",10000000,0\n2,b,0,10000000\n3,c,1,1\n")
	f.Fuzz(func(t *testing.T, text string) {
		rows, err := Read("f", strings.NewReader(text))
		if err != nil {
			if rows != nil || !strings.HasPrefix(err.Error(), "f:") {
				t.Fatalf("%d rows, %v", len(rows), err)
			}
			return
		}
		if len(rows) > 40 {
			return
		}
		r, err := Compare(rows, Options{Draws: 50})
		if err != nil || len(r.Methods) == 0 || len(r.Words) == 0 {
			t.Fatalf("%v: %+v", err, r)
		}
	})
}
