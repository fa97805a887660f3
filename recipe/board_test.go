package recipe

import "testing"

func TestReadBoardRefuses(t *testing.T) {
	const pump = "line   = \"GPIO17\"\nactive = \"high\"\ndrive  = \"slow\"               # switched in a slow rhythm, on for a part of each period\n" +
		"period = \"2 s\"\nrests  = \"off by pull-down\""
	runBenchCases(t, "board", []benchCase{
		{"UART", []string{`"GPIO24"|"GPIO14"`}, []string{
			"line: GPIO14 cannot be used: it is a line of the UART, which the serial console uses while the board starts; take another line"}},
		{"UART by offset", []string{`"GPIO5"|15`}, []string{
			"line: line 15 cannot be used: it is a line of the UART, which the serial console uses while the board starts; take another line"}},
		{"no such line", []string{`"GPIO24"|"GPIO40"`}, []string{
			`line: the header has no line "GPIO40"; its lines are "GPIO0" to "GPIO27"`}},
		{"line that is a share", []string{`"GPIO24"|"24 %"`}, []string{
			`line: the header has no line "24 %"; its lines are "GPIO0" to "GPIO27"`}},
		{"line of another kind", []string{`"GPIO24"|2.5`}, []string{`line: line is 2.5, not a line; write line = "GPIO17", or its offset as a number`}},
		{"no line", []string{"line   = \"GPIO24\"\n|"}, []string{`[outputs.heater]              # first switch in the heater's supply: [outputs.heater] has no line; add line = "GPIO17", or its offset as a number`}},
		{"active low on a pulled-down line, undeclared", []string{pump + "|line = \"GPIO17\"\nactive = \"low\"\ndrive = \"switched\""}, []string{
			"line: GPIO17 is pulled down before the program starts, and this output is on at logic low; " +
				`fit an external pull-up and write rests = "off by pull-up", or take a line that rests at off`}},
		{"active low on a pulled-down line, declared", []string{pump + "|line = \"GPIO17\"\nactive = \"low\"\ndrive = \"switched\"\nrests = \"off by pull-up\""}, []string{
			"line: warning: GPIO17 is pulled down, which is on, until the program starts; only your external resistor holds it; " +
				"make that resistor at most a tenth of the chip's own (about 5 kΩ), or take another line"}},
		{"active low on a pulled-up line", []string{pump + "|line = \"GPIO7\"\nactive = \"low\"\ndrive = \"switched\"\nrests = \"off by pull-up\""}, nil},
		{"active low on a pulled-up line, undeclared", []string{pump + "|line = 8\nactive = \"low\"\ndrive = \"switched\""}, nil},
		{"active high on a pulled-up line, undeclared", []string{pump + "|line = \"GPIO7\"\nactive = \"high\"\ndrive = \"switched\""}, []string{
			"line: GPIO7 is pulled up before the program starts, and this output is on at logic high; " +
				`fit an external pull-down and write rests = "off by pull-down", or take a line that rests at off`}},
		{"resistor the wrong way", []string{`"off by pull-down"|"off by pull-up"`}, []string{
			"rests: a pull-up would switch this output on: it is on at logic high; " +
				`fit an external pull-down and write rests = "off by pull-down", or take a line that rests at off`}},
		{"lines that rest unknown", []string{`"40-pin"|"other"`, `rests  = "off by pull-down"|`}, []string{
			"line: nothing is known about how GPIO17 rests before the program starts; " +
				`fit an external pull-down and write rests = "off by pull-down"`}},
		{"rests on", []string{`"off by pull-down"|"on"`}, []string{`rests: rests cannot be "on"; write "off by pull-down" or "off by pull-up"`}},
		{"no level", []string{"active = \"high\"\n|"}, []string{`[outputs.pump]                # driver transistor, 12 V: [outputs.pump] has no active; ` +
			`add active = "high", or "low" where the load is on at logic low`}},
		{"two outputs on one line", []string{`"GPIO24"|"GPIO25"`}, []string{"line: GPIO25 is used already, by outputs.heater.line; give every role a line of its own"}},
		{"output and contact on one line, by name and offset", []string{`"GPIO5"|24`}, []string{
			"line: line 24 is used already, by outputs.heater.line; give every role a line of its own"}},
		{"no enable line", []string{`[outputs.heater-enable]       # second switch in series, another kind of part than the first; add a thermal fuse too` +
			"\nline   = \"GPIO25\"\nactive = \"high\"\ndrive  = \"switched\"\nrests  = \"off by pull-down\"|"}, []string{
			"[outputs.pump]                # driver transistor, 12 V: the heater has no enable line of its own: a switch that fails closed could not be cut off; " +
				"add [outputs.heater-enable] for a second switch in the heater's supply"}},
		{"part without output", []string{"[outputs.rinse-pump]\nline   = \"GPIO27\"\nactive = \"high\"\ndrive  = \"slow\"\nperiod = \"2 s\"\nrests  = \"off by pull-down\"|"}, []string{
			"[outputs.pump]                # driver transistor, 12 V: the part [rinse-pump] has no output; add [outputs.rinse-pump]"}},
		{"output without part", []string{"[press]\nfitted = true                 # an actuator brings the pads to the disk; a spring takes them away|"}, []string{
			"[outputs.press]               # 12 V solenoid or servo supply; the pads rest away from the disk without it: " +
				"the output press has no part: there is no [press]; add [press], or leave the output out"}},
		{"switch that cannot be regulated", []string{"line   = \"GPIO25\"\nactive = \"high\"\ndrive  = \"switched\"|line = \"GPIO25\"\nactive = \"high\"\ndrive = \"slow\"\nperiod = \"2 s\""}, []string{
			`drive: heater-enable knows only on and off; write drive = "switched"`}},
		{"no drive", []string{pump + "|line = \"GPIO17\"\nactive = \"high\""}, []string{
			`[outputs.pump]                # driver transistor, 12 V: [outputs.pump] has no drive; add drive = "switched", "slow", "pwm" or "chip"`}},
		{"rhythm for a switch", []string{`drive  = "slow"               #|drive  = "switched" #`}, []string{`period: period is for drive = "slow"; leave it out`}},
		{"no rhythm", []string{"period = \"2 s\"\n|"}, []string{`[outputs.pump]                # driver transistor, 12 V: [outputs.pump] has no period; add period = "1 s"`}},
		{"one PWM channel twice", []string{"channel   = 1|channel = 0"}, []string{
			"channel: fe20c000.pwm channel 0 is used already, by pads; give every output a channel of its own"}},
		{"PWM chip by number", []string{`"fe20c000.pwm"|"pwmchip0"`}, []string{`pwm: "pwmchip0" is a number that may change with every kernel; write the device it points to`}},
		{"PWM without its keys", []string{"pwm       = \"fe20c000.pwm\"\nchannel   = 1\nfrequency = \"20 kHz\"\n|"}, []string{
			`[outputs.hub]                 # motor driver, the other channel: [outputs.hub] has no pwm; add pwm = the device that /sys/class/pwm/pwmchip* points to, as in "fe20c000.pwm"`,
			`[outputs.hub]                 # motor driver, the other channel: [outputs.hub] has no channel; add channel = 0`,
			`[outputs.hub]                 # motor driver, the other channel: [outputs.hub] has no frequency; add frequency = "25 kHz"`}},
		{"chip by number", []string{`"pinctrl-bcm2711"|"gpiochip0"`}, []string{
			`chip: "gpiochip0" is a number that may change with every kernel; write the chip's label, as gpiodetect shows it in brackets`}},
		{"sim", []string{"# ---- Outputs|[sim]\nkept = \"2 mL\"\n# ---- Outputs"}, []string{`[sim]: [sim] is for a simulated bench; leave it out, or write kind = "simulated"`}},
		{"noise", []string{"closes-to = \"ground\"|noise = \"1 %\""}, []string{"noise: noise is for a simulated bench; leave it out; a real sensor has its own"}},
		{"contact that closes to nowhere", []string{`closes-to = "ground"|closes-to = "nothing"`}, []string{`closes-to: closes-to cannot be "nothing"; write "ground" or "supply"`}},
		{"open contact that means well", []string{`closes-to = "ground"|open-is = "well"`}, []string{`open-is: [sensors.lid] has no key open-is; known here: stale, every, line, closes-to`}},
		{"contact with a chip", []string{`closes-to = "ground"|chip = "sht3x"`}, []string{"chip: chip is not for this sensor; it has line, closes-to"}},
		{"no pulses", []string{"pulses = 2|"}, []string{`[sensors.fan-speed]: [sensors.fan-speed] has no pulses; add pulses = 2`}},
		{"unknown chip", []string{`"tmp102"|"tmp"`}, []string{`chip: chip cannot be "tmp"; write "sht3x", "sht4x", "bme280", "tmp102" or "lm75"`}},
		{"chip that cannot", []string{"chip    = \"ads1115\"\nbus     = \"main\"\naddress = 0x48\nchannel = 0|chip = \"tmp102\"\nbus = \"main\"\naddress = 0x48\nchannel = 0"}, []string{
			`chip: chip cannot be "tmp102"; write "ads1115", "nau7802" or "hx711"`}},
		{"no chip", []string{"chip    = \"tmp102\"\nbus     = \"main\"\naddress = 0x4a|"}, []string{
			`[sensors.air]                 # in the moving air just before the cartridge: [sensors.air] has no chip; add chip = "sht3x", "sht4x", "bme280", "tmp102" or "lm75"`}},
		{"unknown bus", []string{"bus     = \"main\"\naddress = 0x4a|bus = \"man\"\naddress = 0x4a"}, []string{
			`bus: there is no bus "man"; add [buses.man], or name one that is there`}},
		{"address out of reach", []string{"0x4a|0x44"}, []string{`address: tmp102 cannot be at "0x44"; its addresses are 0x48 to 0x4b`}},
		{"two chips on one address", []string{"0x4a|0x48"}, []string{
			"address: 0x48 on main is the ads1115 of pad-front already; give each chip an address of its own, or put one on another bus"}},
		{"one reading twice", []string{"address = 0x4b|address = 0x4a"}, []string{"address: air and surface would be one and the same reading; give each its own chip or channel"}},
		{"one channel twice", []string{"channel = 1|channel = 0"}, []string{"address: pad-front and pad-back would be one and the same reading; give each its own chip or channel"}},
		{"channel that is not", []string{"channel = 2|channel = 4"}, []string{"channel: channel = 4 is out of range; allowed is 0 to 3"}},
		{"gain of another kind", []string{`"8000 counts/N"|"8 counts/g"`}, []string{
			`gain: "8 counts/g" is not counts for a force: counts/g is a unit of counts for a mass; write counts/N, as in "41000 counts/N"`}},
		{"no gain", []string{"gain    = \"8000 counts/N\"\n|"}, []string{`[sensors.pad-front]: [sensors.pad-front] has no gain; add gain = "41000 counts/N"`}},
		{"gain of nothing", []string{`"8000 counts/N"|"0 counts/N"`}, []string{"gain: a gain of nothing gives no reading; calibrate with a known mass"}},
		{"two names for one bus", []string{"[buses.main]|[buses.other]\nadapter = \"bcm2835 (i2c@7e804000)\"\n[buses.main]"}, []string{
			"adapter: the buses other and main are one adapter; name it once"}},
	})
}

