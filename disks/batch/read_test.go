package batch

import (
	"bytes"
	"errors"
	"slices"
	"strings"
	"testing"
	"testing/iotest"
)

func same(a, b Disk) bool { return a.Name == b.Name && a.Missing == b.Missing && a.Only == b.Only }

// The same three disks, in all the ways in which programs write tables.
func TestRead(t *testing.T) {
	plain := []Disk{{Name: "A-1", Missing: 12}, {Name: "007", Missing: 0}, {Name: "Ahorn, 1988", Missing: 40}}
	hand := slices.Clone(plain)
	hand[1].Only = "by hand"
	for name, c := range map[string]struct {
		text string
		want []Disk
	}{
		"plain":          {"disk,missing\nA-1,12\n007,0\n\"Ahorn, 1988\",40\n", plain},
		"no last end":    {"disk,missing\nA-1,12\n007,0\n\"Ahorn, 1988\",40", plain},
		"BOM and CRLF":   {"\ufeffdisk,missing\r\nA-1,12\r\n007,0\r\n\"Ahorn, 1988\",40\r\n", plain},
		"bare CR":        {"disk,missing\rA-1,12\r007,0\r\"Ahorn, 1988\",40\r", plain},
		"mixed ends":     {"disk,missing\nA-1,12\r\n007,0\r\"Ahorn, 1988\",40\n", plain},
		"semicolons":     {"disk;missing\nA-1;12\n007;0\nAhorn, 1988;40\n", plain},
		"tabs":           {"disk\tmissing\nA-1\t12\n007\t0\nAhorn, 1988\t40\n", plain},
		"sep line":       {"sep=;\r\ndisk;missing\r\nA-1;12\r\n007;0\r\nAhorn, 1988;40\r\n", plain},
		"quotes":         {"\"disk\",\"missing\"\n\"A-1\",\"12\"\n\"007\",\"0\"\n\"Ahorn, 1988\",\"40\"\n", plain},
		"capitals":       {"DISK;Missing\nA-1;12\n007;0\nAhorn, 1988;40\n", plain},
		"other order":    {"missing;disk\n12;A-1\n0;007\n40;Ahorn, 1988\n", plain},
		"spaces":         {" disk ; missing \n A-1 ; 12\n007 ;0\nAhorn, 1988;\u00a040\n", plain},
		"blank and note": {"# from the cellar\n\ndisk;missing\n;\nA-1;12\n \n007;0\n# until here\nAhorn, 1988;40\n;;;\n\n", plain},
		"only":           {"only,missing,disk\n,12,A-1\nby hand,0,007\n,40,\"Ahorn, 1988\"\n", hand},
	} {
		disks, warnings, err := Read("t.csv", iotest.HalfReader(strings.NewReader(c.text)))
		if err != nil || !slices.EqualFunc(disks, c.want, same) || len(warnings) != 0 {
			t.Errorf("%s: %+v, %v, %v", name, disks, warnings, err)
		}
	}
}

