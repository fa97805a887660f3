package recipe

import (
	"fmt"
	"os"
	"strings"
	"testing"
	"time"
)

// shipped reads a bench file that ships with the program.
func shipped(t testing.TB, name string) string {
	t.Helper()
	data, err := os.ReadFile("../recipes/" + name + ".toml")
	if err != nil {
		t.Fatal(err)
	}
	return string(data)
}

// at finds where the only line that contains text stands, and the column of the value in it: "7:12".
func valueAt(t *testing.T, text, part string) string {
	t.Helper()
	before, after, ok := strings.Cut(text, part)
	if !ok {
		t.Fatalf("no %q", part)
	}
	_, behind, _ := strings.Cut(after, "= ")
	offset := len(text) - len(behind)
	line := strings.Count(text[:offset], "\n") + 1
	column := len([]rune(text[strings.LastIndex(text[:offset], "\n")+1:offset])) + 1
	_ = before
	return fmt.Sprintf("%d:%d", line, column)
}

func TestReadSimulatedBench(t *testing.T) {
	b, problems := ReadBench("simulated.toml", []byte(shipped(t, "simulated")))
	if len(problems) > 0 {
		t.Fatal(problems)
	}
	if b.Name != "simulated" || !b.Simulated || b.Title == "" || b.PadsAndBathHeld != "" {
		t.Errorf("%q %v %q %q", b.Name, b.Simulated, b.Title, b.PadsAndBathHeld)
	}
	near := func(what string, got, want float64) {
		if d := got - want; d > 1e-9*want || d < -1e-9*want {
			t.Errorf("%s is %v, want %v", what, got, want)
		}
	}
	near("room", b.Room.Volume, 30)
	near("air changes", b.Room.AirChanges, 1.0/3600)
	near("air", b.Room.Air, 294.15)
	near("humidity", b.Room.Humidity, 0.5)
	near("tank", b.Tank.Capacity, 500e-6)
	near("rinse tank", b.RinseTank.Capacity, 500e-6)
	near("tray", b.Tray, 60e-6)
	least, most := b.Pump.Range()
	near("least flow", least, 2e-6/60)
	near("most flow", most, 12e-6/60)
	least, most = b.RinsePump.Range()
	near("least rinse", least, 5e-6/60)
	near("most rinse", most, 40e-6/60)
	near("pad area", b.Pads.Area, 6e-4)
	near("pads", b.Pads.Fastest, 2)
	near("pads bear", b.Pads.Most, 5000)
	near("hub", b.Hub.Fastest, 5)
	near("fan", b.Fan.Fastest, 50)
	near("fan from", b.Fan.Least, 0.3)
	near("through", b.Fan.Through, 3e-3)
	near("stirring", b.Fan.Stirring, 2)
	near("duct", b.Fan.DuctArea, 20e-4)
	near("heater", b.Heater.Power, 40)
	near("air limit", b.Heater.AirLimit, 313.15)
	near("surface limit", b.Heater.SurfaceLimit, 318.15)
	near("kept", b.Sim.Kept, 2e-6)
	near("film", b.Sim.Film, 0.3)
	near("friction", b.Sim.Friction, 0.3)
	near("front", b.Sim.Front, 1)
	near("back", b.Sim.Back, 1)
	near("uneven", b.Sim.Uneven, 0.1)
	near("critical", b.Sim.Critical, 0.3)
	if !b.Press || b.Sim.Seed != 1 {
		t.Errorf("press %v, seed %d", b.Press, b.Sim.Seed)
	}
	for s := range NumSensors {
		if b.Sensors[s].Fitted != (s != Weight) {
			t.Errorf("%v is fitted: %v", s, b.Sensors[s].Fitted)
		}
	}
	if got, want := b.Sensors[Air], (SensorSpec{true, 3 * time.Second, 500 * time.Millisecond, 0.03, 5 * time.Second, 0, 0.01}); got != want {
		t.Errorf("air is %+v, want %+v", got, want)
	}
	if got, want := b.Sensors[PadFront].Drift, 0.005/3600; got != want {
		t.Errorf("the front pad drifts by %v a second, want %v", got, want)
	}
	if got := b.Place("sensors.air.lag").String(); got != "simulated.toml:"+valueAt(t, b.Text, "[sensors.air]\nnoise = \"0.03 K\"\nlag") {
		t.Errorf("the lag of the air is at %s", got)
	}
}

