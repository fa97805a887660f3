package recipe

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// smallBoard is the least bench that outputs and sensors can be added to: a fan on a board that is known. Cases append
// their lines behind it, and tell places relative to its end.
const smallBoard = `kind = "board"
title = "Fan in a box"
[board]
chip = "pinctrl-bcm2711"
header = "40-pin"
[buses.main]
adapter = "bcm2835 (i2c@7e804000)"
[room]
volume = "30 m³"
air-changes = "1 1/h"
air = "21 °C"
humidity = "50 %"
[tray]
holds = "60 mL"
[fan]
fastest = "3000 rpm"
least = "30 %"
through = "2 L/s"
stirring = "2 m/s"
duct-area = "20 cm²"
[sensors.lid]
line = "GPIO5"
closes-to = "ground"
[sensors.emergency-stop]
line = "GPIO6"
closes-to = "ground"
[sensors.tray-float]
line = "GPIO19"
closes-to = "supply"
[sensors.fan-speed]
line = "GPIO4"
pulses = 2
`

const (
	fanLine = "[outputs.fan]\nline = \"GPIO23\"\nactive = \"high\"\nrests = \"off by pull-down\"\n"
	fanPWM  = "[outputs.fan]\nline = \"GPIO12\"\nactive = \"high\"\nrests = \"off by pull-down\"\ndrive = \"pwm\"\n"
	fanChip = "[outputs.fan]\nactive = \"high\"\nrests = \"off by pull-down\"\ndrive = \"chip\"\nchip = \"pca9685\"\nbus = \"main\"\n" +
		"address = 0x40\nchannel = 3\nfrequency = \"200 Hz\"\n"
	heat = "[heater]\npower = \"40 W\"\n[sensors.air]\nchip = \"lm75\"\nbus = \"main\"\naddress = 0x4f\n"
)

// placed is what is wrong with an addition to smallBoard: "+2:9: …" is in its second line at column 9.
func placed(t *testing.T, base, addition string) (Bench, []string) {
	t.Helper()
	b, problems := ReadBench("b.toml", []byte(base+addition))
	lines := strings.Count(base, "\n")
	var got []string
	for _, p := range problems {
		sign := "error"
		if p.Warning {
			sign = "warning"
		}
		if p.Hint == "" || p.Place.File != "b.toml" {
			t.Errorf("%v says not what would be right, or where", p)
		}
		got = append(got, fmt.Sprintf("+%d:%d: %s: %s", p.Place.Line-lines, p.Place.Column, sign, p.Said))
	}
	return b, got
}

type placedCase struct{ name, addition, want string }

func runPlaced(t *testing.T, base string, tests []placedCase) {
	t.Helper()
	for _, test := range tests {
		if _, got := placed(t, base, test.addition); strings.Join(got, "\n") != test.want {
			t.Errorf("%s:\n got %s\nwant %s", test.name, strings.Join(got, "\n     "), test.want)
		}
	}
}

