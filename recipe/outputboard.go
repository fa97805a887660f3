package recipe

import (
	"fmt"
	"slices"
	"strings"
	"time"
)

// slowLeast is the least time on, and off, of a slow rhythm whose file gives none: our own choice, about what a small
// relay or a membrane pump follows cleanly.
const slowLeast = 200 * time.Millisecond

// onOffOnly are the outputs that know only on and off. Press and pads-reverse may sit on a chip's channel all the same,
// where fully on and fully off are states of their own: the pads stand while the direction changes, and a write that
// fails is a failed drive like any other, which ends the cycle. The second cut-off of the heater may not.
var onOffOnly = map[Output]bool{OutPress: true, OutPadsReverse: true, OutHeaterEnable: true, OutAlive: true}

// output reads one [outputs.NAME].
func (b *Bench) output(s *section, which Output) OutputWiring {
	w := OutputWiring{Fitted: true, Line: Line{Offset: -1}}
	drives := []string{DriveSwitched, DriveSlow, DrivePWM, DriveChip}
	if w.Drive, _ = s.oneOf("drive", drives...); !s.has("drive") {
		s.missing("drive", orList(drives))
	}
	if w.Drive == DriveChip {
		s.refuse([]string{"line"}, `is not for drive = "chip"`, "leave it out; the wire is the chip's channel")
	} else {
		w.Line = b.line(s, "line")
	}
	active, ok := s.oneOf("active", "high", "low")
	if !s.has("active") {
		s.missing("active", `"high", or "low" where the load is on at logic low`)
	}
	w.ActiveLow = active == "low"
	rests, _ := s.oneOf("rests", "off by pull-down", "off by pull-up")
	w.Pull = strings.TrimPrefix(rests, "off by pull-")
	switch {
	case !ok:
	case w.Drive == DrivePWM && w.ActiveLow:
		s.wrong("active", "a PWM channel that is disabled, as at the start and after the end, rests low, and this output is on at logic low",
			"turn it round with a transistor, or take a line that rests at off")
	case w.Drive == DriveChip:
		restOfChip(s, w)
	default:
		b.rest(s, w)
	}
	if onOffOnly[which] && (w.Drive == DriveSlow || w.Drive == DrivePWM && which != OutHeaterEnable && which != OutAlive) {
		s.wrong("drive", fmt.Sprintf("%s knows only on and off", which), `write drive = "switched"`)
	}
	b.driven(s, &w)
	s.done()
	return w
}

// rest checks that the wire is off before this program runs and after it is gone: it works out at which level the load
// is on, and what holds the wire at the other one.
func (b *Bench) rest(s *section, w OutputWiring) {
	off, on := w.levels()
	pull := defaultPull(b.Board.Header, w.Line.Offset)
	declare := fmt.Sprintf(`fit an external pull-%s and write rests = "off by pull-%s", or take a line that rests at off`, off, off)
	switch {
	case w.Pull == on:
		s.wrong("rests", fmt.Sprintf("a pull-%s would switch this output on: it is on at %s", on, level(on)), declare)
	case w.Pull == off && pull == on:
		s.warn("line", fmt.Sprintf("%s is pulled %s, which is on, until the program starts; only your external resistor holds it",
			w.Line, on), "make that resistor at most a tenth of the chip's own (about 5 kΩ), or take another line")
	case w.Pull == "" && pull == on:
		s.wrong("line", fmt.Sprintf("%s is pulled %s before the program starts, and this output is on at %s", w.Line, on, level(on)),
			declare)
	case w.Pull == "" && pull == "":
		s.wrong("line", fmt.Sprintf("nothing is known about how %s rests before the program starts", w.Line),
			fmt.Sprintf(`fit an external pull-%s and write rests = "off by pull-%s"`, off, off))
	}
}

// restOfChip checks the same for a channel of a PWM chip. That drives its channels low as soon as it has power, harder
// than any resistor pulls, and nowhere while it has none.
func restOfChip(s *section, w OutputWiring) {
	switch {
	case w.ActiveLow:
		s.wrong("active", "the chip drives this channel low as soon as it has power, and this output is on at logic low",
			"turn it round with a transistor, or take a line that rests at off")
	case w.Pull == "up":
		s.wrong("rests", "a pull-up would switch this output on while the chip has no power: it is on at logic high",
			`fit an external pull-down and write rests = "off by pull-down"`)
	case !s.has("rests"):
		s.missing("rests", `"off by pull-down", and fit that resistor: without power the chip holds nothing`)
	}
}