func TestReadBoard(t *testing.T) {
	b, problems := ReadBench("board.toml", []byte(shipped(t, "board")))
	if len(problems) > 0 {
		t.Fatal(problems)
	}
	if b.Simulated || b.Board.Chip != "pinctrl-bcm2711" || b.Board.Header != "40-pin" || b.Board.Stagger != 300*time.Millisecond ||
		len(b.Board.Buses) != 1 || b.Board.Buses[0] != (Bus{"main", "bcm2835 (i2c@7e804000)"}) {
		t.Errorf("%+v", b.Board)
	}
	want := OutputWiring{Fitted: true, Line: Line{"GPIO13", 13}, Drive: "pwm", Pull: "down", PWM: "fe20c000.pwm", Channel: 1, Frequency: 20e3}
	if got := b.Board.Outputs[OutHub]; got != want {
		t.Errorf("the hub is %+v, want %+v", got, want)
	}
	if got, want := b.Board.Outputs[OutHeater].Period, 10*time.Second; got != want {
		t.Errorf("the heater's rhythm is %v, want %v", got, want)
	}
	if got, want := b.Board.Inputs[PadBack], (InputWiring{Chip: "ads1115", Bus: "main", Address: 0x48, Channel: 1, Zero: 1150, Gain: 8100}); got != want {
		t.Errorf("the back pad is %+v, want %+v", got, want)
	}
	if got, want := b.Board.Inputs[FanSpeed], (InputWiring{Line: Line{"GPIO4", 4}, Pulses: 2}); got != want {
		t.Errorf("the fan's speed is %+v, want %+v", got, want)
	}
	for o := range NumOutputs {
		if b.Board.Outputs[o].Fitted != (o != OutAlive) { // which needs hardware that few have
			t.Errorf("%v is wired: %v", o, b.Board.Outputs[o].Fitted)
		}
	}
	if NumOutputs.String() != "unknown output" {
		t.Errorf("no output is called %v", NumOutputs)
	}
}

// The times that hold when a file gives none, and the limits of a heater that gives none.
func TestBenchDefaults(t *testing.T) {
	text := change(t, shipped(t, "board"), "air-limit     = \"40 °C\"\nsurface-limit = \"45 °C\"|", "[sensors.surface]|[sensors.weight]\nchip=\"hx711\"\n"+
		"data=\"GPIO7\"\nclock=\"GPIO8\"\nzero=\"0 counts\"\ngain=\"4 counts/g\"\n[sensors.surface]")
	b, problems := ReadBench("b.toml", []byte(text))
	if len(problems) > 0 || b.Heater != (Heater{Power: 40, AirLimit: 40 + 273.15, SurfaceLimit: 45 + 273.15}) {
		t.Errorf("%+v\n%v", b.Heater, problems)
	}
	ms := time.Millisecond
	for sensor, want := range map[Sensor][2]time.Duration{
		Lid: {500 * ms, 50 * ms}, EStop: {500 * ms, 50 * ms}, TrayFloat: {500 * ms, 50 * ms}, TankFloat: {500 * ms, 50 * ms},
		RinseFloat: {500 * ms, 50 * ms}, PadFront: {600 * ms, 100 * ms}, PadBack: {600 * ms, 100 * ms}, PadsSpeed: {1000 * ms, 200 * ms},
		HubSpeed: {1000 * ms, 200 * ms}, FanSpeed: {1000 * ms, 200 * ms}, AirIn: {3000 * ms, 500 * ms}, Air: {3000 * ms, 500 * ms},
		AirOut: {3000 * ms, 500 * ms}, Surface: {3000 * ms, 500 * ms}, AirInRH: {5000 * ms, 1000 * ms}, AirOutRH: {5000 * ms, 1000 * ms},
		Vapour: {5000 * ms, 1000 * ms}, Weight: {5000 * ms, 500 * ms},
	} {
		if got := b.Sensors[sensor]; got != (SensorSpec{Fitted: true, Stale: want[0], Every: want[1]}) {
			t.Errorf("%v is %+v, want stale and every %v", sensor, got, want)
		}
	}
	if got, want := b.Board.Inputs[Weight].Gain, 4000.0; got != want {
		t.Errorf("a gain of 4 counts/g is %v counts/kg, want %v", got, want)
	}
}

