package tomltree

import (
	"fmt"
	"strings"
	"testing"
	"unicode/utf16"
)

// tree writes a tree as one line a value, with the places of key and value.
func tree(n *Node, name string, lines *[]string) {
	at := func(p Place) string { return fmt.Sprintf("%d:%d", p.Line, p.Column) }
	*lines = append(*lines, fmt.Sprintf("%s %s %s %s %q", name, at(n.Key), at(n.Place), n.Kind, n.Text))
	for _, key := range n.Names {
		tree(n.Get(key), name+"."+key, lines)
	}
	for i, item := range n.Items {
		tree(item, fmt.Sprint(name, ".", i), lines)
	}
}

func TestPlaces(t *testing.T) {
	text := "a = 'ü' # x\n" + `"ü" = "é\n"` + "\n" + `b.c = 1.5` + "\n" + `l = [ 1, "zwei", {k = true} ]` + "\n" +
		"[t]\nd = 2026-11-25\n[[s]]\nx = 1\n  [[s]]\n  x = 2\n[s.u]\ny = 3\n"
	want := `root 1:1 1:1 a table ""
root.a 1:1 1:5 a text "ü"
root.ü 2:1 2:7 a text "é\n"
root.b 3:1 3:1 a table ""
root.b.c 3:3 3:7 a bare number "1.5"
root.l 4:1 4:1 a list ""
root.l.0 4:1 4:7 a bare number "1"
root.l.1 4:1 4:10 a text "zwei"
root.l.2 4:1 4:18 a table ""
root.l.2.k 4:19 4:23 true or false "true"
root.t 5:2 5:1 a table ""
root.t.d 6:1 6:5 a date "2026-11-25"
root.s 7:3 7:1 a list ""
root.s.0 7:3 7:1 a table ""
root.s.0.x 8:1 8:5 a bare number "1"
root.s.1 9:5 9:3 a table ""
root.s.1.x 10:3 10:7 a bare number "2"
root.s.1.u 11:4 11:1 a table ""
root.s.1.u.y 12:1 12:5 a bare number "3"`
	for name, text := range map[string]string{
		"LF": text, "CRLF": strings.ReplaceAll(text, "\n", "\r\n"), "byte order mark": "\xEF\xBB\xBF" + text,
	} {
		root, problems := Parse("f", []byte(text))
		if problems != nil {
			t.Errorf("%s: %v", name, problems)
			continue
		}
		var lines []string
		tree(root, "root", &lines)
		if got := strings.Join(lines, "\n"); got != want {
			t.Errorf("%s:\n got\n%s\nwant\n%s", name, got, want)
		}
	}
}

func utf16LE(text string) string {
	var out []byte
	for _, u := range utf16.Encode([]rune(text)) {
		out = append(out, byte(u), byte(u>>8))
	}
	return string(out)
}

func TestRefusals(t *testing.T) {
	tests := []struct{ name, text, want string }{
		{"UTF-16 with its mark", "\xFF\xFE" + utf16LE("a = 1\n"), "f:1:1: the file is UTF-16; save it as UTF-8"},
		{"UTF-16 without mark", utf16LE("a = 1\n"), "f:1:1: the file is UTF-16; save it as UTF-8"},
		{"UTF-16, most significant byte first", "\x00a\x00=\x001", "f:1:1: the file is UTF-16; save it as UTF-8"},
		{"not UTF-8", "a = 1\nb = 'x\xE4y'\n", "f:2:7: the byte 0xE4 here is not UTF-8; save the file as UTF-8"},
		{"zero byte", "a = 1\nb = '\x00'", "f:2:6: there is a zero byte here: this is not a text file; save it as UTF-8 text"},
		{"mark in the middle", "a = 1\n\xEF\xBB\xBFb = 2", "f:2:1: there is a byte order mark in the middle of the file; " +
			"remove the invisible character; files were perhaps joined here"},
		{"two marks", "\xEF\xBB\xBF\xEF\xBB\xBFb = 2", "f:1:1: there is a byte order mark in the middle of the file; " +
			"remove the invisible character; files were perhaps joined here"},
		{"10 MB of noise", strings.Repeat("noise ", 10<<20/6), "f:1:1: the file has 10485756 bytes, more than the 1048576 that are read; " +
			"check that this is the file you meant"},
		{"a key twice", "a = 1\nb = 2\na = 3\n", "f:3:1: the key a is given twice; the first is at f:1:1"},
		{"two keys twice", "a = 1\na = 2\n[t]\nb = 1\nb = 2\n",
			"f:2:1: the key a is given twice; the first is at f:1:1\nf:5:1: the key b is given twice; the first is at f:4:1"},
		{"a key twice inline", "s = {heat = 40, heat = 60}", "f:1:17: the key heat is given twice; the first is at f:1:6"},
		{"a table twice", "[a]\nx = 1\n[a]\ny = 2\n", "f:3:2: this is not TOML: table a already exists; the first is at f:1:2"},
		{"a table over an inline one", "a={b=1}\n[a]\nc=1", "f:2:2: this is not TOML: key a should be a table, not a value; the first is at f:1:1"},
		{"decimal comma", "a = 1,5\n", "f:1:6: this is not TOML: expected newline but got U+002C ','; a decimal point is meant: " +
			"write 1.5, not 1,5, and put a quantity with its unit in quotes"},
		{"bare quantity", "a = 90 s # x\n", `f:1:8: this is not TOML: expected newline but got U+0073 's'; a quantity stands in quotes: write "90 s"`},
		{"bare word", "a = wet\n", "f:1:5: this is not TOML: unexpected character U+0077 'w' at start of value; a text stands in quotes"},
		{"open text", "a = \"wet\nb = 1\n", "f:1:9: this is not TOML: basic strings cannot have new lines"},
		{"no value", "ä = 1\n", "f:1:1: this is not TOML: invalid character at start of key: U+00E4 'ä'"},
		{"no such day", "a = 2026-13-01", "f:1:10: this is not TOML: impossible date"},
		{"an endless key", "a" + strings.Repeat(".a", 64) + " = 1", "f:1:129: this key has more than 64 parts"},
		{"TOML 1.1, lines", "a = {\n b = 1 }", "f:1:6: this is TOML 1.1: an inline table over several lines; these files are TOML 1.0"},
		{"TOML 1.1, comma", "a = { b = 1, }", "f:1:14: this is TOML 1.1: a comma after the last key of an inline table; these files are TOML 1.0"},
		{"TOML 1.1, escape", `a = "\x41"`, `f:1:6: this is TOML 1.1: the escape \x; these files are TOML 1.0`},
		{"TOML 1.1, time", "a = 12:30", "f:1:5: this is TOML 1.1: a time without seconds; these files are TOML 1.0"},
	}
	for _, test := range tests {
		root, problems := Parse("f", []byte(test.text))
		if root != nil || problems.Error() != test.want {
			t.Errorf("%s:\n got %v\nwant %s", test.name, problems, test.want)
		}
	}
}

