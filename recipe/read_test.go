package recipe

import (
	"strings"
	"testing"
	"time"
)

// sound is a recipe without problems. Tests change one thing in it and look at what is said.
const sound = `title  = "Test"
media  = ["90 mm"]
liquid = "water-detergent"
rinse  = "distilled-water"
repeat = 2
[pads]
pressure = "2 kPa"
within   = "25 %"
balance  = "15 %"
[limits]
liquid = "40 mL"
time   = "150 min"
[[stage]]
do   = "wet"
flow = "8 mL/min"
for  = "45 s"
[[stage]]
do      = "scrub"
pads    = "60 rpm"
hub     = "20 rpm"
reverse = "15 s"
for     = "90 s"
[[stage]]
do   = "rinse"
flow = "20 mL/min"
hub  = "30 rpm"
for  = "30 s"
[[stage]]
do      = "dry"
fan     = "100 %"
until   = "dry"
at-most = "120 min"
`

// change replaces what stands between the bars once: "old|new". Several changes may follow each other.
func change(t *testing.T, text string, changes ...string) string {
	t.Helper()
	for _, c := range changes {
		from, to, ok := strings.Cut(c, "|")
		if !ok || strings.Count(text, from) < 1 {
			t.Fatalf("the change %q does not fit", c)
		}
		text = strings.Replace(text, from, to, 1)
	}
	return text
}

func TestReadSound(t *testing.T) {
	r, problems := Read("folder/my.toml", []byte(sound))
	if len(problems) > 0 {
		t.Fatal(problems)
	}
	want := Recipe{
		Name: "my", Text: sound, Title: "Test", Media: []string{"90 mm"}, Liquid: "water-detergent", Rinse: "distilled-water",
		Repeat: 2, Pads: Pads{2000, 0.25, 0.15}, Limits: Limits{40e-6, 150 * time.Minute},
		Stages: []Stage{
			{Do: Wet, Line: 13, For: 45 * time.Second, AtMost: 105 * time.Second, Flow: 8e-6 / 60},
			{Do: Scrub, Line: 17, For: 90 * time.Second, AtMost: 150 * time.Second, Pads: 1, Hub: 20.0 / 60, Reverse: 15 * time.Second},
			{Do: Rinse, Line: 23, For: 30 * time.Second, AtMost: 90 * time.Second, Flow: 20e-6 / 60, Hub: 0.5},
			{Do: Dry, Line: 28, AtMost: 2 * time.Hour, Fan: 1, UntilDry: true},
		},
	}
	sameRecipe(t, r, want)
}

// Byte order mark, carriage returns and comments make no other recipe.
func TestReadFormsOfText(t *testing.T) {
	want, _ := Read("my.toml", []byte(sound))
	for name, text := range map[string]string{
		"byte order mark": "\xEF\xBB\xBF" + sound,
		"CRLF":            strings.ReplaceAll(sound, "\n", "\r\n"),
		"both":            "\xEF\xBB\xBF" + strings.ReplaceAll(sound, "\n", "\r\n"),
		"comments":        strings.ReplaceAll(sound, "\n", " # wie schön\n"),
		"no last newline": strings.TrimSuffix(sound, "\n"),
	} {
		r, problems := Read("my.toml", []byte(text))
		if len(problems) > 0 {
			t.Errorf("%s: %v", name, problems)
		}
		if r.Text != text {
			t.Errorf("%s: the text is not kept as it was", name)
		}
		r.Text = want.Text
		sameRecipe(t, r, want)
	}
}