// benchCase changes a shipped bench file and says what must be said about it: at the value of a line or at a place.
type benchCase struct {
	name    string
	changes []string
	want    []string
}

func runBenchCases(t *testing.T, base string, tests []benchCase) {
	t.Helper()
	text := shipped(t, base)
	for _, test := range tests {
		changed := change(t, text, test.changes...)
		_, problems := ReadBench("b.toml", []byte(changed))
		var got []string
		for _, p := range problems {
			line := strings.Split(changed, "\n")[p.Place.Line-1]
			key, _, _ := strings.Cut(line, " =")
			got = append(got, strings.TrimSpace(key)+strings.TrimPrefix(p.String(), p.Place.String()))
		}
		if strings.Join(got, "\n") != strings.Join(test.want, "\n") {
			t.Errorf("%s:\n got %s\nwant %s", test.name, strings.Join(got, "\n     "), strings.Join(test.want, "\n     "))
		}
	}
}

func TestReadBenchRefuses(t *testing.T) {
	runBenchCases(t, "simulated", []benchCase{
		{"unknown key", []string{"fastest = \"120 rpm\"|fastest = \"120 rpm\"\nslowest = \"1 rpm\""}, []string{"slowest: [pads] has no key slowest; known here: area, fastest, most"}},
		{"unknown sensor", []string{"[sensors.lid]|[sensors.lit]"}, []string{
			`[sensors.lit]: the bench has no sensor lid: nothing may turn or wet with the lid open; add [sensors.lid]`,
			"[sensors.lit]: [sensors] has no key lit; did you mean lid?"}},
		{"no kind", []string{"kind  = \"simulated\"|"}, []string{`# A simulated bench: the file has no kind; add kind = "simulated" or "board"`}},
		{"unknown kind", []string{"\"simulated\"|\"simulator\""}, []string{`kind: kind cannot be "simulator"; did you mean "simulated"?`}},
		{"no title", []string{"title = \"Simulated bench in a spare room\"|"}, []string{`# A simulated bench: the file has no title; add title = "The bench by the window"`}},
		{"empty title", []string{"\"Simulated bench in a spare room\"|\"\""}, []string{`title: the title is empty; say in one line which bench this is`}},
		{"bare number", []string{"\"40 W\"|40"}, []string{`power: power = 40 has no unit; a unit is needed: write "40 W"`}},
		{"curve that falls", []string{`["40 %", "4.8 mL/min"]|["40 %", "1.8 mL/min"]`}, []string{
			"curve: the curve does not rise here: 1.8 mL/min at 40 % after 2 mL/min at 20 %; both columns must rise from point to point"}},
		{"curve with one duty twice", []string{`["40 %", "4.8 mL/min"]|["20 %", "4.8 mL/min"]`}, []string{
			"curve: the curve does not rise here: 4.8 mL/min at 20 % after 2 mL/min at 20 %; both columns must rise from point to point"}},
		{"curve of one point", []string{`, ["60 %", "24 mL/min"], ["100 %", "40 mL/min"]|`}, []string{
			"curve: a curve needs at least two points; measure the flow at the least and the full duty, and between"}},
		{"point of three", []string{`["60 %", "24 mL/min"]|["60 %", "24 mL/min", "x"]`}, []string{`curve: a point of the curve is a duty and a flow; write ["20 %", "2 mL/min"]`}},
		{"point without unit", []string{`["60 %", "24 mL/min"]|["60 %", 24]`}, []string{`curve: flow = 24 has no unit; a unit is needed: write "24 mL/min"`}},
		{"duty above all", []string{`["100 %", "40 mL/min"]|["101 %", "40 mL/min"]`}, []string{`curve: duty = "101 %" is out of range; allowed is 1 % to 100 %`}},
		{"curve that is no list", []string{`curve = [["20 %", "5 mL/min"], ["60 %", "24 mL/min"], ["100 %", "40 mL/min"]]|curve = "40 mL/min"`}, []string{
			`curve: curve is a text, not a list of points; write curve = [["20 %", "2 mL/min"], ["100 %", "12 mL/min"]]`}},
		{"no curve", []string{`curve = [["20 %", "5 mL/min"], ["60 %", "24 mL/min"], ["100 %", "40 mL/min"]]|`}, []string{
			`[rinse-pump]: [rinse-pump] has no curve; add curve = [["20 %", "2 mL/min"], ["100 %", "12 mL/min"]]`}},
		{"no tray", []string{"[tray]\nholds = \"60 mL\"|"}, []string{"# A simulated bench: the file has no [tray]; add [tray] with holds"}},
		{"no room", []string{"[room]\nvolume      = \"30 m³\"\nair-changes = \"1 1/h\"\nair         = \"21 °C\"\nhumidity    = \"50 %\"|"}, []string{
			"# A simulated bench: the file has no [room]; add [room] with volume, air-changes, air and humidity"}},
		{"half a room", []string{"volume      = \"30 m³\"\n|"}, []string{`[room]: [room] has no volume; add volume = "1 m³"`}},
		{"no tank", []string{"[tank]\nholds = \"500 mL\"|"}, []string{"[pump]: the bench has [pump] but no [tank]; add [tank]"}},
		{"no fan", []string{"[fan]\nfastest   = \"3000 rpm\"\nleast     = \"30 %\"            # below this it does not turn reliably\nthrough   = \"3 L/s\"           " +
			"# air leaving by the duct at full speed\nstirring  = \"2 m/s\"           # speed of the air over the cartridge at full speed\nduct-area = \"20 cm²\"|"}, []string{
			"[heater]: the bench has [heater] but no [fan]; add [fan]",
			"[sensors.fan-speed]: warning: fan-speed has nothing to watch: the bench lacks its part; add the part, or leave the sensor out"}},
		{"heater too warm", []string{"\"40 °C\"|\"51 °C\""}, []string{`air-limit: air-limit = "51 °C" is out of range; allowed is 20 °C to 50 °C`}},
		{"jacket below air", []string{"\"45 °C\"|\"39 °C\""}, []string{
			"surface-limit: the jacket may reach 39 °C, less than the air that may be asked (40 °C); raise surface-limit or lower air-limit"}},
		{"heater in fahrenheit", []string{"\"40 °C\"|\"104 °F\""}, []string{`air-limit: "104 °F" is not a temperature; write °C: subtract 32 and divide by 1.8`}},
		{"no sim", []string{"[sim]\n|[simm]\n"}, []string{"# A simulated bench: the file has no [sim]; add [sim] with kept, film and friction", "[simm]: the file has no key simm; did you mean sim?"}},
		{"faces too unlike", []string{"uneven   = \"10 %\"|uneven = \"61 %\""}, []string{`uneven: uneven = "61 %" is out of range; allowed is 0 % to 60 %`}},
		{"critical too low", []string{"critical = \"30 %\"|critical = \"9 %\""}, []string{`critical: critical = "9 %" is out of range; allowed is 10 % to 60 %`}},
		{"critical as a number", []string{"critical = \"30 %\"|critical = 30"}, []string{`critical: critical = 30 has no unit; a unit is needed: write "30 %"`}},
		{"negative seed", []string{"seed     = 1|seed = -1"}, []string{"seed: seed = -1 is out of range; allowed is 0 to 9223372036854775807"}},
		{"always stale", []string{"[sensors.lid]|[sensors.lid]\nstale = \"50 ms\""}, []string{
			"stale: lid would always be stale: it is read every 50 ms and not used after 50 ms; make stale at least twice every"}},
		{"noisy contact", []string{"[sensors.lid]|[sensors.lid]\nnoise = \"1 %\""}, []string{"noise: noise is not for a contact; a contact has only stale and every"}},
		{"noise in degrees", []string{`noise = "0.03 K"|noise = "0.03 °C"`}, []string{`noise: "0.03 °C" is not a difference of temperatures; a difference is in kelvin: write "0.03 K"`}},
		{"noise of another kind", []string{`noise = "0.01 N"|noise = "0.01 kPa"`}, []string{`noise: "0.01 kPa" is not a force: kPa is a unit of pressure; write N or mN, as in "0.1 N"`}},
		{"wiring", []string{"[sensors.lid]|[sensors.lid]\nline = \"GPIO5\""}, []string{`line: line is not for this sensor; wiring is for kind = "board"; leave it out`}},
		{"board", []string{"[sim]|[board]\nchip = \"x\"\n[sim]"}, []string{`[board]: [board] is for a real bench; leave it out, or write kind = "board"`}},
		{"outputs", []string{"[sim]|[outputs.pump]\nline = 3\n[sim]"}, []string{`[outputs.pump]: [outputs] is for a real bench; leave it out, or write kind = "board"`}},
		{"press that is not fitted", []string{"fitted = true|fitted = \"yes\""}, []string{`fitted: fitted is a text, not true or false; write fitted = true`}},
		{"a table that is none", []string{"[hub]\nfastest = \"300 rpm\"|", "[room]|hub = \"300 rpm\"\n[room]"}, []string{`hub: hub is a text, not a table; write its keys below [hub]`}},
	})
}

