package endpoint

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"testing"
	"testing/iotest"
)

const headOfTrace = "t_s,in_c,in_rh,out_c,out_rh,surface_c,weight_g,hub_coast_s\n"

// What is wrong is told in one sentence that begins with the place.
func TestBadTraces(t *testing.T) {
	for _, c := range []struct{ name, text, want string }{
		{"nothing", "", "x.csv:1:1: the file is empty; it wants a header, t_s, in_c, in_rh, out_c, out_rh, and rows below it"},
		{"blank lines", "\n \n# a\n", "x.csv:1:1: the file is empty; "},
		{"header alone", headOfTrace, "x.csv:1:1: there is no row below the header"},
		{"no header", "0,21,50,20,60\n", `x.csv:1:1: the column "0" is not known; give t_s, in_c, in_rh`},
		{"no separator", "t_s|in_c\n", `x.csv:1:1: the header is "t_s|in_c"; name the columns, t_s, `},
		{"unknown column", "t_s,in_c,in_rh,out_c,out_rh,temp_f\n0,21,50,20,60,1\n", `x.csv:1:29: the column "temp_f" is not known; give t_s, `},
		{"a column without a name", "t_s,in_c,in_rh,out_c,out_rh,\n", `x.csv:1:29: the column "" is not known`},
		{"column twice", "t_s,in_c,in_rh,out_c,out_rh,in_c\n", "x.csv:1:29: the column in_c is there twice; leave one out"},
		{"missing column", "\n# a\nt_s,in_c,in_rh,out_c\n0,21,50,20\n",
			`x.csv:3:1: there is no column out_rh among ["t_s" "in_c" "in_rh" "out_c"]; add it, with empty cells if it was not read`},
		{"torn row", headOfTrace + "0,21,50,20,60,18,22,1\n1,21,5", "x.csv:3:6: this row has 3 cells and the header 8; the row is torn: complete it or take it out"},
		{"decimal commas between commas", "t_s,in_c,in_rh,out_c,out_rh\n0,21,5,50,0,20,5,60,0\n",
			"x.csv:2:13: this row has 9 cells and the header 5; is the row torn, or is a decimal comma in it? Separate the columns by semicolons then"},
		{"quoted decimal comma", "t_s,in_c,in_rh,out_c,out_rh\n0,\"21,5\",50,20,60\n",
			`x.csv:2:3: "21,5" has a decimal comma, and commas separate the columns; write 21.5, or separate the columns by semicolons`},
		{"two decimal marks", "t_s;in_c;in_rh;out_c;out_rh\n0;21,5;50;20;60\n1;21.5;50;20;60\n",
			`x.csv:3:3: "21.5" has a decimal point, and line 2 has a decimal comma; use one of them throughout`},
		{"thousands", "t_s;in_c;in_rh;out_c;out_rh\n1.234,5;21;50;20;60\n", `x.csv:2:1: t_s "1.234,5" is not a number`},
		{"quotes", "t_s,in_c,in_rh,out_c,out_rh\n0,21,\"50,20,60\n", "x.csv:2:16: the quotation marks do not match; numbers need none"},
		{"a word", headOfTrace + "0,21,50,n/a,60,18,22,1\n",
			`x.csv:2:9: out_c "n/a" is not a number; write it like 21.5, and leave the cell empty where nothing was read`},
		{"not a number", headOfTrace + "0,NaN,50,20,60,18,22,1\n", `x.csv:2:3: in_c "NaN" is not a number`},
		{"endless", headOfTrace + "0,Inf,50,20,60,18,22,1\n", `in_c "Inf" is not a number`},
		{"hexadecimal", headOfTrace + "0,0x15,50,20,60,18,22,1\n", `in_c "0x15" is not a number`},
		{"an underscore", headOfTrace + "1_0,21,50,20,60,18,22,1\n", `t_s "1_0" is not a number`},
		{"a unit", headOfTrace + "0,21 °C,50,20,60,18,22,1\n", `in_c "21 °C" is not a number`},
		{"per cent of a temperature", headOfTrace + "0,21 %,50,20,60,18,22,1\n", `in_c "21 %" is not a number`},
		{"too large", headOfTrace + "1e999,21,50,20,60,18,22,1\n", `t_s "1e999" is too large a number`},
		{"a date", headOfTrace + "2026-01-04T12:00:00,21,50,20,60,18,22,1\n", `x.csv:2:1: t_s "2026-01-04T12:00:00" is not a number`},
		{"seconds since long ago", headOfTrace + "1767528000,21,50,20,60,18,22,1\n",
			"x.csv:2:1: t_s 1767528000 cannot be; give seconds, at most 30 days from 0: 0 is when the drying began"},
		{"no time", headOfTrace + ",21,50,20,60,18,22,1\n", "x.csv:2:1: this row has no t_s; give the seconds since the drying began"},
		{"backwards", headOfTrace + "10,21,50,20,60,18,22,1\n5,21,50,20,60,18,22,1\n",
			"x.csv:3:1: t_s goes backwards, from 10 in line 2 to 5; put the rows in the order of time"},
		{"twice", headOfTrace + "10,21,50,20,60,18,22,1\n\n10.0,21,50,20,60,18,22,1\n",
			"x.csv:4:1: t_s 10 is there twice, in line 2 as well; take one row out"},
		{"backwards, another column first", "in_c,t_s,in_rh,out_c,out_rh\n21,1,50,20,60\n21,0,50,20,60\n", "x.csv:3:4: t_s goes backwards"},
		{"too damp", headOfTrace + "0,21,50,20,100.5,18,22,1\n", "x.csv:2:12: out_rh 100.5 cannot be; give 0 to 100 %"},
		{"less than dry", headOfTrace + "0,21,-1 %,20,60,18,22,1\n", "x.csv:2:6: in_rh -1 % cannot be; give 0 to 100 %"},
		{"a sensor's error code", headOfTrace + "0,21,50,85,60,18,22,1\n", "x.csv:2:9: out_c 85 cannot be; give -20 to 70 °C"},
		{"a broken wire", headOfTrace + "0,-127,50,20,60,18,22,1\n", "x.csv:2:3: in_c -127 cannot be"},
		{"kelvins", headOfTrace + "0,21,50,20,60,293,22,1\n", "x.csv:2:15: surface_c 293 cannot be"},
		{"no weight", headOfTrace + "0,21,50,20,60,18,0,1\n",
			"x.csv:2:18: weight_g 0 cannot be; give more than 0 g, to 10 kg: it is the weight of cartridge and holder, so do not set the scale"},
		{"no coast", headOfTrace + "0,21,50,20,60,18,22,0.0\n", "x.csv:2:21: hub_coast_s 0.0 cannot be; give more than 0 s"},
		{"only the dry disk", headOfTrace + "-20,21,50,20,60,18,22,1\n-1,21,50,20,60,18,22,1\n",
			"x.csv:3:1: all rows are before t_s 0, so that nothing of the drying is in the file"},
		{"another encoding", "t_s,in_c,in_rh,out_c,out_rh\n0,21\xb0,50,20,60\n", "x.csv:2:5: this is not text in UTF-8; save the file as CSV in UTF-8"},
		{"two bytes a letter", "\xff\xfet\x00_\x00", "x.csv:1:1: this is not text in UTF-8"},
		{"a null", "t_s,in_c\x00", "x.csv:1:9: this is not text in UTF-8"},
	} {
		_, err := ReadTrace("x.csv", strings.NewReader(c.text))
		if err == nil || !strings.Contains(err.Error(), c.want) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%s: %v\nwant %s", c.name, err, c.want)
		}
	}
}