// A02: an output that is on before the program runs is refused, whatever regulates it. The lines of the board's own chatter,
// the level that rests on, and what nothing holds without power.
func TestA02OutputsRestBeforeTheProgram(t *testing.T) {
	with := func(line, active, rests string) string {
		text := fmt.Sprintf("[outputs.fan]\nline = %q\nactive = %q\ndrive = \"switched\"\n", line, active)
		if rests != "" {
			text += fmt.Sprintf("rests = %q\n", rests)
		}
		return text
	}
	runPlaced(t, smallBoard, []placedCase{
		{"console, out", with("GPIO14", "high", "off by pull-down"),
			"+2:8: error: GPIO14 cannot be used: it is a line of the UART, which the serial console uses while the board starts"},
		{"console, in", with("GPIO15", "high", "off by pull-down"),
			"+2:8: error: GPIO15 cannot be used: it is a line of the UART, which the serial console uses while the board starts"},
		{"memory of an extension board", with("GPIO0", "low", "off by pull-up"),
			"+2:8: error: GPIO0 cannot be used: the board looks for the memory of an extension board on it while it starts"},
		{"its clock", with("GPIO1", "low", "off by pull-up"),
			"+2:8: error: GPIO1 cannot be used: the board looks for the memory of an extension board on it while it starts"},
		{"on at the resting level", with("GPIO23", "low", ""),
			"+2:8: error: GPIO23 is pulled down before the program starts, and this output is on at logic low"},
		{"held by its resistor", with("GPIO23", "low", "off by pull-up"),
			"+2:8: warning: GPIO23 is pulled down, which is on, until the program starts; only your external resistor holds it"},
		{"rests at off", with("GPIO23", "high", ""), ""},
		{"line of the bus", with("GPIO3", "low", "off by pull-up"), "+2:8: error: GPIO3 is used already, by buses.main"},
		{"chip, active low", strings.Replace(fanChip, `"high"`, `"low"`, 1),
			"+2:10: error: the chip drives this channel low as soon as it has power, and this output is on at logic low"},
		{"chip, pulled to on", strings.Replace(fanChip, "pull-down", "pull-up", 1),
			"+3:9: error: a pull-up would switch this output on while the chip has no power: it is on at logic high"},
		{"chip, undeclared", strings.Replace(fanChip, "rests = \"off by pull-down\"\n", "", 1), "+1:1: error: [outputs.fan] has no rests"},
	})
}

// A10: the number of a PWM chip is no name, and the computer's own cooling fan is nobody's output.
func TestA10CoolingFanIsRefused(t *testing.T) {
	pwm := func(device string, channel int) string {
		return fanPWM + fmt.Sprintf("pwm = %q\nchannel = %d\nfrequency = \"20 kHz\"\n", device, channel)
	}
	rp1 := strings.Replace(smallBoard, "bcm2711", "rp1", 1)
	runPlaced(t, smallBoard, []placedCase{
		{"by number", pwm("pwmchip0", 0), `+6:7: error: "pwmchip0" is a number that may change with every kernel`},
		{"by name", pwm("Fan-Controller.pwm", 0), `+6:7: error: "Fan-Controller.pwm" is a cooling fan's`},
		{"path with a fan", pwm("/sys/devices/platform/cooling_fan/pwm", 0), `+6:7: error: "/sys/devices/platform/cooling_fan/pwm" is a cooling fan's`},
		{"no name", pwm(" ", 0), "+6:7: error: the device has no name"},
		{"other label, the same address", pwm("1f0009c000.pwm", 3), ""},
		{"right", pwm("fe20c000.pwm", 0), ""},
		{"on at low", strings.Replace(pwm("fe20c000.pwm", 0), `active = "high"`, `active = "low"`, 1),
			"+3:10: error: a PWM channel that is disabled, as at the start and after the end, rests low, and this output is on at logic low"},
		{"where no PWM comes out", strings.Replace(pwm("fe20c000.pwm", 0), "GPIO12", "GPIO23", 1),
			"+2:8: warning: the hardware PWM does not come out at GPIO23, as far as is known"},
		{"times of a switch", pwm("fe20c000.pwm", 0) + "min-on = \"1 s\"\n", `+9:1: error: min-on is for drive = "switched" or "slow"`},
	})
	runPlaced(t, rp1, []placedCase{
		{"the fan's channel", pwm("1f0009c000.pwm", 3), `+6:7: error: channel 3 of "1f0009c000.pwm" turns the computer's own cooling fan`},
		{"another channel of that PWM", pwm("1f0009c000.pwm", 2), ""},
		{"the PWM of the header", pwm("1f00098000.pwm", 3), ""},
	})
}