// What the file says of the liner's faces is what the bench has, up to the ends of both ranges.
func TestLinerFaces(t *testing.T) {
	for text, want := range map[string][2]float64{
		`uneven = "0 %"|critical = "10 %"`: {0, 0.1}, `uneven = "60 %"|critical = "60 %"`: {0.6, 0.6}, `uneven = "25 %"|`: {0.25, 0.3},
	} {
		uneven, critical, _ := strings.Cut(text, "|")
		b, problems := ReadBench("b.toml", []byte(change(t, shipped(t, "simulated"), `uneven   = "10 %"|`+uneven, `critical = "30 %"|`+critical)))
		if len(problems) > 0 || b.Sim.Uneven != want[0] || b.Sim.Critical != want[1] {
			t.Errorf("%s: %+v\n%v", text, b.Sim, problems)
		}
	}
}

// A bench is refused without each of the sensors that its parts cannot do without.
func TestIndispensableSensors(t *testing.T) {
	text := shipped(t, "simulated")
	for sensor, why := range map[Sensor]string{
		Lid: "nothing may turn or wet with the lid open", EStop: "the emergency stop has to be seen", TrayFloat: "an overflowing tray has to be seen",
		TankFloat: "the pump would run dry unseen", RinseFloat: "the rinse pump would run dry unseen",
		PadFront: "pads turn only while their force and speed are seen", PadBack: "pads turn only while their force and speed are seen",
		PadsSpeed: "pads turn only while their force and speed are seen", HubSpeed: "a hub that stalls has to be seen", FanSpeed: "a fan that stands has to be seen",
		Air: "the heater runs only while the air at the cartridge is seen",
	} {
		start := strings.Index(text, fmt.Sprintf("[sensors.%s]", sensor))
		end := start + 1 + strings.Index(text[start+1:], "\n[")
		_, problems := ReadBench("b.toml", []byte(text[:start]+text[end:]))
		want := fmt.Sprintf("the bench has no sensor %s: %s; add [sensors.%s]", sensor, why, sensor)
		if len(problems) != 1 || !strings.HasSuffix(problems.Error(), want) {
			t.Errorf("without %s:\n got %v\nwant %s", sensor, problems, want)
		}
	}
	for _, sensor := range []Sensor{AirIn, AirInRH, AirOut, AirOutRH, Surface, Vapour} {
		start := strings.Index(text, fmt.Sprintf("[sensors.%s]", sensor))
		end := start + 1 + strings.Index(text[start+1:], "\n[")
		if _, problems := ReadBench("b.toml", []byte(text[:start]+text[end:])); len(problems) > 0 {
			t.Errorf("without %s, which a bench may lack: %v", sensor, problems)
		}
	}
}