// The same table in every form that a logger or a spreadsheet writes gives the same values.
func TestFormsOfATrace(t *testing.T) {
	const plain = "t_s,in_c,in_rh,out_c,out_rh,weight_g\n-10,21.5,50,21.25,51,20\n0,21.5,50.5,,60,22.125\n10.5,21.75,49.5,18.5,61.5,\n"
	swap := func(pairs ...string) string { return strings.NewReplacer(pairs...).Replace(plain) }
	want := fmt.Sprint(readTrace(t, plain).rows)
	for name, text := range map[string]string{
		"line ends of another system": swap("\n", "\r\n"),
		"line ends of an old one":     swap("\n", "\r"),
		"mark of UTF-8":               "\ufeff" + plain,
		"semicolons":                  swap(",", ";"),
		"tabs":                        swap(",", "\t"),
		"decimal commas":              swap(",", ";", ".", ","),
		"tabs and decimal commas":     swap(",", "\t", ".", ","),
		"everything at once":          "\ufeff" + swap(",", ";", ".", ",", "\n", "\r\n"),
		"spaces":                      swap(",", " , "),
		"quotes":                      swap("21.5", `"21.5"`, "t_s", `"t_s"`),
		"per cent":                    swap("50.5", "50.5 %", "49.5", "49.5%"),
		"signs and exponents":         swap("10.5", "+1.05e1", "20\n", "2E+1\n"),
		"no last line end":            strings.TrimSuffix(plain, "\n"),
		"what a spreadsheet leaves":   plain + ",,,,,\n , ,,,,\n",
	} {
		if got := fmt.Sprint(readTrace(t, text).rows); got != want {
			t.Errorf("%s:\n%s\n%s\nwant\n%s", name, text, got, want)
		}
	}
	moved := readTrace(t, "# by hand\nweight_g,out_rh,t_s,out_c,in_c,in_rh\n20,51,-10,21.25,21.5,50\n22.125,60,0,,21.5,50.5\n,61.5,10.5,18.5,21.75,49.5\n")
	for i := range moved.rows {
		moved.rows[i].line-- // for the first line
	}
	if got := fmt.Sprint(moved.rows); got != want {
		t.Errorf("columns in another order:\n%s\nwant\n%s", got, want)
	}
}