func TestReadRefuses(t *testing.T) {
	tests := []struct {
		name    string
		changes []string
		want    string
	}{
		{"unknown key", []string{"repeat = 2|repat = 2"}, "my.toml:5:1: the file has no key repat; did you mean repeat?"},
		{"unknown key like none", []string{"[pads]|colour = 3\n[pads]"}, "my.toml:6:1: the file has no key colour; " +
			"known here: title, media, liquid, rinse, repeat, pads, limits, stage"},
		{"unknown table", []string{"[limits]|[sensors]\nx = 1\n[limits]"}, "my.toml:10:2: the file has no key sensors; " +
			"known here: title, media, liquid, rinse, repeat, pads, limits, stage"},
		{"unknown key that is no word", []string{"repeat = 2|\"a\\u0000b\" = 2"}, `my.toml:5:1: the file has no key "a\x00b"; ` +
			"known here: title, media, liquid, rinse, repeat, pads, limits, stage"},
		{"key below the wrong table", []string{"repeat = 2\n|", "[limits]|repeat = 2\n[limits]"},
			"my.toml:9:1: [pads] has no key repeat; repeat belongs at the top, before the first table"},
		{"temprature", []string{`fan     = "100 %"|fan = "100 %"` + "\ntemprature_max_c = 40"},
			"my.toml:31:1: this stage has no key temprature_max_c; known here: do, fan, hub, warm, for, at-most, until"},
		{"duplicate key", []string{"repeat = 2|repeat = 2\nrepeat = 3"}, "my.toml:6:1: the key repeat is given twice; the first is at my.toml:5:1"},
		{"bare number for a time", []string{`"90 s"|90`}, `my.toml:22:11: for = 90 has no unit; a unit is needed: write "90 s"`},
		{"bare number for a pressure", []string{`"2 kPa"|2.0`}, `my.toml:7:12: pressure = 2.0 has no unit; a unit is needed: write "2.0 kPa"`},
		{"infinite", []string{`"2 kPa"|inf`}, `my.toml:7:12: pressure = inf has no unit; a unit is needed: write "inf kPa"`},
		{"no unit", []string{`"90 s"|"90"`}, `my.toml:22:11: "90" has no unit; a unit is needed: write "90 s"`},
		{"wrong unit", []string{`"90 s"|"90 psi"`}, `my.toml:22:11: "90 psi" is not a time: psi does not measure that; ` +
			`write s, ms, min or h, as in "90 s"`},
		{"metres for minutes", []string{`"150 min"|"150 m"`}, `my.toml:12:10: "150 m" is not a time; m is metre; write min`},
		{"fahrenheit", []string{"until |warm = \"97 °F\"\nuntil "}, `my.toml:31:8: "97 °F" is not a temperature; ` +
			`write °C: subtract 32 and divide by 1.8`},
		{"decimal comma", []string{`"2 kPa"|"1,5 kPa"`}, `my.toml:7:12: "1,5 kPa" has a decimal comma; write 1.5, not 1,5`},
		{"decimal comma in a number", []string{`"2 kPa"|1,5`}, "my.toml:7:13: this is not TOML: expected newline but got U+002C ','; " +
			"a decimal point is meant: write 1.5, not 1,5, and put a quantity with its unit in quotes"},
		{"negative time", []string{`"90 s"|"-90 s"`}, `my.toml:22:11: for = "-90 s" is out of range; allowed is 100 ms to 24 h`},
		{"no time", []string{`"90 s"|"0 s"`}, `my.toml:22:11: for = "0 s" is out of range; allowed is 100 ms to 24 h`},
		{"25 hours", []string{`"150 min"|"25 h"`}, `my.toml:12:10: time = "25 h" is out of range; allowed is 100 ms to 24 h`},
		{"exponent", []string{`"90 s"|"1e400 s"`}, `my.toml:22:11: "1e400 s" has an exponent; ` +
			"write the number in full, with another unit if it is long"},
		{"pressure too low", []string{`"2 kPa"|"2 Pa"`}, `my.toml:7:12: pressure = "2 Pa" is out of range; allowed is 200 Pa to 10 kPa`},
		{"pressure too high", []string{`"2 kPa"|"10.1 kPa"`}, `my.toml:7:12: pressure = "10.1 kPa" is out of range; allowed is 200 Pa to 10 kPa`},
		{"tolerance", []string{`"15 %"|"60 %"`}, `my.toml:9:12: balance = "60 %" is out of range; allowed is 1 % to 50 %`},
		{"too warm", []string{"until |warm = \"50.1 °C\"\nuntil "}, `my.toml:31:8: warm = "50.1 °C" is out of range; allowed is 10 °C to 50 °C`},
		{"a date", []string{`"90 s"|2026-11-25`}, `my.toml:22:11: for is a date, not a time; write for = "90 s"`},
		{"a list", []string{`"90 s"|["90 s"]`}, `my.toml:22:1: for is a list, not a time; write for = "90 s"`},
		{"repeat in halves", []string{"repeat = 2|repeat = 2.5"}, "my.toml:5:10: repeat is 2.5, not a whole number; write repeat = 1"},
		{"repeat as a text", []string{"repeat = 2|repeat = \"2\""}, "my.toml:5:10: repeat is a text, not a whole number; write repeat = 1"},
		{"repeat too often", []string{"repeat = 2|repeat = 21"}, "my.toml:5:10: repeat = 21 is out of range; allowed is 1 to 20"},
		{"repeat never", []string{"repeat = 2|repeat = 0"}, "my.toml:5:10: repeat = 0 is out of range; allowed is 1 to 20"},
		{"no title", []string{"title  = \"Test\"\n|"}, `my.toml:1:1: the file has no title; add title = "Water with detergent"`},
		{"empty title", []string{`"Test"|" "`}, "my.toml:1:10: the title is empty; say in one line what the recipe does"},
		{"title of two lines", []string{`"Test"|"a\nb"`}, "my.toml:1:10: the title has several lines; say in one line what the recipe does"},
		{"title that is no text", []string{`"Test"|true`}, `my.toml:1:10: title is true or false, not a text; write title = "Water with detergent"`},
		{"no media", []string{"media  = [\"90 mm\"]\n|"}, `my.toml:1:1: the file has no media; add media = ["90 mm"]`},
		{"empty media", []string{`["90 mm"]|[]`}, `my.toml:2:1: the list of media is empty; write media = ["90 mm"]`},
		{"media that is no list", []string{`["90 mm"]|"90 mm"`}, `my.toml:2:10: media is a text, not a list; write media = ["90 mm"]`},
		{"unknown medium", []string{`["90 mm"]|["90 mm", "3.5 in"]`}, `my.toml:2:20: the medium "3.5 in" is not known; write "90 mm", "130 mm" or "200 mm"`},
		{"medium without its space", []string{`["90 mm"]|["130mm"]`}, `my.toml:2:11: the medium "130mm" is not known; did you mean "130 mm"?`},
		{"medium twice", []string{`["90 mm"]|["90 mm", "90 mm"]`}, `my.toml:2:20: the medium "90 mm" is named twice; name it once`},
		{"unknown liquid", []string{`"water-detergent"|"water-detergant"`}, `my.toml:3:10: the liquid "water-detergant" is not known; did you mean "water-detergent"?`},
		{"liquid like none", []string{`"water-detergent"|"mud"`}, `my.toml:3:10: the liquid "mud" is not known; ` +
			"known are isopropanol-99, isopropanol-91, isopropanol-70, ethanol-96, water-detergent, distilled-water, water; alcohols at any whole strength"},
		{"liquid without strength", []string{`"water-detergent"|"isopropanol"`}, `my.toml:3:10: the liquid "isopropanol" is not known; ` +
			`name it with a whole percentage by volume from 1 to 100, as in "isopropanol-91"`},
		{"forbidden liquid", []string{`"water-detergent"|"acetone"`}, `my.toml:3:10: "acetone" must never be used on a disk (acetone and other ketones); they dissolve the binder and the jacket`},
		{"no liquid", []string{"liquid = \"water-detergent\"\n|"}, `my.toml:1:1: the file has no liquid; add liquid = "isopropanol-91"`},
		{"no rinse liquid", []string{"rinse  = \"distilled-water\"\n|"}, `my.toml:1:1: the file has no rinse; add rinse = "distilled-water"`},
		{"no pads", []string{"[pads]\npressure = \"2 kPa\"\nwithin   = \"25 %\"\nbalance  = \"15 %\"\n|"},
			"my.toml:15:11: the pads work here, but there is no [pads] with their pressure; add [pads] with pressure, within and balance"},
		{"half of pads", []string{"balance  = \"15 %\"\n|"}, `my.toml:6:1: [pads] has no balance; add balance = "25 %"`},
		{"no limits", []string{"[limits]\nliquid = \"40 mL\"\ntime   = \"150 min\"\n|"}, "my.toml:1:1: the file has no [limits]; add [limits] with liquid and time"},
		{"no limit of time", []string{"time   = \"150 min\"\n|"}, `my.toml:10:1: [limits] has no time; add time = "40 min"`},
		{"no limit of liquid", []string{"liquid = \"40 mL\"\n|"}, `my.toml:10:1: [limits] has no liquid; add liquid = "32 mL" or more`},
		{"limits that are no table", []string{"[limits]\nliquid = \"40 mL\"\ntime   = \"150 min\"\n|", "[pads]|limits = 3\n[pads]"},
			"my.toml:6:10: limits is a bare number, not a table; write its keys below [limits]"},
		{"too much liquid", []string{`"40 mL"|"31.9 mL"`}, "my.toml:11:10: the stages give 32 mL, but the limit is 31.9 mL; " +
			"raise the limit, or lower a flow, a time or repeat"},
		{"too little time", []string{`"150 min"|"5 min"`}, "my.toml:12:10: the timed stages take 0:05:30, but the limit is 0:05:00; " +
			"raise the limit, or shorten a stage"},
		{"no stage", []string{sound[strings.Index(sound, "[[stage]]"):] + "|"}, `my.toml:1:1: the recipe has no stage; add [[stage]] with do = "wet" and so on`},
		{"stages that are no list", []string{sound[strings.Index(sound, "[[stage]]"):] + "|[stage.dry]\nheat-c = 40\n"},
			"my.toml:13:1: stage is not a list of stages; head each stage with [[stage]], in double brackets"},
		{"empty list of stages", []string{sound[strings.Index(sound, "[[stage]]"):] + "|", "[pads]|stage = []\n[pads]"},
			`my.toml:6:1: the recipe has no stage; add [[stage]] with do = "wet" and so on`},
		{"a stage that is no table", []string{sound[strings.Index(sound, "[[stage]]"):] + "|", "[pads]|stage = [3]\n[pads]"},
			"my.toml:6:10: a stage is a bare number, not a table; head each stage with [[stage]]"},
		{"no do", []string{"do   = \"rinse\"\n|"}, `my.toml:23:1: this stage has no do; add do = "wet"`},
		{"unknown kind", []string{`"rinse"|"rinze"`}, `my.toml:24:8: do cannot be "rinze"; did you mean "rinse"?`},
		{"unknown kind like none", []string{`"rinse"|"defenestrate"`}, `my.toml:24:8: do cannot be "defenestrate"; ` +
			`write "wet", "scrub", "rinse", "spin-out", "soak" or "dry"`},
		{"kind without name", []string{`"rinse"|""`}, `my.toml:24:8: do cannot be ""; write "wet", "scrub", "rinse", "spin-out", "soak" or "dry"`},
		{"key of another kind", []string{"reverse = |flow = "}, "my.toml:21:1: a scrub stage has no use for flow; flow is for: wet, rinse"},
		{"wet with pads", []string{"flow = |pads = \"60 rpm\"\nflow = "}, "my.toml:15:1: a wet stage has no use for pads; pads is for: scrub, rinse"},
		{"rinse without flow", []string{"flow = \"20 mL/min\"\n|"}, `my.toml:23:1: this stage has no flow; add flow = "8 mL/min"`},
		{"rinse after dry", []string{`at-most = "120 min"|at-most = "120 min"` + "\n[[stage]]\ndo = \"rinse\"\nflow = \"1 mL/min\"\nhub = \"9 rpm\"\nfor = \"1 s\"" +
			"\n[[stage]]\ndo = \"dry\"\nfan = \"50 %\"\nfor = \"60 s\""},
			"my.toml:34:6: a rinse after the dry (line 28) would wet or move the disk again; only a further dry may follow a dry"},
		{"no dry", []string{sound[strings.LastIndex(sound, "[[stage]]"):] + "|"}, "my.toml:24:8: the recipe wets the disk and ends without a dry; put a dry at the end"},
		{"dry without end", []string{"until   = \"dry\"\nat-most = \"120 min\"\n|"}, `my.toml:28:1: this dry has no end; ` +
			`add until = "dry" with at-most = "60 min", or for = "20 min"`},
		{"dry with two ends", []string{"until |for = \"20 min\"\nuntil "}, "my.toml:32:11: this dry has both for and until; " +
			"keep one: for ends it by the clock, until on evidence of dryness"},
		{"dry without at-most", []string{"at-most = \"120 min\"\n|"}, "my.toml:28:1: this dry has no at-most: it would run on if dryness is never seen; " +
			`add at-most = "60 min"`},
		{"until something else", []string{`until   = "dry"|until = "damp"`}, `my.toml:31:9: until cannot be "damp"; write "dry"`},
		{"scrub before wet", []string{`do   = "wet"|do   = "rinse"` + "\nhub = \"20 rpm\""}, "my.toml:19:11: a scrub before any wet: the pads would run dry on the disk; put a wet before it"},
		{"at-most too short", []string{"reverse = |at-most = \"89 s\"\nreverse = "}, "my.toml:21:11: at-most (0:01:29) is shorter than for (0:01:30); " +
			"raise at-most, or leave it out"},
		{"reverse too quick", []string{`"15 s"|"1.9 s"`}, `my.toml:21:11: reverse = "1.9 s" is out of range; allowed is 2 s to 24 h`},
		{"reverse never", []string{`"15 s"|"90 s"`}, "my.toml:21:11: reverse (0:01:30) is not shorter than for (0:01:30): the pads would never turn round; " +
			"lower reverse, or leave it out"},
		{"spin too fast", []string{`do   = "rinse"` + "\nflow = \"20 mL/min\"\nhub  = \"30 rpm\"|do = \"spin-out\"\nhub = \"6000 rpm\"", "rinse  = \"distilled-water\"\n|"},
			`my.toml:24:7: hub = "6000 rpm" is out of range; allowed is 1 rpm to 600 rpm`},
		{"spin too long", []string{`do   = "rinse"` + "\nflow = \"20 mL/min\"\nhub  = \"30 rpm\"|do = \"spin-out\"\nhub = \"60 rpm\"", `"30 s"|"11 min"`},
			`my.toml:26:8: for = "11 min" is out of range; allowed is 100 ms to 10 min`},
		{"warm after a flammable liquid", []string{"until |warm = \"36 °C\"\nuntil ", `"water-detergent"|"isopropanol-91"`},
			"my.toml:31:8: isopropanol 91 % is flammable: the heater never runs in a cycle with it; leave out warm; moving air dries it"},
		{"warm after a flammable rinse", []string{"until |warm = \"36 °C\"\nuntil ", `"distilled-water"|"ethanol-96"`},
			"my.toml:31:8: ethanol 96 % is flammable: the heater never runs in a cycle with it; leave out warm; moving air dries it"},
	}
	for _, test := range tests {
		_, problems := Read("my.toml", []byte(change(t, sound, test.changes...)))
		if got := problems.Errors().Error(); got != test.want {
			t.Errorf("%s:\n got %s\nwant %s", test.name, got, test.want)
		}
	}
}

