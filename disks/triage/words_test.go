package triage

import (
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestParse(t *testing.T) {
	for text, want := range map[string]Look{
		"":                                    {},
		" , ":                                 {},
		"mould=some":                          {Mould: Some},
		"MOULD = Some , hub=loose":            {Mould: Some, Hub: Some},
		"wet":                                 {Wet: Some},
		"wet=no,noise=yes":                    {Wet: None, Noise: Some},
		"shutter=sound,pinholes=much":         {Shutter: None, Pinholes: Much},
		"rest=none":                           {None, None, None, None, None, None, None, None, None, None, None},
		"rest=none,hub=firm,foreign=much,wet": {Some, None, None, None, None, Much, None, None, None, None, None},
	} {
		if got, err := Parse(text); err != nil || got != want {
			t.Errorf("%q: %v, %v, want %v", text, got, err, want)
		}
	}
	if got, err := Parse("mould=some", "wet, dust=none"); err != nil || got != (Look{Mould: Some, Wet: Some, Dust: None}) {
		t.Errorf("several: %v, %v", got, err)
	}
}

func TestParseRefuses(t *testing.T) {
	for text, says := range map[string]string{
		"mold=some":             `"mold" is no finding; did you mean mould?`,
		"mould":                 "nothing is said of mould; say mould=none or mould=some or mould=much",
		"mould=":                "nothing is said of mould",
		"mould=yes":             `mould cannot be "yes"; say mould=none or`,
		"mould=mucj":            `mould cannot be "mucj"; did you mean mould=much?`,
		"hub":                   "nothing is said of hub; say hub=firm or hub=loose",
		"hub=yes":               `hub cannot be "yes"; say hub=firm or hub=loose`,
		"wet=some":              `wet cannot be "some"; say wet=no or wet=yes`,
		"mould=some,mould=none": "mould is said twice",
		"rest":                  "rest=none, once",
		"rest=some":             "rest=none, once",
		"rest=none,rest=none":   "rest=none, once",
		"colour=blue":           `"colour" is no finding; the findings are wet, mould`,
		"=":                     `"" is no finding`,
		"x" + strings.Repeat("y", 9000) + "=some": "is no finding",
		"mould=" + strings.Repeat("y", 9000):      "mould cannot be",
	} {
		_, err := Parse(text)
		if err == nil || !strings.Contains(err.Error(), says) || len(err.Error()) > 200 {
			t.Errorf("%.40q: %v, want %q", text, err, says)
		}
	}
}

// Every look survives being written and read.
func TestRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var l Look
		for f := range l {
			l[f] = Level(rapid.IntRange(0, int(Finding(f).Worst())).Draw(t, Finding(f).String()))
		}
		got, err := Parse(l.String())
		if err != nil || got != l {
			t.Fatalf("%v was written as %q and read as %v, %v", [NumFindings]Level(l), l, [NumFindings]Level(got), err)
		}
	})
}

func FuzzParse(f *testing.F) {
	f.Add("mould=some, hub=loose, rest=none")
	f.Add("wet,noise")
	f.Add("=,==,rest=")
	f.Fuzz(func(t *testing.T, text string) {
		l, err := Parse(text)
		if err != nil {
			if strings.TrimSpace(err.Error()) == "" || l != (Look{}) {
				t.Errorf("%q: %v beside %q", text, l, err)
			}
			return
		}
		if again, err := Parse(l.String()); err != nil || again != l {
			t.Errorf("%q: %v, then %v, %v", text, l, again, err)
		}
	})
}

func TestWords(t *testing.T) {
	seen := map[string]bool{}
	for _, f := range Findings() {
		words := f.Words()
		if f.String() == "" || seen[f.String()] || !strings.HasSuffix(f.Question(), "?") || len(words) < 2 || len(words) > 3 {
			t.Errorf("%v: %q %q", f, f.Question(), words)
		}
		seen[f.String()] = true
		for i, w := range words {
			if l, err := Parse(f.String() + "=" + w); err != nil || l[f] != None+Level(i) || f.Word(l[f]) != w {
				t.Errorf("%v=%s: %v, %v", f, w, l, err)
			}
		}
		if f.Word(Unseen) != "not looked at" || f.Worst() != Level(len(words)) {
			t.Errorf("%v: %q, worst %d", f, f.Word(Unseen), f.Worst())
		}
	}
	if len(seen) != int(NumFindings) {
		t.Errorf("%d findings, not %d", len(seen), NumFindings)
	}
}

// The table as a person reads it. When it changes on purpose, change it here, and read it once more.
func TestTable(t *testing.T) {
	const want = `do not spin
  hub=loose                         a loose hub turns the disk off its centre and can tear it
  warped=yes                        a warped disk or jacket drags, and heads and pads hit it instead of gliding
  noise=yes                         what is heard when it is turned scrapes; find it before anything turns faster
  shedding=much                     the coating comes off, and every turn takes more of it
  foreign=much                      what lies in the jacket is dragged round over both faces
  pinholes=much                     light through many places means that the coating is gone there and loose around them
  shedding=some and scratches=some  a coating that sheds comes off along its scratches
by hand only
  wet=yes                           what it was wetted with dries onto it and holds it to the liner; it wants rinsing out of its jacket
  mould=much                        so much mould spreads to pads, bath, drive and every disk after it
  shedding=some                     pads and heads would scrape off a coating that sheds already
  foreign=some                      a grain under a pad or a head draws a scratch all the way round; take it out first
  shutter=damaged                   a damaged shutter can jam in the drive and catch its heads; mend it or change the jacket
  scratches=much                    raised edges of scratches catch pads and heads
  pinholes=some                     the coating is broken there, and scrubbing would widen it
clean first
  mould=some                        mould is carried to the heads, and by them to other disks
  dust=much                         dust gathers under the heads and scratches
read first
  otherwise                         nothing speaks against reading it, and what is read now cannot be lost by cleaning
`
	if got := Table(); got != want {
		t.Errorf("the table is\n%s\nwant\n%s", got, want)
	}
}

// Verdicts are called what the rest of the house calls them.
func TestVerdictNames(t *testing.T) {
	for v, want := range map[Verdict]string{NoVerdict: "no verdict", ReadFirst: "read first", CleanFirst: "clean first",
		ByHandOnly: "by hand only", DoNotSpin: "do not spin"} {
		if v.String() != want {
			t.Errorf("%d is %q, not %q", v, v, want)
		}
	}
}