// The smallest bench: nothing but a tray, a room and a fan can dry disks.
func TestSmallBench(t *testing.T) {
	text := `kind = "simulated"
title = "Fan in a box"
tray = { holds = "20 mL" }
room = { volume = "30 m³", air-changes = "0 1/h", air = "20 °C", humidity = "40 %" }
fan = { fastest = "2000 rpm", least = "20 %", through = "1 L/s", stirring = "1 m/s", duct-area = "10 cm²" }
sim = { kept = "2 mL", film = "0.1 W/K", friction = "30 %" }
sensors = { lid = {}, emergency-stop = {}, tray-float = {}, fan-speed = {} }
`
	b, problems := ReadBench("b.toml", []byte(text))
	if len(problems) > 0 || b.Heater != (Heater{}) || b.Press || b.Pads != (PadPair{}) || b.Tank.Capacity != 0 {
		t.Errorf("%+v\n%v", b, problems)
	}
	if want := (Sim{Kept: 2e-6, Film: 0.1, Friction: 0.3, Front: 1, Back: 1, Uneven: 0.1, Critical: 0.3}); b.Sim != want {
		t.Errorf("what is not told of the simulation became %+v, want %+v", b.Sim, want)
	}
	b, problems = ReadBench("b.toml", []byte(text+"[heater]\npower = \"40 W\"\nair-limit = \"48 °C\"\n[sensors.air]\n"))
	if want := "b.toml:10:10: this is not TOML"; !strings.HasPrefix(problems.Error(), want) && len(problems) == 0 {
		t.Errorf("extending an inline table is not TOML, but got %v", problems)
	}
	b, problems = ReadBench("b.toml", []byte(strings.Replace(text, "fan-speed = {}", "fan-speed = {}, air = {}", 1)+"[heater]\npower = \"40 W\"\nair-limit = \"48 °C\"\n"))
	if len(problems) > 0 || b.Heater != (Heater{Power: 40, AirLimit: 48 + 273.15, SurfaceLimit: 48 + 273.15}) {
		t.Errorf("%+v\n%v", b.Heater, problems)
	}
}