func TestReadWarns(t *testing.T) {
	tests := []struct {
		name    string
		changes []string
		want    string
	}{
		{"high pressure", []string{`"2 kPa"|"5.1 kPa"`}, "my.toml:7:12: warning: a pad pressure of 5.1 kPa may scrape the coating; up to 5 kPa is usual"},
		{"usual pressure", []string{`"2 kPa"|"5 kPa"`}, ""},
		{"tap water last", []string{`"distilled-water"|"water"`}, `my.toml:4:10: warning: tap water as the last rinse leaves minerals on the disk; write rinse = "distilled-water"`},
		{"detergent last", []string{`"distilled-water"|"water-detergent"`}, `my.toml:4:10: warning: a rinse with detergent leaves detergent on the disk; write rinse = "distilled-water"`},
		{"detergent without rinse", []string{"rinse  = \"distilled-water\"\n|", "do   = \"rinse\"\nflow = \"20 mL/min\"\nhub  = \"30 rpm\"|do = \"soak\""},
			"my.toml:3:10: warning: without a rinse the detergent dries onto the disk; add a rinse with distilled water"},
		{"tap water without rinse", []string{"rinse  = \"distilled-water\"\n|", "do   = \"rinse\"\nflow = \"20 mL/min\"\nhub  = \"30 rpm\"|do = \"soak\"", `"water-detergent"|"water"`},
			`my.toml:3:10: warning: tap water as the last liquid leaves minerals on the disk; rinse with distilled water, or write liquid = "distilled-water"`},
		{"rinse for nothing", []string{"do   = \"rinse\"\nflow = \"20 mL/min\"\nhub  = \"30 rpm\"|do = \"soak\"", `"water-detergent"|"isopropanol-70"`},
			`my.toml:4:10: warning: rinse names a liquid, but no stage rinses; add a [[stage]] with do = "rinse", or leave it out`},
	}
	for _, test := range tests {
		_, problems := Read("my.toml", []byte(change(t, sound, test.changes...)))
		if got := problems.Error(); got != test.want {
			t.Errorf("%s:\n got %s\nwant %s", test.name, got, test.want)
		}
		if len(problems.Errors()) > 0 {
			t.Errorf("%s: a warning counts as an error", test.name)
		}
	}
}

