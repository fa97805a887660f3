package lines

import (
	"errors"
	"io/fs"
	"strings"
	"syscall"
	"testing"
)

// board is one computer's set of chips.
type board struct {
	name  string
	chips []FakeChip
	nodes []FakeNode // links besides the chips' own nodes
	label string
	want  string // the kernel's name of the chip; "" for a refusal
}

// The chips of the four cases of a renumbered board. Labels and numbers as people reported them.
var boards = []board{
	{"header's chip is number 4", []FakeChip{
		{Name: "gpiochip0", Label: "gpio-brcmstb@107d508500", Lines: names("-", "-")},
		{Name: "gpiochip4", Label: "pinctrl-rp1", Lines: names("ID_SDA", "PUMP")}}, nil, "pinctrl-rp1", "gpiochip4"},
	{"header's chip is number 0, with a link from 4", []FakeChip{
		{Name: "gpiochip0", Label: "pinctrl-rp1", Lines: names("ID_SDA", "PUMP")},
		{Name: "gpiochip10", Label: "gpio-brcmstb@107d508500", Lines: names("-", "-")},
		{Name: "gpiochip11", Label: "gpio-brcmstb@107d508520", Lines: names("-", "-")},
		{Name: "gpiochip12", Label: "gpio-brcmstb@107d517c00", Lines: names("-", "-")},
		{Name: "gpiochip13", Label: "gpio-brcmstb@107d517c20", Lines: names("-", "-")}},
		[]FakeNode{{Path: "/dev/gpiochip4", Chip: "gpiochip0"}}, "pinctrl-rp1", "gpiochip0"},
	{"an older board", []FakeChip{
		{Name: "gpiochip0", Label: "pinctrl-bcm2711", Lines: names("ID_SDA", "PUMP")},
		{Name: "gpiochip1", Label: "exp-gpio", Lines: names("-", "-")},
		{Name: "gpiochip4", Label: "another-expander", Lines: names("-", "-")}}, nil, "pinctrl-bcm2711", "gpiochip0"},
	{"none matches", []FakeChip{
		{Name: "gpiochip0", Label: "pinctrl-bcm2711", Lines: names("ID_SDA", "PUMP")},
		{Name: "gpiochip1", Label: "exp-gpio", Lines: names("-", "-")}}, nil, "pinctrl-rp1", ""},
}

// TestA09ChipByLabel: the same line is picked by its label on every board, no other chip is ever asked for a line, and
// where none matches the chips are listed.
func TestA09ChipByLabel(t *testing.T) {
	for _, b := range boards {
		t.Run(b.name, func(t *testing.T) {
			f := &Fake{}
			for _, c := range b.chips {
				f.Add(c)
			}
			f.Link(b.nodes...)
			if b.want == "" {
				_, err := Find(f, b.label)
				says(t, err, b.label, `gpiochip0 "pinctrl-bcm2711"`, `gpiochip1 "exp-gpio"`, "write the label")
				return
			}
			c := find(t, f, b.label)
			if c.info.Name != b.want || c.Label() != b.label || c.Lines() != 2 {
				t.Fatalf("found %+v, want %s", c.info, b.want)
			}
			offset, err := c.Line("PUMP", -1)
			check(t, err)
			pump, err := c.Output(offset, "pump", true)
			check(t, err)
			check(t, pump.Set(true))
			check(t, pump.Close())
			for _, s := range f.Trace() {
				if s.Chip != b.label || s.Offset != 1 {
					t.Errorf("another line was touched: %+v", s)
				}
			}
			if len(f.Trace()) != 4 {
				t.Errorf("%d samples, want request, set, set, release: %+v", len(f.Trace()), f.Trace())
			}
		})
	}
}

func TestFindCountsLinksOnce(t *testing.T) {
	f := &Fake{}
	f.Add(FakeChip{Name: "gpiochip0", Label: label, Lines: names("A")}, FakeNode{Path: "/dev/gpiochip0", Chip: "gpiochip0"},
		FakeNode{Path: "/dev/gpiochip4", Chip: "gpiochip0"}, FakeNode{Path: "/dev/gpiochip9", Chip: "gone"})
	find(t, f, label)
	_, err := Find(f, "other")
	says(t, err, "/dev/gpiochip9", "did not answer")
	if n := strings.Count(err.Error(), label); n != 1 {
		t.Errorf("the chip is listed %d times: %s", n, err)
	}
}

