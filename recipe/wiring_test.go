package recipe

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// The header as it is remembered: every line on exactly one pin and every pin with exactly one use. From memory; the test
// holds the table still and its sums right, it does not prove it.
func TestHeaderIsABijection(t *testing.T) {
	supplies, seen := map[string]int{}, map[int]bool{}
	for pin := 1; pin <= HeaderPins; pin++ {
		offset, supply := HeaderCarries(pin)
		switch {
		case supply != "" && offset == -1:
			supplies[supply]++
		case offset < 0 || offset > 27 || seen[offset]:
			t.Errorf("pin %d carries line %d", pin, offset)
		default:
			seen[offset] = true
			if HeaderPin(offset) != pin {
				t.Errorf("line %d is on pin %d, and pin %d carries it", offset, HeaderPin(offset), pin)
			}
		}
	}
	if len(seen) != 28 || supplies["ground"] != 8 || supplies["3.3 V"] != 2 || supplies["5 V"] != 2 {
		t.Errorf("%d lines and %v", len(seen), supplies)
	}
	for _, offset := range []int{-1, -2, -3, 28, 1000} {
		if HeaderPin(offset) != 0 {
			t.Errorf("line %d is on pin %d", offset, HeaderPin(offset))
		}
	}
	for _, pin := range []int{-1, 0, 41} {
		if offset, supply := HeaderCarries(pin); offset != -1 || supply != "" {
			t.Errorf("pin %d carries %d, %q", pin, offset, supply)
		}
	}
	// The same table from its other side, as the numbers of lines are listed on cards that are stuck to such boards.
	for offset, pin := range []int{27, 28, 3, 5, 7, 29, 31, 26, 24, 21, 19, 23, 32, 33, 8, 10, 36, 11, 12, 35, 38, 40, 15, 16, 18, 22, 37, 13} {
		if HeaderPin(offset) != pin {
			t.Errorf("GPIO%d is on pin %d, want %d", offset, HeaderPin(offset), pin)
		}
	}
}

// wireOf finds a wire by its role.
func wireOf(t *testing.T, text, role string) Wire {
	t.Helper()
	b, problems := ReadBench("b.toml", []byte(text))
	if len(problems.Errors()) > 0 {
		t.Fatalf("%v\n%s", problems, text)
	}
	wires := Wiring(b)
	i := slices.IndexFunc(wires, func(w Wire) bool { return w.Role == role })
	if i < 0 {
		t.Fatalf("no wire %s among %d", role, len(wires))
	}
	return wires[i]
}

// Every output and every fitted sensor of the shipped bench has its wire, and every wire tells all of its states.
func TestWiringIsWhole(t *testing.T) {
	b, problems := ReadBench("board.toml", []byte(shipped(t, "board")))
	if len(problems) > 0 {
		t.Fatal(problems)
	}
	roles, pins := map[string]bool{}, map[int]string{}
	group := GroupGuard
	for _, w := range Wiring(b) {
		if roles[w.Role] || w.Pin > 0 && pins[w.Pin] != "" || w.Group < group {
			t.Errorf("%s, pin %d, comes twice or out of order", w.Role, w.Pin)
		}
		roles[w.Role], pins[w.Pin], group = true, w.Role, w.Group
		for _, s := range []WireState{w.PowerOff, w.Boot, w.Idle, w.Crash} {
			if s.Is == "" || s.Why == "" {
				t.Errorf("%s has no state: %+v", w.Role, w)
			}
		}
		if !slices.Contains([]string{"orange", "blue", "grey"}, w.Use.Colour()) || w.Use.String() == "" || w.Group.String() == "" {
			t.Errorf("%s is %s", w.Role, w.Use.Colour())
		}
		if w.Pin > 0 && HeaderPin(w.Line.Offset) != w.Pin {
			t.Errorf("%s: pin %d does not carry %v", w.Role, w.Pin, w.Line)
		}
	}
	for o := range OutAlive {
		if !roles[o.String()] {
			t.Errorf("no wire for %v", o)
		}
	}
	for i := range NumSensors {
		if b.Sensors[i].Fitted && !roles[i.String()] {
			t.Errorf("no wire for %v", i)
		}
	}
	if !roles["main data"] || !roles["main clock"] || len(roles) != 28 {
		t.Errorf("%d wires", len(roles))
	}
	simulated, _ := ReadBench("simulated.toml", []byte(shipped(t, "simulated")))
	if wires := Wiring(simulated); len(wires) != 0 {
		t.Errorf("a simulated bench has wires: %v", wires)
	}
}