// All that is wrong is told at once, in the order of the file.
func TestReadTellsAll(t *testing.T) {
	text := change(t, sound, `"Test"|5`, `"2 kPa"|2`, `"150 min"|"-1 s"`, `"scrub"|"scrap"`, "hub  = |hubb = ", "until |untill = \"dry\"\nuntil ")
	_, problems := Read("my.toml", []byte(text))
	want := `my.toml:1:10: title is a bare number, not a text; write title = "Water with detergent"
my.toml:7:12: pressure = 2 has no unit; a unit is needed: write "2 kPa"
my.toml:12:10: time = "-1 s" is out of range; allowed is 100 ms to 24 h
my.toml:18:11: do cannot be "scrap"; did you mean "scrub"?
my.toml:23:1: this stage has no hub; add hub = "60 rpm"
my.toml:26:1: this stage has no key hubb; did you mean hub?
my.toml:31:1: this stage has no key untill; did you mean until?`
	if got := problems.Error(); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}

func TestReadWholeFiles(t *testing.T) {
	tests := []struct{ name, text, want string }{
		{"empty", "", `my.toml:1:1: the file has no title; add title = "Water with detergent"
my.toml:1:1: the file has no media; add media = ["90 mm"]
my.toml:1:1: the file has no [limits]; add [limits] with liquid and time
my.toml:1:1: the recipe has no stage; add [[stage]] with do = "wet" and so on`},
		{"a bench file", "kind = \"simulated\"", "my.toml:1:1: this is a bench file, not a recipe; give it as the bench"},
		{"noise", strings.Repeat("\x01\x02~", 4<<20), "my.toml:1:1: the file has 12582912 bytes, more than the 1048576 that are read; " +
			"check that this is the file you meant"},
		{"UTF-16", "\xFF\xFEt\x00", "my.toml:1:1: the file is UTF-16; save it as UTF-8"},
	}
	for _, test := range tests {
		r, problems := Read("my.toml", []byte(test.text))
		if got := problems.Error(); got != test.want {
			t.Errorf("%s:\n got %s\nwant %s", test.name, got, test.want)
		}
		if r.Name != "my" || r.Place("stage.0.flow") != (Place{File: "my.toml", Line: 1, Column: 1}) {
			t.Errorf("%s: name %q, place %v", test.name, r.Name, r.Place("stage.0.flow"))
		}
	}
}