// What is read is in SI, and what is missing is no zero.
func TestTraceValues(t *testing.T) {
	tr := readTrace(t, headOfTrace+"-5,20,40,20,40,20,20,2\n0,21.5,50,19.5,60 %,,22,\n40,,,,,,,\n80,22,51,,,,21.5,0.5\n")
	want := []Reading{
		{AirIn: 293.15, AirInRH: 0.4, AirOut: 293.15, AirOutRH: 0.4, Surface: 293.15, Weight: 0.020, Coast: 2},
		{AirIn: 294.65, AirInRH: 0.5, AirOut: 292.65, AirOutRH: 0.6, Surface: math.NaN(), Weight: 0.022, Coast: math.NaN()},
		// Of what comes every 80 s one that is missing is bridged; nothing is known of how long the rest holds.
		{AirIn: 294.65, AirInRH: 0.5, AirOut: math.NaN(), AirOutRH: math.NaN(), Surface: math.NaN(), Weight: 0.022, Coast: math.NaN()},
		{AirIn: 295.15, AirInRH: 0.51, AirOut: math.NaN(), AirOutRH: math.NaN(), Surface: math.NaN(), Weight: 0.0215, Coast: 0.5},
	}
	for i, w := range want {
		w.Air = math.NaN()
		got := tr.rows[i].reading()
		if !alike(got, w) {
			t.Errorf("row %d: %+v, want %+v", i, got, w)
		}
	}
	if k, humidity := tr.Air(); math.Abs(k-294.9) > 1e-9 || math.Abs(humidity-0.505) > 1e-9 {
		t.Errorf("air %v K, %v", k, humidity)
	}
	if dry, wet := tr.Rows(); dry != 1 || wet != 3 || tr.Seconds() != 80 || tr.Begins() != -5 {
		t.Errorf("%d dry and %d wet rows from %v to %v", dry, wet, tr.Begins(), tr.Seconds())
	}
	for e, has := range map[Evidence]bool{ByWeight: true, BySurface: false, ByAir: true, ByDrag: true, ByClock: false} {
		if tr.Has(e) != has {
			t.Errorf("%s in the file: %v", e, !has)
		}
	}
}

func alike(a, b Reading) bool {
	x := []float64{a.AirIn, a.AirInRH, a.Air, a.AirOut, a.AirOutRH, a.Surface, a.Weight, a.Coast}
	for i, y := range []float64{b.AirIn, b.AirInRH, b.Air, b.AirOut, b.AirOutRH, b.Surface, b.Weight, b.Coast} {
		if math.IsNaN(x[i]) != math.IsNaN(y) || math.Abs(x[i]-y) > 1e-9 {
			return false
		}
	}
	return true
}