// What looks like a refusal above but is right TOML 1.0.
func TestAccepted(t *testing.T) {
	for _, text := range []string{
		"", "\n", "# only a comment", "\xEF\xBB\xBF", "[foo.bar.baz]\n[foo]\n[foo.bar]\n", "a = '\\x41 \\e'", "a = \"\\\\x\"",
		"a = [\n 1, # one\n 2,\n]", "a = [{b = 1},\n {b = 2},\n]", "a = \"\"\"x \" y\"\"\"\"\n", "a = '''# { ,}'''", "'#' = '}'",
	} {
		if _, problems := Parse("f", []byte(text)); len(problems) > 0 {
			t.Errorf("%q: %v", text, problems)
		}
	}
}

// Deep or endless nesting and single long lines are answered, and not by falling over.
func TestHugeShapes(t *testing.T) {
	const size = MaxSize/4 - 100
	for name, text := range map[string]string{
		"brackets":  "a = " + strings.Repeat("[", size),
		"braces":    "a = " + strings.Repeat("{a=", size/3),
		"dots":      "a" + strings.Repeat(".a", size/2) + " = 1",
		"one line":  "a = [" + strings.Repeat("1,", size/2) + "]",
		"one value": "a = '" + strings.Repeat("ü", size/2) + "'",
		"keys":      strings.Repeat("a=1\n", size/4),
		"tables":    strings.Repeat("[[a]]\n", size/6),
	} {
		root, problems := Parse("f", []byte(text))
		if (root == nil) != (len(problems) > 0) {
			t.Errorf("%s: a tree %v and %d problems", name, root != nil, len(problems))
		}
	}
}

func TestNearest(t *testing.T) {
	names := []string{"flow", "for", "pads", "at-most", "until", "reverse", "pressure"}
	for written, want := range map[string]string{
		"flwo": "flow", "presure": "pressure", "at_most": "at-most", "atmost": "at-most", "reverses": "reverse", "pad": "pads", "Until": "until",
		"colour": "", "": "", "x": "", "ab": "", strings.Repeat("flow", 100): "",
	} {
		if got := Nearest(written, names); got != want {
			t.Errorf("nearest to %q is %q, want %q", written, got, want)
		}
	}
}

func TestProblems(t *testing.T) {
	at := func(line, column int) Place { return Place{"f", line, column} }
	ps := Problems{{at(2, 1), "b", "", false}, {at(1, 9), "c", "h", true}, {at(1, 2), "a", "", false}, {at(1, 2), "a", "", false}}
	if got, want := ps.Sorted().Error(), "f:1:2: a\nf:1:9: warning: c; h\nf:2:1: b"; got != want {
		t.Errorf("sorted:\n%s\nwant\n%s", got, want)
	}
	if got := ps.Sorted().Errors(); len(got) != 2 || got[1].Error() != "f:2:1: b" {
		t.Errorf("without warnings: %v", got)
	}
	if got := (Problems{}).Errors(); got != nil {
		t.Errorf("no problems have errors: %v", got)
	}
	if got := Kind(99).String(); got != "something unknown" {
		t.Errorf("no kind is called %q", got)
	}
}