// A02 and A04: how a wire rests is told as it is. No drive is said to be off after a crash.
func TestA04NothingIsPromisedAfterACrash(t *testing.T) {
	low := func(line, rests string) string {
		return fmt.Sprintf("[outputs.fan]\nline = %s\nactive = \"low\"\ndrive = \"switched\"\n%s", line, rests)
	}
	const pullUp = "rests = \"off by pull-up\"\n"
	other := strings.Replace(smallBoard, `"40-pin"`, `"other"`, 1)
	for _, test := range []struct {
		name, text               string
		pin                      int
		powerOff, boot, idle     string
		crash, active, held, way string
		warnings                 string
	}{
		{"line with its resistor", smallBoard + fanLine + "drive = \"switched\"\n", 16, "off: only your pull-down holds it",
			"off: the board's own pull-down and yours hold it", "off: the program drives it low",
			"may be on: most boards keep the last level, some turn the line into an input, which rests off only by the external resistor",
			"high", "down, your resistor", "out", ""},
		{"line without", smallBoard + "[outputs.fan]\nline = 23\nactive = \"high\"\ndrive = \"switched\"\n", 16,
			"not held: nothing holds it unless the driver stage has a resistor of its own", "off: the board's own weak pull-down holds it",
			"off: the program drives it low",
			"may be on: most boards keep the last level, some turn the line into an input, which then rests off only by the board's own weak pull",
			"high", "", "out", `nothing holds it at off while the board has no power, nor after a crash: fit about 4.7 kΩ to ground and write ` +
				`rests = "off by pull-down"`},
		{"against the board's pull", smallBoard + low(`"GPIO23"`, pullUp), 16, "off: only your pull-up holds it",
			"off: only your pull-up holds it, against the board's own pull-down", "off: the program drives it high",
			"may be on: most boards keep the last level, some turn the line into an input, which rests off only by the external resistor",
			"low", "up, your resistor", "out",
			"the board pulls this line to on until the program starts: make your resistor at most about 5 kΩ, or take another line"},
		{"unknown board", other + low("8", pullUp), 0, "off: only your pull-up holds it",
			"off: only your pull-up holds it; how the board pulls is not known", "off: the program drives it high",
			"may be on: most boards keep the last level, some turn the line into an input, which rests off only by the external resistor",
			"low", "up, your resistor", "out", ""},
		{"hardware PWM", smallBoard + fanPWM + "pwm = \"fe20c000.pwm\"\nchannel = 0\nfrequency = \"20 kHz\"\n", 32, "off: only your pull-down holds it",
			"off: the board's own pull-down and yours hold it", "off: the PWM runs at a duty of nothing",
			"may be on: the PWM goes on at its last duty, against which no resistor helps", "high", "down, your resistor", "out",
			"the PWM keeps its last duty when the program is gone: only something that writes to it, or that cuts the supply of the load, ends it"},
		{"hardware PWM elsewhere", smallBoard + strings.Replace(fanPWM, "GPIO12", "GPIO23", 1) + "pwm = \"fe20c000.pwm\"\nchannel = 0\nfrequency = \"20 kHz\"\n",
			16, "off: only your pull-down holds it", "off: the board's own pull-down and yours hold it", "off: the PWM runs at a duty of nothing",
			"may be on: the PWM goes on at its last duty, against which no resistor helps", "high", "down, your resistor", "out",
			"the PWM keeps its last duty when the program is gone: only something that writes to it, or that cuts the supply of the load, ends it\n" +
				"the hardware PWM does not come out at this line, as far as is known"},
		{"PWM chip", smallBoard + fanChip, 0, "off: only your pull-down holds it",
			"may be on: off from power-on, as the chip drives it low; but when only the board starts anew, the chip goes on at its last duty, " +
				"against which no resistor helps", "off: the chip drives it low",
			"may be on: the chip goes on at its last duty, against which no resistor helps", "high", "down, your resistor", "out",
			"the chip keeps its last duty when the program is gone: only something that writes to it, or that cuts the supply of the load, ends it"},
	} {
		w := wireOf(t, test.text, "fan")
		say := func(s WireState) string { return s.Is + ": " + s.Why }
		got := []string{fmt.Sprint(w.Pin), say(w.PowerOff), say(w.Boot), say(w.Idle), say(w.Crash), w.Active, w.Pull, strings.Join(w.Warnings, "\n")}
		want := []string{fmt.Sprint(test.pin), test.powerOff, test.boot, test.idle, test.crash, test.active, test.held, test.warnings}
		if !slices.Equal(got, want) || !w.Out || w.Use != Switches {
			t.Errorf("%s:\n got %s\nwant %s", test.name, strings.Join(got, "\n     "), strings.Join(want, "\n     "))
		}
		if w.Crash.Is == "off" {
			t.Errorf("%s: off after a crash is a promise that nobody can keep", test.name)
		}
	}
}