// C07: two chips on one address, of sensors and of outputs, and a serial number that tells swapped roles apart.
func TestC07AddressesAndRoles(t *testing.T) {
	air := func(name, chip, address, more string) string {
		return fmt.Sprintf("[sensors.%s]\nchip = %q\nbus = \"main\"\naddress = %s\n%s", name, chip, address, more)
	}
	const serial = "serial = \"0x0badcafe\"\n"
	fan := fanLine + "drive = \"switched\"\n"
	at40 := strings.Replace(fanChip, "0x40", "0x44", 1)
	runPlaced(t, smallBoard, []placedCase{
		{"two kinds on one address", fan + air("air-in", "sht3x", "0x44", "") + air("air-out", "sht4x", "0x44", ""),
			"+13:11: error: 0x44 on main is the sht3x of air-in already"},
		{"two of a kind on one address", fan + air("air-in", "sht3x", "0x44", "") + air("air-out", "sht3x", "0x44", ""),
			"+13:11: error: air-in and air-out would be one and the same reading"},
		{"sensor on an output's address", at40 + air("air-in", "sht3x", "0x44", ""),
			"+13:11: error: 0x44 on main is the pca9685 of fan already"},
		{"address of all such chips", strings.Replace(fanChip, "0x40", "0x70", 1), `+7:11: error: pca9685 cannot be at "0x70"`},
		{"new chips in their ranges", fan + air("air-in", "sht4x", "0x46", "") + air("air-in-humidity", "sht4x", "0x46", "") +
			air("air", "lm75", "0x4f", "") + air("air-out", "bme280", "0x77", "") + air("air-out-humidity", "bme280", "0x77", ""), ""},
		{"sht3x beyond its range", fan + air("air-in", "sht3x", "0x46", ""), `+9:11: error: sht3x cannot be at "0x46"`},
		{"bme280 beyond its range", fan + air("air-in", "bme280", "0x78", ""), `+9:11: error: bme280 cannot be at "0x78"`},
		{"lm75 beyond its range", fan + air("air", "lm75", "0x50", ""), `+9:11: error: lm75 cannot be at "0x50"`},
		{"one serial number for two chips", fan + air("air-in", "sht3x", "0x44", serial) + air("air-out", "sht3x", "0x45", serial),
			"+15:10: error: air-in has this serial number already, and is another chip"},
		{"two serial numbers for one chip", fan + air("air-in", "sht3x", "0x44", serial) +
			air("air-in-humidity", "sht3x", "0x44", "serial = \"0x1\"\n"),
			"+15:10: error: the chip of air-in-humidity has another serial number already, for air-in"},
		{"chip without a serial number", fan + air("air", "tmp102", "0x48", serial), "+10:1: error: serial is not for tmp102"},
		{"serial number of nothing", fan + air("air-in", "sht3x", "0x44", "serial = \"0x0\"\n"),
			`+10:10: error: "0x0" is no serial number of such a chip`},
		{"too long", fan + air("air-in", "sht3x", "0x44", "serial = \"0x100000000\"\n"), `+10:10: error: "0x100000000" is no serial number of such a chip`},
		{"not in hexadecimal", fan + air("air-in", "sht3x", "0x44", "serial = \"42\"\n"), `+10:10: error: "42" is no serial number of such a chip`},
		{"as a number", fan + air("air-in", "sht3x", "0x44", "serial = 0x42\n"), "+10:10: error: serial is a bare number, not a text"},
		{"of a contact", fan + "[sensors.tank-float]\nline = \"GPIO26\"\n" + serial, "+6:1: warning: tank-float has nothing to watch: the bench lacks its part\n" +
			"+8:1: error: serial is not for this sensor"},
	})
	b, problems := placed(t, smallBoard, fan+air("air-in", "sht3x", "0x44", serial)+air("air-in-humidity", "sht3x", "0x44", "")+
		air("air-out", "sht3x", "0x45", ""))
	got := [3]uint32{b.Board.Inputs[AirIn].Serial, b.Board.Inputs[AirInRH].Serial, b.Board.Inputs[AirOut].Serial}
	if want := [3]uint32{0x0badcafe, 0x0badcafe, 0}; len(problems) > 0 || got != want {
		t.Errorf("serial numbers %x, want %x; %v", got, want, problems)
	}
}