// Humidities that are all 1 or less are shares of one, for the whole file; a per cent sign anywhere settles it.
func TestHumiditiesAsShares(t *testing.T) {
	for _, c := range []struct {
		in, out string
		want    float64 // of in
		said    bool
	}{
		{"0.5", "0.6", 0.5, true}, {"1", "1", 1, true}, {"50", "60", 0.5, false}, {"0.5", "60", 0.005, false},
		{"0.5 %", "0.6", 0.005, false}, {"0", "0", 0, false}, {"", "0.6", math.NaN(), true},
	} {
		tr := readTrace(t, "t_s,in_c,in_rh,out_c,out_rh\n0,21,"+c.in+",20,"+c.out+"\n")
		got := tr.rows[0].v[colInRH]
		said := strings.Contains(strings.Join(tr.Notes, " "), "taken as shares of one")
		if got != c.want && !(math.IsNaN(got) && math.IsNaN(c.want)) || said != c.said {
			t.Errorf("%q and %q: %v (want %v), said %v", c.in, c.out, got, c.want, said)
		}
	}
}

func TestTraceThatCannotBeRead(t *testing.T) {
	_, err := ReadTrace("x.csv", iotest.ErrReader(errors.New("the stick was pulled out")))
	if err == nil || err.Error() != "cannot read x.csv: the stick was pulled out" {
		t.Error(err)
	}
	if _, err = ReadTrace("x.csv", io.LimitReader(zeros{}, mostBytes+5)); err == nil || !strings.Contains(err.Error(), "larger than 64 MiB") {
		t.Error(err)
	}
}

type zeros struct{}

func (zeros) Read(p []byte) (int, error) { return len(p), nil }

// FuzzTrace: whatever the bytes, reading ends with rows that can be used, or with one sentence that names the file.
func FuzzTrace(f *testing.F) {
	l := usualLogger(f).only(ByAir)
	l.every, l.before, l.decimals = 120, 600, 2
	csv, _, _ := l.record(f, 1)
	for _, text := range []string{"", headOfTrace, csv, headOfTrace + "-1,20,40,20,40,20,20,2\n0,21,50,20,60 %,,22,\n",
		strings.NewReplacer(",", ";", ".", ",").Replace(csv), "\ufeffweight_g\tt_s\n\"1\n"} {
		f.Add([]byte(text))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		tr, err := ReadTrace("x.csv", bytes.NewReader(data))
		if err != nil {
			if text := err.Error(); !strings.HasPrefix(text, "x.csv:") || strings.ContainsAny(text, "\n\r") {
				t.Fatalf("%q", text)
			}
			return
		}
		before := math.Inf(-1)
		for _, r := range tr.rows {
			if !(r.v[colTime] > before) {
				t.Fatalf("%v after %v", r.v[colTime], before)
			}
			before = r.v[colTime]
			if in := r.v[colInC]; !math.IsNaN(in) && !(in > 200 && in < 400) || r.v[colWeight] <= 0 || r.v[colCoast] <= 0 {
				t.Fatalf("%v", r.v)
			}
		}
		if before < 0 {
			t.Fatal("no row of the drying")
		}
		replayAnything(t, tr)
	})
}

// replayAnything: nor does the end point fail on what was read.
func replayAnything(t *testing.T, tr *Trace) {
	l := usualLogger(t)
	l.of.Air, l.of.Humidity = zeroC+21, 0.5
	p, _, err := PlanTrace(wide(l.of.Liquid), l.of, tr)
	if err != nil {
		t.Fatal(err)
	}
	r := p.Replay(tr)
	if len(r.Moments) == 0 || (r.By == NoEvidence) != (r.Reason != "") {
		t.Fatalf("%v, %q", r.By, r.Reason)
	}
	for _, m := range r.Moments {
		if left := m.Left; math.IsNaN(left.Low+left.Median+left.High) || left.Low > left.Median || left.Median > left.High {
			t.Fatalf("%+v", m)
		}
	}
	for _, s := range p.Signals(tr) {
		if len(s.Seconds) != len(s.Values) {
			t.Fatal(s)
		}
	}
	tr.Through(wide(l.of.Liquid), l.of)
	tr.Kept(l.of.Liquid)
}
