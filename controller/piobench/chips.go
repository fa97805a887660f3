package piobench

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"sync/atomic"
	"time"

	"periph.io/x/conn/v3"
	"periph.io/x/conn/v3/i2c"

	"fullery/controller/piobench/lines"
	"fullery/recipe"
	"fullery/sensors"
	"fullery/sensors/ads1115"
	"fullery/sensors/bme280"
	"fullery/sensors/hx711"
	"fullery/sensors/nau7802"
	"fullery/sensors/pca9685"
	"fullery/sensors/sht3x"
	"fullery/sensors/sht4x"
	"fullery/sensors/tmp102"
)

// Which driver serves which chip of the bench file, and what its values are to the controller.

// newPWMChip returns the driver of a chip with outputs.
func newPWMChip(on i2c.Bus, address int, sleep func(time.Duration)) pwmChip {
	return pca9685.New(&i2c.Dev{Bus: on, Addr: uint16(address)}, sleep)
}

// supply is what the board gives the chips, V: analogue converters are read on the range of ±4.096 V, which holds it.
const supply = 3.3

// openBuses opens the buses of the file and finds what is on each.
func (b *Bench) openBuses() error {
	for _, on := range b.spec.Board.Buses {
		if err := b.openBus(on); err != nil {
			return err
		}
	}
	return b.bridges()
}

func (b *Bench) openBus(on recipe.Bus) error {
	opened, err := b.world.open(on.Name, on.Adapter)
	if err != nil {
		return err
	}
	w := newWorker(on.Name, opened.Close)
	b.workers = append(b.workers, w)
	for o := range recipe.NumOutputs {
		wiring := &b.spec.Board.Outputs[o]
		if !wiring.Fitted || wiring.Drive != recipe.DriveChip || wiring.Bus != on.Name {
			continue
		}
		p := w.boardAt(wiring.Address)
		if p == nil {
			p = &board{name: chipName(wiring.Chip, wiring.Address, on.Name), address: wiring.Address, frequency: wiring.Frequency,
				chip: newPWMChip(opened, wiring.Address, b.world.Sleep)}
			w.boards = append(w.boards, p)
		}
		p.used[wiring.Channel] = true
		b.outputs[o] = &chanSink{board: p, channel: wiring.Channel, wake: w.wake, now: b.world.Kernel.Now}
	}
	return b.sourcesOn(on.Name, opened, w)
}

// boardAt returns the chip with outputs at an address, nil when there is none yet.
func (w *worker) boardAt(address int) *board {
	for _, p := range w.boards {
		if p.address == address {
			return p
		}
	}
	return nil
}

func newWorker(name string, close func() error) *worker {
	return &worker{name: name, close: close, wake: make(chan struct{}, 1), stop: make(chan struct{}), done: make(chan struct{})}
}

// sourcesOn makes the sources of one bus: a chip that measures several things is asked once for all of them, a chip with
// channels once for each.
func (b *Bench) sourcesOn(bus string, on i2c.Bus, w *worker) error {
	whole := map[int]*source{}   // by address, of chips that are asked once
	shared := map[int]*channel{} // of chips with channels
	for s := range recipe.NumSensors {
		wiring, spec := &b.spec.Board.Inputs[s], &b.spec.Sensors[s]
		if !spec.Fitted || wiring.Chip == "" || wiring.Bus != bus {
			continue
		}
		dev := &i2c.Dev{Bus: on, Addr: uint16(wiring.Address)}
		name := chipName(wiring.Chip, wiring.Address, bus)
		if at := whole[wiring.Address]; at != nil {
			at.feed(s, spec)
			continue
		}
		src, err := b.sourceOf(b.calibrated(s), wiring, dev, shared)
		if err != nil {
			return fmt.Errorf("%s: %w", s, err)
		}
		src.jump = jumps(s) * math.Abs(wiring.Gain)
		src.name = name
		src.feed(s, spec)
		if src.whole {
			whole[wiring.Address] = src
		}
		w.sources = append(w.sources, src)
	}
	return nil
}

// feed gives a source one more sensor. It is read as often as the most impatient of them asks.
func (s *source) feed(f recipe.Sensor, spec *recipe.SensorSpec) {
	s.feeds = append(s.feeds, f)
	// A bound is let through where it says something, as 100 % of humidity does; a bridge's drivers refuse it themselves.
	s.chain = append(s.chain, sensors.Signal{Watch: sensors.Watch{Limits: s.limits(f)}, Despike: sensors.Despike{Jump: s.jump, Quiet: 8},
		Bounds: true})
	s.buffer = make([]value, len(s.feeds))
	if s.every == 0 || spec.Every < s.every {
		s.every = spec.Every
	}
}