// A file with very many mistakes is answered with the first of them.
func TestReadTellsNoMoreThanAPersonReads(t *testing.T) {
	text := sound + strings.Repeat("[[stage]]\ndo = \"dry\"\nfan = 3\n", 1000)
	_, problems := Read("my.toml", []byte(text))
	if len(problems) < 50 || len(problems) > 110 {
		t.Errorf("%d problems are told", len(problems))
	}
}

func TestDryOnly(t *testing.T) {
	r, problems := Read("my.toml", []byte(`title = "Dry"
media = ["130 mm"]
[limits]
time = "20 min"
[[stage]]
do = "dry"
fan = "50 %"
warm = "35 °C"
for = "10 min"
[[stage]]
do = "dry"
fan = "30 %"
for = "10 min"
`))
	if len(problems) > 0 || r.Liquid != "" || r.Dose() != 0 || len(r.Stages) != 2 || r.Stages[0].Warm != 308.15 || r.Repeat != 1 {
		t.Errorf("%+v, %v", r, problems)
	}
	_, problems = Read("my.toml", []byte(change(t, r.Text, "[limits]|repeat = 2\n[limits]")))
	if want := "my.toml:3:10: repeat has nothing to repeat: no stage stands before the first dry; leave it out"; problems.Error() != want {
		t.Errorf("got %v, want %s", problems, want)
	}
	_, problems = Read("my.toml", []byte(change(t, r.Text, "[limits]|liquid = \"isopropanol-99\"\n[limits]")))
	if want := "my.toml:9:8: isopropanol 99 % is flammable: the heater never runs in a cycle with it; leave out warm; moving air dries it"; problems.Error() != want {
		t.Errorf("got %v, want %s", problems, want)
	}
}