// N01: an open contact is trouble; no key makes it mean well, and none puts a contact behind a chip.
func TestN01OpenContactNeverMeansWell(t *testing.T) {
	fan := fanLine + "drive = \"switched\"\n"
	for _, sensor := range []string{"lid", "emergency-stop", "tray-float"} {
		head := "[sensors." + sensor + "]\n"
		for _, key := range []string{`open = "well"`, `open-is = "well"`, `active = "high"`, `active = "low"`, `invert = true`, `normally = "open"`,
			`pull = "down"`, `bias = "off"`, `rests = "off by pull-down"`} {
			base := strings.Replace(smallBoard, head, head+key+"\n", 1)
			name, _, _ := strings.Cut(key, " ")
			_, problems := ReadBench("b.toml", []byte(base+fan))
			want := fmt.Sprintf("[sensors.%s] has no key %s", sensor, name)
			line := strings.Count(base[:strings.Index(base, head)], "\n") + 2
			if len(problems) != 1 || problems[0].Said != want || problems[0].Place.Line != line || problems[0].Place.Column != 1 {
				t.Errorf("%s of %s: %v", key, sensor, problems)
			}
		}
		for _, key := range []string{`chip = "pca9685"`, `chip = "ads1115"`, `bus = "main"`, `address = 0x48`, `channel = 0`} {
			_, problems := ReadBench("b.toml", []byte(strings.Replace(smallBoard, head, head+key+"\n", 1)+fan))
			name, _, _ := strings.Cut(key, " ")
			if len(problems) != 1 || problems[0].Said != name+" is not for this sensor" || problems[0].Hint != "it has line, closes-to" {
				t.Errorf("%s of %s: %v", key, sensor, problems)
			}
		}
	}
	// The closed contact, whichever way it closes, reads the level that an open wire is pulled away from.
	b, problems := placed(t, smallBoard, fan)
	if len(problems) > 0 || b.Board.Inputs[Lid].ToSupply || !b.Board.Inputs[TrayFloat].ToSupply {
		t.Errorf("%+v, %v", b.Board.Inputs, problems)
	}
}