// jumps is how much more from one value to the next is looked at twice, in the unit of the sensor; nothing: not at all.
func jumps(s recipe.Sensor) float64 {
	switch s {
	case recipe.PadFront, recipe.PadBack:
		return 1 // N
	case recipe.Weight:
		return 10e-3 // kg
	}
	return 0
}

// channel is a chip with channels that several sources share.
type channel struct {
	begin func() error
	read  func(channel int) (code float64, err error)
}

// sourceOf makes the source of one sensor.
func (b *Bench) sourceOf(line *atomic.Pointer[straight], wiring *recipe.InputWiring, dev conn.Conn, shared map[int]*channel) (*source, error) {
	switch wiring.Chip {
	case "sht3x":
		d := sht3x.New(dev, b.world.Sleep)
		return moist(wiring, d.Begin, d.Serial, func() (float64, float64, float64, float64, error) {
			r, err := d.Read()
			return r.Temperature, r.Humidity, float64(r.RawTemperature), float64(r.RawHumidity), err
		}), nil
	case "sht4x":
		d := sht4x.New(dev, b.world.Sleep)
		return moist(wiring, d.Begin, d.Serial, func() (float64, float64, float64, float64, error) {
			r, err := d.Read()
			return r.Temperature, r.Humidity, float64(r.RawTemperature), float64(r.RawHumidity), err
		}), nil
	case "bme280":
		d := bme280.New(dev, b.world.Sleep)
		return moist(wiring, d.Begin, nil, func() (float64, float64, float64, float64, error) {
			r, err := d.Read()
			return r.Temperature, r.Humidity, float64(r.RawTemperature), float64(r.RawHumidity), err
		}), nil
	case "tmp102", "lm75":
		kind := tmp102.TMP102
		if wiring.Chip == "lm75" {
			kind = tmp102.LM75
		}
		d := tmp102.New(dev, kind, b.world.Sleep)
		return &source{begin: d.Begin, limits: rests, read: func(into []value) error {
			r, err := d.Read()
			if err == nil {
				into[0] = value{si: r.Temperature, raw: float64(r.Raw), name: "code"}
			}
			return err
		}}, nil
	case "ads1115":
		if shared[wiring.Address] == nil {
			d := ads1115.New(dev, ads1115.Settings{Range: ads1115.FS4096, Rate: 860, Supply: supply}, b.world.Sleep)
			shared[wiring.Address] = &channel{begin: d.Begin, read: func(c int) (float64, error) {
				r, err := d.Read(c)
				return float64(r.Code), err
			}}
		}
		return counted(line, wiring, shared[wiring.Address], forces), nil
	case "nau7802":
		if shared[wiring.Address] == nil {
			d := nau7802.New(dev, nau7802.Settings{Both: b.usesSecond(wiring)}, b.world.Sleep)
			shared[wiring.Address] = &channel{begin: d.Begin, read: func(c int) (float64, error) {
				r, err := d.Read(c)
				return float64(r.Code), err
			}}
		}
		return counted(line, wiring, shared[wiring.Address], bridge), nil
	}
	return nil, fmt.Errorf("this program has no driver for the chip %q", wiring.Chip)
}

// usesSecond tells whether any sensor of the same chip is on its second input.
func (b *Bench) usesSecond(of *recipe.InputWiring) bool {
	for s := range recipe.NumSensors {
		w := &b.spec.Board.Inputs[s]
		if b.spec.Sensors[s].Fitted && w.Chip == of.Chip && w.Bus == of.Bus && w.Address == of.Address && w.Channel == 1 {
			return true
		}
	}
	return false
}

// rests are the limits of a chip with coarse steps, which may well rest on one code: five minutes and sixty readings.
func rests(recipe.Sensor) sensors.Limits {
	return sensors.Limits{Low: -1 << 15, High: 1 << 16, Same: 60, For: 5 * time.Minute}
}

// flickers are the limits of a chip with fine steps, a few of which its noise alone spans: the same code a dozen times is a
// chip that froze.
func flickers(recipe.Sensor) sensors.Limits {
	return sensors.Limits{Low: -1, High: 1 << 20, Same: 12}
}