// A bridge converter with wires of its own takes two lines, which are checked like all others.
func TestBridgeConverter(t *testing.T) {
	const front = "chip    = \"ads1115\"\nbus     = \"main\"\naddress = 0x48\nchannel = 0"
	runBenchCases(t, "board", []benchCase{
		{"right", []string{front + "|chip = \"hx711\"\ndata = \"GPIO7\"\nclock = \"GPIO8\""}, nil},
		{"line taken", []string{front + "|chip = \"hx711\"\ndata = \"GPIO7\"\nclock = \"GPIO17\""}, []string{
			"clock: GPIO17 is used already, by outputs.pump.line; give every role a line of its own"}},
		{"keys of a bus", []string{front + "|chip = \"hx711\"\ndata = \"GPIO7\"\nclock = \"GPIO8\"\naddress = 3"}, []string{
			"address: address is not for hx711; it has data and clock"}},
		{"lines for a chip on the bus", []string{front + "|" + front + "\ndata = 3"}, []string{"data: data is not for ads1115; it has bus and address"}},
		{"channel for a chip without", []string{"0x4a|0x4a\nchannel = 1\nzero = \"0 counts\""}, []string{
			"channel: channel is not for tmp102; leave it out", "zero: zero is not for tmp102; leave it out; it gives its values itself"}},
	})
}

// The default pulls as they are remembered: GPIO0 to GPIO8 up, GPIO9 to GPIO27 down. From memory; verify on the data
// sheet of the SoC. The test holds the table still, it does not prove it.
func TestDefaultPulls(t *testing.T) {
	for offset := -1; offset < 60; offset++ {
		want := ""
		if offset >= 0 && offset <= 8 {
			want = "up"
		} else if offset >= 9 && offset <= 27 {
			want = "down"
		}
		if got := defaultPull(header40, offset); got != want {
			t.Errorf("line %d is pulled %q, want %q", offset, got, want)
		}
		if got := defaultPull("", offset); got != "" {
			t.Errorf("line %d of an unknown header is pulled %q", offset, got)
		}
	}
	for name, want := range map[string]int{"GPIO0": 0, "GPIO27": 27, "GPIO28": -1, "GPIO07": -1, "GPIO": -1, "gpio7": -1, "7": -1, "GPIO-1": -1} {
		if got := headerOffset(header40, name); got != want {
			t.Errorf("%s is line %d, want %d", name, got, want)
		}
	}
}