func TestReadRefuses(t *testing.T) {
	for text, says := range map[string]string{
		"":                                       "t.csv:1:1: there is no disk in the file",
		"disk,missing\n":                         "t.csv:1:1: there is no disk in the file",
		"# nothing\n\n":                          "there is no disk",
		"A-1,12\nB-2,3\n":                        `t.csv:1:1: the column "A-1" is not known; leave it out`,
		"disk\nA\n":                              `t.csv:1:1: there is no column missing among ["disk"]; add it`,
		"disks missing\nA 1\n":                   `the header is "disks missing"; name the columns disk and missing`,
		"disk,mising\nA,1\n":                     `t.csv:1:6: the column "mising" is not known; did you mean missing?`,
		"disk,missing,olny\nA,1,x\n":             `the column "olny" is not known; did you mean only?`,
		"disk,missing,disk\nA,1,x\n":             "t.csv:1:14: the column disk is there twice",
		"disk,missing\nA,1\nB\n":                 "t.csv:3:1: this line has 1 cells and the header 2",
		"disk,missing\nA,1,234\n":                "t.csv:2:1: this line has 3 cells and the header 2",
		"disk,missing\nA,\n":                     "t.csv:2:3: nothing is said of the missing sectors",
		"disk;missing\nA;1,5\n":                  `t.csv:2:3: missing "1,5" is not a whole number`,
		"disk;missing\nA;1.234\n":                "is not a whole number",
		"disk;missing\nA;-1\n":                   "is not a whole number",
		"disk;missing\nA;+1\n":                   "is not a whole number",
		"disk;missing\nA;1e3\n":                  "is not a whole number",
		"disk;missing\nA;0x10\n":                 "is not a whole number",
		"disk;missing\nA;n/a\n":                  "is not a whole number",
		"disk;missing\nA;500001\n":               `missing "500001" cannot be; give 0 to 500000`,
		"disk;missing\nA;99999999999999999999\n": "cannot be",
		"disk,missing\n,4\n":                     "t.csv:2:1: this disk has no name",
		"# x\r\n\r\ndisk,missing\r\nA,1\r\nB,1\r\nA,1\r\n": `t.csv:6:1: the disk "A" is there twice, in line 4 as well`,
		"disk,missing\n\"A,1\nB,2\n":                       "quotation marks do not match",
		"disk,missing\n\"A\nB\",2\n":                       "goes over a line's end",
		"disk,missing\nA\xff,2\n":                          "t.csv:2:1: this is not text in UTF-8",
		"d\x00i\x00s\x00k\x00":                             "t.csv:1:1: this is not text in UTF-8",
	} {
		disks, _, err := Read("t.csv", strings.NewReader(text))
		if err == nil || !strings.Contains(err.Error(), says) || disks != nil {
			t.Errorf("%q: %v, want %q", text, err, says)
		}
	}
	if _, _, err := Read("t.csv", iotest.ErrReader(errors.New("drive gone"))); err == nil || !strings.Contains(err.Error(), "drive gone") {
		t.Errorf("a broken file: %v", err)
	}
	if _, _, err := Read("t.csv", bytes.NewReader(make([]byte, mostBytes+1))); err == nil || !strings.Contains(err.Error(), "64 MiB") {
		t.Errorf("a huge file: %v", err)
	}
}

// What can be read, but was perhaps spoilt before, is said.
func TestReadWarns(t *testing.T) {
	for row, says := range map[string]string{
		"02-Jan,4":      "looks like a date",
		"mar-99,4":      "looks like a date",
		"7.39E+09,4":    "looks like a date or a number",
		"7E+4,4":        "looks like a date or a number",
		"#12,4\nA,1":    "t.csv:2:1: warning: this line begins with # and is left out, but looks like a disk",
		"1988-03,4":     "",
		"jan-steen,4":   "",
		"E+,4":          "",
		"# 2 of 3\nA,1": "",
		"\"#12\",4":     "",
	} {
		_, warnings, err := Read("t.csv", strings.NewReader("disk,missing\n"+row+"\n"))
		if err != nil || says == "" && len(warnings) > 0 || says != "" && (len(warnings) != 1 || !strings.Contains(warnings.Error(), says)) {
			t.Errorf("%q: %v, %v, want %q", row, warnings, err, says)
		}
	}
}

func FuzzRead(f *testing.F) {
	f.Add("\ufeffdisk;missing;only\r\nA;1;by hand\r\n#x;2\r\n\"B\"\"\";3;\r\n")
	f.Add("sep=\t\rmissing\tdisk\r1\tA\r")
	f.Fuzz(func(t *testing.T, text string) {
		disks, _, err := Read("f", strings.NewReader(text))
		if err != nil {
			if disks != nil || !strings.HasPrefix(err.Error(), "f:") {
				t.Errorf("%q: %v beside %v", text, err, disks)
			}
			return
		}
		seen := map[string]bool{}
		for _, d := range disks {
			if d.Name == "" || seen[d.Name] || d.Missing < 0 || d.Missing > MaxMissing {
				t.Errorf("%q: %+v", text, disks)
			}
			seen[d.Name] = true
		}
		if d, err := Deal(disks, []string{"a", "b"}, 1, 10); err == nil && len(d.Disks) != len(disks) {
			t.Errorf("%d of %d disks dealt", len(d.Disks), len(disks))
		}
	})
}