func TestKindOf(t *testing.T) {
	for text, want := range map[string]string{
		sound: "recipe", "kind = \"board\"": "bench", "kind = 3": "bench", "[sensors.lid]": "bench", "[[stage]]": "recipe", "[limits]": "recipe",
		"": "", "x = 1": "", "not TOML": "", "\xFF\xFE": "",
	} {
		if got := KindOf([]byte(text)); got != want {
			t.Errorf("%.30q is %q, want %q", text, got, want)
		}
	}
}

func TestPlace(t *testing.T) {
	r, _ := Read("my.toml", []byte(sound))
	for path, want := range map[string]string{
		"liquid": "my.toml:3:10", "pads.pressure": "my.toml:7:12", "stage.2.flow": "my.toml:25:8", "stage.2.fan": "my.toml:23:1", "stage.2": "my.toml:23:1",
		"stage.9.flow": "my.toml:13:1", "limits.nothing": "my.toml:10:1", "nothing.at.all": "my.toml:1:1", "": "my.toml:1:1", "..": "my.toml:1:1",
	} {
		if got := r.Place(path).String(); got != want {
			t.Errorf("%q is at %s, want %s", path, got, want)
		}
	}
	if got := (Recipe{Name: "made"}).Place("pads").String(); got != "made:1:1" {
		t.Errorf("a recipe from no file says %s", got)
	}
}