// forces are the limits of an analogue input: a pad that works shakes it, so that the same code for four seconds is no
// force; vapour may rest.
func forces(s recipe.Sensor) sensors.Limits {
	l := sensors.Limits{Low: -32768, High: 32767}
	if s == recipe.PadFront || s == recipe.PadBack {
		l.Same, l.For = 20, 4*time.Second
	}
	return l
}

// bridge are the limits of a load cell's converter.
func bridge(recipe.Sensor) sensors.Limits { return sensors.LoadCell(-8388608, 8388607) }

// moist is a chip that measures temperature and humidity at once. Where the file tells its serial number, another one is
// refused: somebody swapped two of them.
func moist(wiring *recipe.InputWiring, begin func() error, serial func() (uint32, error),
	read func() (t, rh, rawT, rawRH float64, err error)) *source {
	s := &source{whole: true, limits: flickers}
	s.begin = func() error {
		if err := begin(); err != nil || wiring.Serial == 0 || serial == nil {
			return err
		}
		found, err := serial()
		if err != nil {
			return err
		}
		if found != wiring.Serial {
			return fmt.Errorf("%w: its serial number is 0x%08x and the bench file tells 0x%08x: was it swapped with another one? "+
				"Look at the wires, or mend the file", sensors.ErrForeign, found, wiring.Serial)
		}
		return nil
	}
	s.read = func(into []value) error {
		t, rh, rawT, rawRH, err := read()
		if err != nil {
			return err
		}
		for i, f := range s.feeds {
			into[i] = value{si: t, raw: rawT, name: "code"}
			if f == recipe.AirInRH || f == recipe.AirOutRH {
				into[i] = value{si: rh, raw: rawRH, name: "code"}
			}
		}
		return nil
	}
	return s
}

// straight is the line of counts over what is measured.
type straight struct{ zero, gain float64 }

// calibrated begins with what the bench file has.
func (b *Bench) calibrated(s recipe.Sensor) *atomic.Pointer[straight] {
	w := &b.spec.Board.Inputs[s]
	b.lines[s].Store(&straight{w.Zero, w.Gain})
	return &b.lines[s]
}

// Calibrate gives a sensor another calibration than the bench file's, from now on: counts at nothing, and counts for each SI
// unit. It may be called from any goroutine.
func (b *Bench) Calibrate(s recipe.Sensor, zero, gain float64) {
	b.lines[s].Store(&straight{zero, gain})
}

// errUncalibrated is a cell whose counts mean nothing yet.
var errUncalibrated = errors.New("not calibrated")

// counted is one channel of a chip whose counts go with what is measured.
func counted(by *atomic.Pointer[straight], wiring *recipe.InputWiring, c *channel, limits func(recipe.Sensor) sensors.Limits) *source {
	s := &source{begin: c.begin, limits: limits}
	s.read = func(into []value) error {
		code, err := c.read(wiring.Channel)
		if err != nil {
			return err
		}
		line := by.Load()
		if line.gain == 0 {
			return errUncalibrated
		}
		into[0] = value{si: (code - line.zero) / line.gain, raw: code, name: "counts"}
		return nil
	}
	return s
}

// bridges makes a worker of its own for each bridge converter with two wires: it is waited for, and clocked by hand.
func (b *Bench) bridges() error {
	for s := range recipe.NumSensors {
		wiring, spec := &b.spec.Board.Inputs[s], &b.spec.Sensors[s]
		if !spec.Fitted || wiring.Chip != "hx711" {
			continue
		}
		data, err := b.line(s.String(), wiring.Data)
		if err != nil {
			return err
		}
		clock, err := b.line(s.String(), wiring.Clock)
		if err != nil {
			return err
		}
		out, err := b.chip.Output(clock, s.String()+" clock", false)
		if err != nil {
			return err
		}
		in, err := b.chip.Input(data, s.String()+" data", lines.PullUp, lines.NoEdges)
		if err != nil {
			return errors.Join(err, out.Close())
		}
		b.inputs = append(b.inputs, in)
		d := hx711.New(out, in, b.world.Kernel.Now, b.world.Sleep, hx711.A128)
		src := counted(b.calibrated(s), wiring, &channel{begin: d.Begin, read: func(int) (float64, error) {
			r, err := d.Read()
			return float64(r.Code), err
		}}, bridge)
		src.name = "hx711 of " + s.String()
		src.jump = jumps(s) * math.Abs(wiring.Gain)
		src.feed(s, spec)
		src.every = cmp.Or(src.every, 100*time.Millisecond)
		w := newWorker(src.name, out.Close)
		w.sources = append(w.sources, src)
		b.workers = append(b.workers, w)
	}
	return nil
}