// The channels of a PWM chip, and what may hang on them.
func TestChipChannels(t *testing.T) {
	channel := func(output, address string, channel int, frequency string) string {
		return fmt.Sprintf("[outputs.%s]\nactive = \"high\"\nrests = \"off by pull-down\"\ndrive = \"chip\"\nchip = \"pca9685\"\nbus = \"main\"\n"+
			"address = %s\nchannel = %d\nfrequency = %q\n", output, address, channel, frequency)
	}
	line := func(output, line, drive string) string {
		return fmt.Sprintf("[outputs.%s]\nline = %q\nactive = \"high\"\nrests = \"off by pull-down\"\ndrive = %q\n", output, line, drive)
	}
	const part = "[hub]\nfastest = \"300 rpm\"\n[sensors.hub-speed]\nline = \"GPIO16\"\npulses = 1\n"
	runPlaced(t, smallBoard, []placedCase{
		{"right", fanChip, ""},
		{"two outputs on one channel", fanChip + part + channel("hub", "0x40", 3, "200 Hz"),
			"+8:11: error: the pca9685 at 0x40 on main channel 3 is used already, by hub"},
		{"two frequencies", fanChip + part + channel("hub", "0x40", 4, "300 Hz"),
			"+9:13: error: the pca9685 at 0x40 on main has one frequency for all its channels, and hub asks for 300 Hz"},
		{"two chips", fanChip + part + channel("hub", "0x41", 3, "300 Hz"), ""},
		{"a line for a channel", fanChip + "line = \"GPIO23\"\n", `+10:1: error: line is not for drive = "chip"`},
		{"a rhythm for a channel", fanChip + "period = \"1 s\"\n", `+10:1: error: period is for drive = "slow"`},
		{"no such channel", strings.Replace(fanChip, "channel = 3", "channel = 16", 1), "+8:11: error: channel = 16 is out of range"},
		{"no such frequency", strings.Replace(fanChip, "200 Hz", "20 kHz", 1), `+9:13: error: frequency = "20 kHz" is out of range`},
		{"another chip", strings.Replace(fanChip, "pca9685", "ads1115", 1), `+5:8: error: chip cannot be "ads1115"`},
		{"no such bus", strings.Replace(fanChip, `"main"`, `"man"`, 1), `+6:7: error: there is no bus "man"`},
		{"nothing but the drive", "[outputs.fan]\nactive = \"high\"\nrests = \"off by pull-down\"\ndrive = \"chip\"\n",
			"+1:1: error: [outputs.fan] has no chip\n+1:1: error: [outputs.fan] has no bus\n+1:1: error: [outputs.fan] has no address\n" +
				"+1:1: error: [outputs.fan] has no channel\n+1:1: error: [outputs.fan] has no frequency"},
		{"keys of a chip at a line", line("fan", "GPIO23", "switched") + "address = 0x40\n", `+6:1: error: address is for drive = "chip"`},
		{"keys of a drive that is none", fanLine + "drive = \"chips\"\naddress = 0x40\nperiod = \"1 s\"\n", `+5:9: error: drive cannot be "chips"`},
	})
	runPlaced(t, smallBoard+heat, []placedCase{
		{"heater on a chip, enable on a line", fanChip + channel("heater", "0x40", 0, "200 Hz") + line("heater-enable", "GPIO25", "switched"), ""},
		{"both cut-offs on one chip", fanChip + channel("heater", "0x40", 0, "200 Hz") + channel("heater-enable", "0x40", 1, "200 Hz"),
			"+22:9: error: heater and heater-enable both hang on the pca9685 at 0x40 on main: one fault of it could hold both on"},
		{"enable on another chip", fanChip + channel("heater", "0x40", 0, "200 Hz") + channel("heater-enable", "0x41", 1, "200 Hz"),
			"+22:9: error: heater-enable has to be a plain line: it is the cut-off that works when everything else hangs"},
		{"both on one hardware PWM", fanChip + line("heater", "GPIO12", "pwm") + "pwm = \"fe20c000.pwm\"\nchannel = 0\nfrequency = \"20 Hz\"\n" +
			line("heater-enable", "GPIO13", "pwm") + "pwm = \"fe20c000.pwm\"\nchannel = 1\nfrequency = \"20 Hz\"\n",
			"+22:9: error: heater and heater-enable both hang on fe20c000.pwm: one fault of it could hold both on"},
		{"enable in a slow rhythm", fanChip + channel("heater", "0x40", 0, "200 Hz") + line("heater-enable", "GPIO25", "slow") + "period = \"2 s\"\n",
			"+23:9: error: heater-enable knows only on and off"},
		{"a sign of life", fanChip + channel("heater", "0x40", 0, "200 Hz") + line("heater-enable", "GPIO25", "switched") +
			line("alive", "GPIO10", "switched"), ""},
		{"a sign of life that goes on by itself", fanChip + channel("heater", "0x40", 0, "200 Hz") +
			line("heater-enable", "GPIO25", "switched") + channel("alive", "0x40", 2, "200 Hz"),
			"+27:9: error: alive has to be a plain line: a PWM or a chip goes on by itself when the program does not"},
	})
	b, _ := placed(t, smallBoard, fanChip)
	want := OutputWiring{Fitted: true, Line: Line{Offset: -1}, Drive: DriveChip, Pull: "down", Chip: "pca9685", Bus: "main", Address: 0x40, Channel: 3, Frequency: 200}
	if got := b.Board.Outputs[OutFan]; got != want {
		t.Errorf("the fan is %+v, want %+v", got, want)
	}
}

// Press and pads-reverse know only on and off, and may sit on a chip: fully on and fully off are states of its channels.
func TestDirectionMayHangOnAChip(t *testing.T) {
	text := change(t, shipped(t, "board"), "line   = \"GPIO16\"\nactive = \"high\"\ndrive  = \"switched\"\n|active = \"high\"\ndrive = \"chip\"\nchip = \"pca9685\"\n"+
		"bus = \"main\"\naddress = 0x40\nchannel = 15\nfrequency = \"200 Hz\"\n")
	b, problems := ReadBench("b.toml", []byte(text))
	if got := b.Board.Outputs[OutPadsReverse]; len(problems) > 0 || got.Drive != DriveChip || got.Channel != 15 {
		t.Errorf("%+v, %v", got, problems)
	}
}