func TestReadBenchWholeFiles(t *testing.T) {
	for text, want := range map[string]string{
		"":              `b.toml:1:1: the file has no kind; add kind = "simulated" or "board"`,
		sound:           "b.toml:13:3: this is a recipe, not a bench file; give it as the recipe",
		"kind = 1":      `b.toml:1:1: the file has no title; add title = "The bench by the window"` + "\n" + `b.toml:1:8: kind is a bare number, not a text; write kind = "simulated"`,
		"\xFF\xFEk\x00": "b.toml:1:1: the file is UTF-16; save it as UTF-8",
	} {
		b, problems := ReadBench("b.toml", []byte(text))
		if problems.Error() != want {
			t.Errorf("%.20q:\n got %v\nwant %s", text, problems, want)
		}
		if b.Name != "b" || b.Place("pump.curve").Line != 1 {
			t.Errorf("%.20q: name %q, place %v", text, b.Name, b.Place("pump.curve"))
		}
	}
}

// Whatever bytes come, ReadBench returns; without errors the bench keeps what it promises.
func FuzzBench(f *testing.F) {
	f.Add([]byte(shipped(f, "simulated")))
	f.Add([]byte(shipped(f, "board")))
	f.Add([]byte("kind = \"board\"\nbuses.a.adapter = 3\noutputs.pump.line = -1\nsensors.air.chip = \"hx711\"\npump.curve = [[[]], 3, [\"1 %\", \"2 %\"]]"))
	f.Fuzz(func(t *testing.T, data []byte) {
		b, problems := ReadBench("f.toml", data)
		checkPlaces(t, problems)
		if len(problems.Errors()) > 0 {
			return
		}
		for i := 1; i < len(b.Pump.Curve); i++ {
			if b.Pump.Curve[i].Flow <= b.Pump.Curve[i-1].Flow || b.Pump.Curve[i].Duty <= b.Pump.Curve[i-1].Duty {
				t.Fatalf("the curve %v does not rise", b.Pump.Curve)
			}
		}
		for s, spec := range b.Sensors {
			if spec.Fitted && (spec.Every <= 0 || spec.Stale <= spec.Every) {
				t.Fatalf("%v is %+v", Sensor(s), spec)
			}
		}
		if !b.Sensors[Lid].Fitted || !b.Sensors[EStop].Fitted || !b.Sensors[TrayFloat].Fitted || b.Tray <= 0 || b.Heater.AirLimit > 323.15 ||
			b.Heater.Power > 0 && (b.Fan.Fastest <= 0 || !b.Sensors[Air].Fitted || b.Heater.AirLimit < 293) {
			t.Fatalf("%+v", b)
		}
	})
}