// The forms that other sections of the manuals show: dotted keys, inline tables, literal strings.
func TestReadOtherFormsOfTOML(t *testing.T) {
	text := `title = 'Isopropanol 91, two passes'
media = [ '90 mm',
  "130 mm", # both
]
liquid = "isopropanol-91"
repeat = 2
pads = { pressure = "2.0 kPa", within = "25 %", balance = "15 %" }
limits.liquid = "12 mL"
limits.time = "40 min"
stage = [
  { do = "wet", flow = "6 mL/min", for = "30 s" },
  { do = "scrub", pads = "60 rpm", hub = "20 rpm", for = "90 s", reverse = "15 s" },
  { do = "dry", fan = "100 %", until = "dry", at-most = "60 min" },
]
`
	r, problems := Read("my.toml", []byte(text))
	if len(problems) > 0 {
		t.Fatal(problems)
	}
	want := Recipe{
		Name: "my", Text: text, Title: "Isopropanol 91, two passes", Media: []string{"90 mm", "130 mm"}, Liquid: "isopropanol-91", Repeat: 2,
		Pads: Pads{2000, 0.25, 0.15}, Limits: Limits{12e-6, 40 * time.Minute},
		Stages: []Stage{
			{Do: Wet, Line: 11, For: 30 * time.Second, AtMost: 90 * time.Second, Flow: 6e-6 / 60},
			{Do: Scrub, Line: 12, For: 90 * time.Second, AtMost: 150 * time.Second, Pads: 1, Hub: 20.0 / 60, Reverse: 15 * time.Second},
			{Do: Dry, Line: 13, AtMost: time.Hour, Fan: 1, UntilDry: true},
		},
	}
	sameRecipe(t, r, want)
	for path, want := range map[string]string{"stage.1.hub": "my.toml:12:42", "stage.1.fan": "my.toml:12:3", "limits.time": "my.toml:9:15", "pads.within": "my.toml:7:41"} {
		if got := r.Place(path).String(); got != want {
			t.Errorf("%s is at %s, want %s", path, got, want)
		}
	}
}