// The least times of a rhythm, and those of a switch.
func TestLeastTimes(t *testing.T) {
	const slow = fanLine + "drive = \"slow\"\n"
	runPlaced(t, smallBoard, []placedCase{
		{"longer than the period", slow + "period = \"2 s\"\nmin-on = \"1.5 s\"\nmin-off = \"0.6 s\"\n",
			"+6:10: error: a period of 2 s is shorter than min-on and min-off together (2.1 s)"},
		{"as long as the period", slow + "period = \"2 s\"\nmin-on = \"1.5 s\"\nmin-off = \"0.5 s\"\n", ""},
		{"no unit", slow + "period = \"2 s\"\nmin-on = 1\n", "+7:10: error: min-on = 1 has no unit"},
		{"negative", slow + "period = \"2 s\"\nmin-off = \"-1 s\"\n", `+7:11: error: min-off = "-1 s" is out of range`},
		{"too long", slow + "period = \"60 s\"\nmin-off = \"31 s\"\n", `+7:11: error: min-off = "31 s" is out of range`},
		{"of a switch", fanLine + "drive = \"switched\"\nmin-on = \"1 s\"\nmin-off = \"2 s\"\n", ""},
	})
	for text, want := range map[string][2]time.Duration{
		slow + "period = \"2 s\"\n":                        {200 * time.Millisecond, 200 * time.Millisecond},
		slow + "period = \"2 s\"\nmin-on = \"0 s\"\n":      {0, 200 * time.Millisecond},
		slow + "period = \"2 s\"\nmin-off = \"0.7 s\"\n":   {200 * time.Millisecond, 700 * time.Millisecond},
		fanLine + "drive = \"switched\"\n":                 {0, 0},
		fanLine + "drive = \"switched\"\nmin-on = \"3 s\"": {3 * time.Second, 0},
	} {
		b, problems := placed(t, smallBoard, text)
		w := b.Board.Outputs[OutFan]
		if got := [2]time.Duration{w.MinOn, w.MinOff}; len(problems) > 0 || got != want {
			t.Errorf("%s: %v, want %v; %v", text, got, want, problems)
		}
	}
}

// What a load cell may bear is held against what the pads may press with, which is 5 kPa on 6 cm²: 3 N.
func TestRatedForce(t *testing.T) {
	runBenchCases(t, "board", []benchCase{
		{"enough", []string{"zero    = \"1200 counts\"|rated = \"3 N\"\nzero = \"1200 counts\""}, nil},
		{"too little", []string{"zero    = \"1200 counts\"|rated = \"2.9 N\"\nzero = \"1200 counts\""}, []string{
			"rated: the pads may press with 3 N, more than this load cell may bear; fit a larger load cell, or lower most in [pads]"}},
		{"in grams", []string{"zero    = \"1200 counts\"|rated = \"500 g\"\nzero = \"1200 counts\""}, []string{
			`rated: "500 g" is not a force: g is a unit of mass; write N or mN, as in "0.1 N"`}},
		{"of a vapour sensor", []string{"zero    = \"400 counts\"|rated = \"50 N\"\nzero = \"400 counts\""}, []string{
			"rated: rated is not for this sensor; it is for the load cells of pad-front and pad-back"}},
	})
}