func TestFindRefuses(t *testing.T) {
	twins, denied := &Fake{}, &Fake{}
	twins.Add(FakeChip{Name: "gpiochip0", Label: label})
	twins.Add(FakeChip{Name: "gpiochip1", Label: label})
	denied.Add(FakeChip{Name: "gpiochip0", Label: label}, FakeNode{Path: "/dev/gpiochip0", Chip: "gpiochip0", Denied: true})
	denied.Add(FakeChip{Name: "gpiochip1", Label: "small"})

	_, err := Find(twins, label)
	says(t, err, "2 GPIO chips", "gpiochip0", "gpiochip1")
	_, err = Find(denied, label)
	says(t, err, "/dev/gpiochip0", "group gpio", "usermod -aG gpio", `gpiochip1 "small"`)
	if !errors.Is(err, fs.ErrPermission) {
		t.Errorf("%v is not fs.ErrPermission", err)
	}
	find(t, denied, "small")                // what may be opened is enough
	denied.Add(FakeChip{Name: "gpiochip2"}) // without a label
	_, err = Find(denied, "")
	says(t, err, "name the label")
	_, err = Find(&Fake{}, label)
	says(t, err, "no GPIO chip", label, "run this on the board")
}

func TestLine(t *testing.T) {
	_, c := one(t, names("ID_SDA", "PUMP", "TWIN", "TWIN", "")...)
	for _, k := range []struct {
		name   string
		offset int
		want   int
		err    string
	}{
		{"PUMP", -1, 1, ""},
		{"PUMP", 1, 1, ""},
		{"PUMP", 2, 0, "right chip"},
		{"", 4, 4, ""},
		{"", 5, 0, "lines 0 to 4, not 5"},
		{"", -1, 0, "lines 0 to 4, not -1"},
		{"TWIN", -1, 0, "lines 2 3"},
		{"TWIN", 2, 0, "give the offset"},
		{"FAN", -1, 0, `no line of pinctrl-test is named "FAN"`},
		{"GPIO4", 4, 4, ""},
		{"GPIO9", 9, 0, "lines 0 to 4, not 9"},
	} {
		got, err := c.Line(k.name, k.offset)
		if k.err != "" {
			says(t, err, k.err)
		} else if err != nil || got != k.want {
			t.Errorf("Line(%q, %d) = %d, %v, want %d", k.name, k.offset, got, err, k.want)
		}
	}
}

func TestConsumerLabel(t *testing.T) {
	for role, want := range map[string]string{
		"pump":                     "fullery pump",
		"rinse-pump-of-bench-two":  "fullery rinse-pump-of-bench-two",
		"rinse-pump-of-bench-two1": "fullery rinse-pump-of-bench-two",
		"rinse-pump-of-bench-twö":  "fullery rinse-pump-of-bench-tw", // the kernel would cut the letter in two
	} {
		if got := consumer(role); got != want || len(got) > 31 {
			t.Errorf("%q becomes %q, want %q", role, got, want)
		}
	}
}

func TestLineInfoInWords(t *testing.T) {
	info := LineInfo{Offset: 17, Name: "GPIO17", Consumer: "fullery pump", Flags: FlagUsed | FlagOutput | FlagActiveLow}
	if got, want := info.String(), `line 17 "GPIO17": used, active low, output, held by "fullery pump"`; got != want {
		t.Errorf("%s, want %s", got, want)
	}
	if got := (LineInfo{Offset: 3}).String(); got != "line 3" {
		t.Error(got)
	}
}

// troubled is a kernel whose chips answer with an error.
type troubled struct{ listing, opening, info, line, request error }

func (k troubled) Device() Device                    { return k }
func (k troubled) Close() error                      { return nil }
func (k troubled) Info() (ChipInfo, error)           { return ChipInfo{"gpiochip0", label, 8}, k.info }
func (k troubled) Line(offset int) (LineInfo, error) { return LineInfo{Offset: offset}, k.line }
func (k troubled) Request(Request) (Held, error)     { return nil, k.request }

type troubledKernel struct {
	*Fake
	troubled
}

func (k troubledKernel) Nodes() ([]string, error)    { return []string{"/dev/gpiochip0"}, k.listing }
func (k troubledKernel) Open(string) (Device, error) { return k.troubled, k.opening }

func TestTroubleIsTold(t *testing.T) {
	_, err := Find(troubledKernel{troubled: troubled{listing: syscall.EIO}}, label)
	says(t, err, "cannot be listed", "input/output error")
	_, err = Find(troubledKernel{troubled: troubled{info: syscall.ENODEV}}, label)
	says(t, err, "/dev/gpiochip0", "no such device")

	c := find(t, troubledKernel{troubled: troubled{line: syscall.ENOTTY}}, label)
	_, err = c.Line("PUMP", -1)
	says(t, err, "line 0 of pinctrl-test", "older than 5.10")
	_, err = c.Output(3, "pump", false)
	says(t, err, "pump", "line 3 of pinctrl-test", "older than 5.10")

	c = find(t, troubledKernel{troubled: troubled{request: syscall.EINVAL}}, label)
	_, err = c.Output(3, "pump", false)
	says(t, err, "pump", "line 3 of pinctrl-test cannot be claimed", "invalid argument")
	_, err = c.Input(8, "lid", PullUp, NoEdges)
	says(t, err, "lid", "lines 0 to 7, not 8")
}