// A limit that is met exactly is not passed, whatever the sum of its parts rounds to.
func TestLimitsMayBeMetExactly(t *testing.T) {
	for _, limit := range []string{`"40 mL"|"32 mL"`, `"150 min"|"330 s"`} {
		if _, problems := Read("my.toml", []byte(change(t, sound, limit))); len(problems) > 0 {
			t.Errorf("%s: %v", limit, problems)
		}
	}
}

// Both ends of a range are allowed.
func TestRangesIncludeTheirEnds(t *testing.T) {
	for _, c := range []string{`"2 kPa"|"0.2 kPa"`, `"25 %"|"50 %"`, `"15 %"|"1 %"`, `"60 rpm"|"600 rpm"`, `"15 s"|"2 s"`, `"150 min"|"24 h"`,
		`"100 %"|"1 %"`, "repeat = 2|repeat = 1", `"40 mL"|"5 L"`, "until |warm = \"50 °C\"\nuntil ", "until |warm = \"10 °C\"\nuntil "} {
		text := change(t, sound, c)
		if _, problems := Read("my.toml", []byte(text)); len(problems) > 0 {
			t.Errorf("%s: %v", c, problems)
		}
	}
}

// A file's name gives the recipe its name, on every system's paths.
func TestNameOf(t *testing.T) {
	for file, want := range map[string]string{"a/b/my.toml": "my", `C:\disks\my.toml`: "my", "my": "my", "my.tml": "my.tml", ".toml": ".toml", "": "."} {
		if got := nameOf(file); got != want {
			t.Errorf("%q is named %q, want %q", file, got, want)
		}
	}
}