// levels returns the pull that rests the output, and the one that switches it on.
func (w OutputWiring) levels() (off, on string) {
	if w.ActiveLow {
		return "up", "down"
	}
	return "down", "up"
}

func level(pull string) string {
	if pull == "up" {
		return "logic high"
	}
	return "logic low"
}

// driveKeys are the keys that only some drives have.
var driveKeys = []struct {
	key    string
	drives []string
}{
	{"pwm", []string{DrivePWM}}, {"chip", []string{DriveChip}}, {"bus", []string{DriveChip}}, {"address", []string{DriveChip}},
	{"channel", []string{DrivePWM, DriveChip}}, {"frequency", []string{DrivePWM, DriveChip}}, {"period", []string{DriveSlow}},
	{"min-on", []string{DriveSwitched, DriveSlow}}, {"min-off", []string{DriveSwitched, DriveSlow}},
}

// driven reads what the drive needs besides the line.
func (b *Bench) driven(s *section, w *OutputWiring) {
	for _, k := range driveKeys {
		switch {
		case w.Drive == "": // without the drive nothing can be said about its keys
			s.judged = append(s.judged, k.key)
		case !slices.Contains(k.drives, w.Drive):
			s.refuse([]string{k.key}, "is for drive = "+orList(k.drives), "leave it out")
		}
	}
	switch w.Drive {
	case DrivePWM:
		b.hardwarePWM(s, w)
	case DriveChip:
		if w.Chip, _ = s.oneOf("chip", pca9685.name); !s.has("chip") {
			s.missing("chip", orList([]string{pca9685.name}))
		}
		w.Bus, w.Address = b.onBus(s, pca9685)
		w.Channel = channel(s, pca9685.channels)
		w.Frequency, _ = s.must("frequency", chipFrequency)
	case DriveSwitched, DriveSlow:
		w.rhythm(s)
	}
}

// hardwarePWM reads a channel of the board's own PWM. It is named by its device for the same reason as the gpiochip by
// its label: on one system the next number drives the computer's own cooling fan.
func (b *Bench) hardwarePWM(s *section, w *OutputWiring) {
	if w.PWM, _ = s.text("pwm", "fe20c000.pwm"); !s.has("pwm") {
		s.missing("pwm", `the device that /sys/class/pwm/pwmchip* points to, as in "fe20c000.pwm"`)
	}
	w.Channel = channel(s, 16)
	w.Frequency, _ = s.must("frequency", pwmFrequency)
	if strings.HasPrefix(w.PWM, "pwmchip") {
		s.wrong("pwm", fmt.Sprintf("%s is a number that may change with every kernel", cut(w.PWM)), "write the device it points to")
	} else if s.has("pwm") && strings.TrimSpace(w.PWM) == "" {
		s.wrong("pwm", "the device has no name", `write it as in "fe20c000.pwm"`)
	}
	if why := fansPWM(b.Board.Chip, w.PWM, w.Channel); why != "" {
		s.wrong("pwm", why, "take the PWM whose channels come out at the header")
	}
	if !reachesPWM(b.Board.Header, b.Board.Chip, w.Line.Offset) {
		s.warn("line", fmt.Sprintf("the hardware PWM does not come out at %s, as far as is known", w.Line),
			"take GPIO12, GPIO13, GPIO18 or GPIO19, and the channel that its overlay gives")
	}
}

// channel reads the channel of a chip that has so many.
func channel(s *section, of int) int {
	n, ok := s.whole("channel", 0, int64(of)-1)
	if !ok && !s.has("channel") {
		s.missing("channel", "0")
	}
	return int(n)
}

// rhythm reads the times of a line that is switched.
func (w *OutputWiring) rhythm(s *section) {
	if w.Drive == DriveSlow {
		v, _ := s.must("period", slowPeriod)
		w.Period, w.MinOn, w.MinOff = toDuration(v), slowLeast, slowLeast
	}
	if v, ok := s.time("min-on", leastTime); ok {
		w.MinOn = v
	}
	if v, ok := s.time("min-off", leastTime); ok {
		w.MinOff = v
	}
	if w.Period > 0 && w.Period < w.MinOn+w.MinOff {
		s.wrong("period", fmt.Sprintf("a period of %s is shorter than min-on and min-off together (%s)",
			leastTime.dim.Say(w.Period.Seconds()), leastTime.dim.Say((w.MinOn+w.MinOff).Seconds())), "lengthen period")
	}
}
