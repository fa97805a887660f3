package main

import "os"

// standsIn is set where a small program takes the product's place, to try the scenarios themselves.
var standsIn = os.Getenv("RIG_STANDIN") != ""

// scenario is one row: on which guests it runs, how the world is before it, and what has to happen.
type scenario struct {
	name      string
	part      string // which run of the guest it belongs to
	guests    []string
	contacts  []int    // lines that are low before: closed contacts
	world     []string // orders to the bus model
	couplings []string // rhythms that the host gives
	outputs   []output
	run       func(*rig)
}

var (
	virtual  = []string{"virt"}
	headers  = []string{"raspi3b", "raspi0"}
	everyone = []string{"virt", "raspi3b", "raspi0"}
)

// The outputs of the bench files, by wire.
var (
	wetOutputs = []output{{"pump", "line7", true}, {"fan", "pwm0", false}, {"pads", "pwm1", false}, {"press", "pwm2", false},
		{"pads-reverse", "pwm3", false}, {"hub", "pwm4", false}}
	dryOutputs = []output{{"fan", "line5", false}, {"heater-enable", "line6", true}, {"heater", "pwm0", false}}
	piOutputs  = []output{{"fan", "line23", false}, {"heater", "line24", false}, {"heater-enable", "line7", true}}
)

// air is a little restless, so that a chip that freezes differs from one that works.
var air = []string{"set 0x44 celsius 21", "set 0x44 percent 50", "set 0x45 celsius 21", "set 0x45 percent 50",
	"set 0x4a celsius 21", "set 0x4b celsius 20", "noise 0x44 celsius 0.05", "noise 0x44 percent 0.3", "noise 0x45 celsius 0.05",
	"noise 0x45 percent 0.3", "noise 0x4a celsius 0.1", "noise 0x4b celsius 0.1"}

// pressed lets both pads press with 1.2 N when the press is on. 1000 counts at nothing and 8000 a newton, as the bench file
// says, on the range of ±4.096 V, where a count is 125 µV: 0.125 V and 1.325 V.
var pressed = append([]string{"link 0x48 volt0 2 0.125 1.325", "link 0x48 volt1 2 0.125 1.325", "noise 0x48 volt0 0.002",
	"noise 0x48 volt1 0.002"}, air...)

// Pulses at full speed: fan 3000 rpm with 2 in a turn, pads 120 rpm with 12, hub 300 rpm with 12.
var (
	wetTurns = []string{"3 100 pwm0 duty", "5 24 pwm1 duty", "6 60 pwm4 duty"}
	dryTurns = []string{"3 100 line5 1"}
)

// wet and dry fill in what the scenarios on one bench have in common.
func wet(part, name string, run func(*rig)) scenario {
	return scenario{name: name, part: part, guests: virtual, contacts: []int{0, 1, 2, 4}, world: pressed,
		couplings: wetTurns, outputs: wetOutputs, run: run}
}

func dry(part, name string, run func(*rig)) scenario {
	return scenario{name: name, part: part, guests: virtual, contacts: []int{0, 1, 2}, world: air,
		couplings: dryTurns, outputs: dryOutputs, run: run}
}

func header(name string, run func(*rig)) scenario {
	return scenario{name: name, part: "header", guests: headers, contacts: []int{5, 6, 19}, world: air,
		outputs: piOutputs, run: run}
}

var scenarios = []scenario{
	{name: "the bench files are in order", part: "files", guests: everyone, run: filesInOrder},
	{name: "a cycle on the simulated bench", part: "files", guests: everyone, run: simulatedCycle},

	wet("wet", "a whole cycle", wholeCycle),
	wet("wet", "started with the stop pressed, nothing goes on", stopPressed),
	wet("wet", "lid opened while wetting", lidOpened("pump")),
	wet("wet", "lid opened while scrubbing", lidOpened("pads")),
	wet("ends", "ended by SIGTERM", ended(terminated, "pads")),
	wet("ends", "killed", ended(killed, "pump")),
	wet("ends", "hung", ended(hung, "pads")),
	wet("ends", "switched off by another process", switchedOff),
	wet("pads", "balanced", balanced),
	wet("pads", "pad forces not acknowledged", spoilt(0x48, "nak", "pads", "reading-stale")),
	wet("pads", "pad forces frozen", spoilt(0x48, "frozen", "pads", "reading-stale", "reading-implausible")),
	wet("pads", "pad forces unplugged", spoilt(0x48, "unplugged", "pads", "reading-stale")),

	dry("dry", "watched and captured", watched),
	dry("dry", "dried warm", warmCycle),
	dry("dry", "a line is taken", lineTaken),
	dry("dry", "killed with the heater on", ended(killed, "heater-enable")),
	dry("dry", "lid opened while the bus is slow", slowBus),
	dry("air", "air not acknowledged", spoilt(0x45, "nak", "heater-enable", "reading-stale")),
	dry("air", "air with wrong checksums", spoilt(0x45, "checksum", "heater-enable", "reading-stale", "reading-implausible")),
	dry("air", "air frozen", spoilt(0x45, "frozen", "heater-enable", "reading-stale", "reading-implausible")),
	dry("air", "air unplugged", spoilt(0x45, "unplugged", "heater-enable", "reading-stale")),

	header("a fan without pulses is not proven", unprovenFan),
	header("killed", ended(killed, "fan")),
	header("hung", ended(hung, "fan")),
}