// Contacts tell which level means well; the emergency stop's wire says that it only tells.
func TestWiringOfInputs(t *testing.T) {
	text := smallBoard + fanLine + "drive = \"switched\"\n"
	lid, tray, stop, speed := wireOf(t, text, "lid"), wireOf(t, text, "tray-float"), wireOf(t, text, "emergency-stop"), wireOf(t, text, "fan-speed")
	if lid.Active != "low" || lid.Pull != "up, by the program" || lid.Idle.Is != "low" || lid.Pin != 29 || lid.Out || lid.Use != Tells {
		t.Errorf("lid %+v", lid)
	}
	if tray.Active != "high" || tray.Pull != "down, by the program" || tray.Idle.Is != "high" {
		t.Errorf("tray %+v", tray)
	}
	if len(stop.Warnings) != 1 || !strings.Contains(stop.Warnings[0], "cut the loads' supply by itself") {
		t.Errorf("emergency stop %+v", stop)
	}
	if speed.Pull != "up, fit about 10 kΩ to 3.3 V" || speed.Active != "" || speed.Pin != 7 {
		t.Errorf("speed %+v", speed)
	}
	text += "[sensors.weight]\nchip = \"hx711\"\ndata = \"GPIO7\"\nclock = 8\nzero = \"0 counts\"\ngain = \"4 counts/g\"\n" +
		"[buses.other]\nadapter = \"i2c-tiny-usb\"\n[sensors.vapour]\nchip = \"ads1115\"\nbus = \"other\"\naddress = 0x49\nchannel = 3\nzero = \"0 counts\"\n" +
		"gain = \"100 counts/%\"\n"
	data, clock := wireOf(t, text, "weight data"), wireOf(t, text, "weight clock")
	if data.Pin != 26 || data.Out || data.Use != Tells || clock.Pin != 24 || !clock.Out || clock.Use != Carries {
		t.Errorf("%+v\n%+v", data, clock)
	}
	if w := wireOf(t, text, "vapour"); w.Pin != 0 || w.Channel != 3 || w.Address != 0x49 || w.Bus != "other" || w.Chip != "ads1115" {
		t.Errorf("%+v", w)
	}
	if w := wireOf(t, text, "other clock"); w.Pin != 0 || !w.Out || w.Both || len(w.Warnings) != 1 {
		t.Errorf("%+v", w)
	}
	if w := wireOf(t, text, "main data"); w.Pin != 3 || !w.Both || len(w.Warnings) != 0 {
		t.Errorf("%+v", w)
	}
	if GroupGuard.String() != "Lid and stop" || WireGroup(99).String() != "Bus" || WireUse(99).Colour() != "grey" {
		t.Error("a group or use has another name")
	}
}

// Whatever lines a file lacks or has twice over, with errors or without, its wiring is a table and no panic, and every wire
// that a file without errors has can be told.
func TestWiringOfAnyFile(t *testing.T) {
	lines := strings.Split(shipped(t, "board"), "\n")
	rapid.Check(t, func(t *rapid.T) {
		changed := slices.Clone(lines)
		for range rapid.IntRange(1, 6).Draw(t, "changes") {
			at, from := rapid.IntRange(0, len(changed)-1).Draw(t, "at"), rapid.IntRange(0, len(lines)-1).Draw(t, "from")
			if changed[at] = lines[from]; rapid.Bool().Draw(t, "uncommented") {
				changed[at] = strings.TrimPrefix(strings.TrimPrefix(lines[from], "#"), " ")
			}
		}
		b, problems := ReadBench("f.toml", []byte(strings.Join(changed, "\n")))
		for _, w := range Wiring(b) {
			if w.Role == "" || w.PowerOff.Is == "" || w.Boot.Is == "" || w.Idle.Is == "" || w.Crash.Is == "" {
				t.Fatalf("%+v", w)
			}
			if len(problems.Errors()) == 0 && w.Use == Switches && w.Address == 0 && w.Line.Offset < 0 && w.Line.Name == "" {
				t.Fatalf("the load %s hangs on nothing", w.Role)
			}
		}
	})
}