// A written output reads back as what was written, whatever the drive.
func TestWrittenOutputReadsBackEqual(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		pick := func(name string, least, most int) int { return rapid.IntRange(least, most).Draw(t, name) }
		want := OutputWiring{Fitted: true, Line: Line{Offset: -1}, Pull: "down",
			Drive: rapid.SampledFrom([]string{DriveSwitched, DriveSlow, DrivePWM, DriveChip}).Draw(t, "drive")}
		text := "[outputs.fan]\nactive = \"high\"\nrests = \"off by pull-down\"\ndrive = \"" + want.Drive + "\"\n"
		if want.Drive != DriveChip {
			want.Line = Line{"GPIO12", 12}
			text += "line = \"GPIO12\"\n"
		}
		switch want.Drive {
		case DriveSwitched, DriveSlow:
			on, off := pick("on", 0, 5000), pick("off", 0, 5000)
			want.MinOn, want.MinOff = time.Duration(on)*time.Millisecond, time.Duration(off)*time.Millisecond
			text += fmt.Sprintf("min-on = \"%d ms\"\nmin-off = \"%d ms\"\n", on, off)
			if want.Drive == DriveSlow {
				want.Period = time.Duration(pick("period", 10, 60)) * time.Second
				text += fmt.Sprintf("period = \"%d s\"\n", int(want.Period.Seconds()))
			}
		case DrivePWM:
			want.PWM, want.Channel, want.Frequency = "fe20c000.pwm", pick("channel", 0, 15), float64(pick("frequency", 10, 100e3))
			text += fmt.Sprintf("pwm = %q\nchannel = %d\nfrequency = \"%d Hz\"\n", want.PWM, want.Channel, int(want.Frequency))
		case DriveChip:
			want.Chip, want.Bus, want.Address = "pca9685", "main", pick("address", 0x40, 0x6f)
			want.Channel, want.Frequency = pick("channel", 0, 15), float64(pick("frequency", 24, 1526))
			text += fmt.Sprintf("chip = %q\nbus = \"main\"\naddress = %#x\nchannel = %d\nfrequency = \"%d Hz\"\n", want.Chip, want.Address,
				want.Channel, int(want.Frequency))
		}
		b, problems := ReadBench("b.toml", []byte(smallBoard+text))
		if got := b.Board.Outputs[OutFan]; len(problems) > 0 || got != want {
			t.Fatalf("%s\n got %+v\nwant %+v\n%v", text, got, want, problems)
		}
	})
}

// The wirings that the shipped file shows as comments are right as well, each in place of the one that it replaces.
func TestCommentedVariantsAreRight(t *testing.T) {
	text := shipped(t, "board")
	for _, variant := range []struct{ table, from string }{
		{"[outputs.pump]", "# The same pump on a PWM chip"}, {"[sensors.pad-front]", "# Bridge converters need no amplifier"},
		{"[sensors.pad-front]", "# or one on the bus"},
	} {
		_, block, _ := strings.Cut(text[strings.Index(text, variant.from):], "# "+variant.table+"\n")
		table := variant.table + "\n"
		for _, line := range strings.Split(block, "\n") {
			if strings.Trim(line, "# ") == "" {
				break
			}
			table += strings.TrimPrefix(line, "# ") + "\n"
		}
		start := strings.Index(text, "\n"+variant.table) + 1
		end := start + strings.Index(text[start:], "\n\n")
		b, problems := ReadBench("b.toml", []byte(text[:start]+table+text[end:]))
		if strings.Count(table, "\n") < 5 || len(problems) > 0 {
			t.Errorf("%s: %v\n%s", variant.from, problems, table)
		}
		if variant.table == "[outputs.pump]" && b.Board.Outputs[OutPump].Chip != "pca9685" {
			t.Errorf("the pump is %+v", b.Board.Outputs[OutPump])
		}
	}
	for _, key := range []string{"min-on  = \"1 s\"", "min-off = \"1 s\"", "rated = \"50 N\"", "serial = \"0x0badcafe\""} {
		text = change(t, text, "# "+key+"|"+key)
	}
	b, problems := ReadBench("b.toml", []byte(text))
	if w := b.Board.Outputs[OutHeater]; len(problems) > 0 || w.MinOn != time.Second || w.MinOff != time.Second ||
		b.Board.Inputs[PadBack].Rated != 50 || b.Board.Inputs[AirInRH].Serial != 0x0badcafe {
		t.Errorf("%+v %v", b.Board, problems)
	}
}
