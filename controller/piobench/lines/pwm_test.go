package lines

import (
	"errors"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"syscall"
	"testing"
	"time"

	"pgregory.net/rapid"
)

const soc = "sys/devices/platform/soc/"

// tree makes a fake sysfs with one PWM chip of two channels.
func tree(t *testing.T) *FakeSysfs {
	t.Helper()
	f := NewFakeSysfs(t.TempDir())
	check(t, f.AddPWM(0, soc+"fe20c000.pwm", "vendor,bcm2835-pwm", 2))
	return f
}

func open(t *testing.T, f *FakeSysfs, channel int) *PWM {
	t.Helper()
	p, err := OpenPWM(f.Sysfs(), "fan", "fe20c000.pwm", channel, 20e3)
	check(t, err)
	return p
}

// written lists the writes as "file=value".
func written(f *FakeSysfs) []string {
	var list []string
	for _, w := range f.Waves() {
		list = append(list, w.File+"="+w.Value)
	}
	return list
}

func TestPWM(t *testing.T) {
	f := tree(t)
	p := open(t, f, 1)
	for _, share := range []float64{0, 0.3, 1, 0.00001, 0} {
		check(t, p.Set(share))
		got, err := p.Share()
		check(t, err)
		if math.Abs(got-share) > 0.5/50e3*1.001 { // half a nanosecond of the period of 50 µs
			t.Errorf("set %g, read back %g", share, got)
		}
	}
	check(t, p.Set(0.5))
	check(t, p.Close())
	check(t, p.Close())
	says(t, p.Set(0.5), "fan", "released")
	_, err := p.Share()
	says(t, err, "fan", "released")
	want := []string{"period=50000", "duty_cycle=0", "enable=1", "duty_cycle=0", "duty_cycle=15000", "duty_cycle=50000",
		"duty_cycle=1", "duty_cycle=0", "duty_cycle=25000", "duty_cycle=0", "enable=0"}
	if got := written(f); !slices.Equal(got, want) {
		t.Errorf("wrote %q,\nwant  %q", got, want)
	}
	if w := f.Waves()[9]; w.Channel != "fe20c000.pwm 1" || w.High != 0 || p.Role() != "fan" {
		t.Errorf("after Close: %+v", w)
	}
}

func TestPWMSetRefuses(t *testing.T) {
	f := tree(t)
	p := open(t, f, 0)
	n := len(f.Waves())
	for _, share := range []float64{-0.01, 1.01, math.NaN(), math.Inf(1)} {
		says(t, p.Set(share), "fan", "from 0 to 1")
	}
	for _, hz := range []float64{0, -1, 0.2, 2e6, math.NaN(), math.Inf(1)} {
		_, err := OpenPWM(f.Sysfs(), "fan", "fe20c000.pwm", 0, hz)
		says(t, err, "fan", "0.25 Hz to 1e+06 Hz")
	}
	if len(f.Waves()) != n {
		t.Errorf("wrote %+v", f.Waves()[n:])
	}
}

// TestPWMStartsWithoutFullOn: whatever an earlier program left in the channel, it is brought to 0 % running without a
// moment in which the pin is high longer than before, and the kernel takes every step.
func TestPWMStartsWithoutFullOn(t *testing.T) {
	root := t.TempDir()
	rapid.Check(t, func(t *rapid.T) {
		dir, err := os.MkdirTemp(root, "")
		if err != nil {
			t.Fatal(err)
		}
		f := NewFakeSysfs(dir)
		if err := f.AddPWM(7, soc+"fe20c000.pwm", "", 1); err != nil {
			t.Fatal(err)
		}
		channel := filepath.Join(dir, "sys/class/pwm/pwmchip7/pwm0")
		before := 0.0
		if rapid.Bool().Draw(t, "exported") {
			period := rapid.SampledFrom([]int{0, 1000, 50000, 4000000}).Draw(t, "period")
			duty := rapid.IntRange(0, period).Draw(t, "duty")
			enable := "0"
			if period > 0 && rapid.Bool().Draw(t, "enabled") {
				enable = "1"
			}
			files := map[string]string{"period": strconv.Itoa(period), "duty_cycle": strconv.Itoa(duty), "enable": enable,
				"polarity": rapid.SampledFrom([]string{"normal", "inversed"}).Draw(t, "polarity")}
			for name, text := range files {
				if err := plant(map[string]string{filepath.Join(channel, name): text + "\n"}); err != nil {
					t.Fatal(err)
				}
			}
			before = high(channel)
		}
		p, err := OpenPWM(f.Sysfs(), "fan", "fe20c000.pwm", 0, 20e3)
		if err != nil {
			t.Fatal(err)
		}
		for _, w := range f.Waves() {
			if w.High > 0 && w.High >= before {
				t.Fatalf("high for %g of the time after %s=%s, %g before; all: %q", w.High, w.File, w.Value, before, written(f))
			}
		}
		if attribute(channel, "enable") != "1" || attribute(channel, "polarity") != "normal" || high(channel) != 0 {
			t.Fatalf("not at 0 %% running: %q", written(f))
		}
		if err := errors.Join(p.Set(0.25), p.Close()); err != nil || high(channel) != 0 {
			t.Fatal(err)
		}
	})
}

// TestA10ChannelByDevice: the first chip turns the computer's own fan; the header's is chosen by its device, wherever it is
// numbered.
func TestA10ChannelByDevice(t *testing.T) {
	for _, order := range [][2]int{{0, 1}, {1, 0}, {2, 0}} {
		f := NewFakeSysfs(t.TempDir())
		check(t, f.AddPWM(order[0], "sys/devices/platform/axi/1000120000.pcie/1f0009c000.pwm", "vendor,rp1-pwm", 4, 3))
		check(t, f.AddPWM(order[1], "sys/devices/platform/axi/1000120000.pcie/1f00098000.pwm", "vendor,rp1-pwm", 4, 1))
		p, err := OpenPWM(f.Sysfs(), "hub", "1f00098000.pwm", 2, 1000)
		check(t, err)
		check(t, p.Set(1))
		check(t, p.Close())
		for _, w := range f.Waves() {
			if w.Channel != "1f00098000.pwm 2" {
				t.Errorf("another channel was written: %+v", w)
			}
		}
		n := len(f.Waves())
		_, err = OpenPWM(f.Sysfs(), "hub", "1f00098000.pwm", 1, 1000)
		says(t, err, "hub", "channel 1", "used by the kernel itself")
		_, err = OpenPWM(f.Sysfs(), "hub", "1f0009c000.pwm", 3, 1000)
		says(t, err, "hub", "channel 3", "cooling fan")
		_, err = OpenPWM(f.Sysfs(), "hub", "1f00098000.pwm", 4, 1000)
		says(t, err, "hub", "channels 0 to 3, not 4")
		_, err = OpenPWM(f.Sysfs(), "hub", "1f00098000.pwm", -1, 1000)
		says(t, err, "hub", "not -1")
		if len(f.Waves()) != n || n == 0 {
			t.Errorf("a refused channel was written: %+v", f.Waves()[n:])
		}
	}
}

// TestA10CoolingFan: a chip whose device or description names a fan is refused. The root's own name does not count.
func TestA10CoolingFan(t *testing.T) {
	root := filepath.Join(t.TempDir(), "fan-tests")
	check(t, os.Mkdir(root, 0o755))
	f := NewFakeSysfs(root)
	check(t, f.AddPWM(0, soc+"cooling_fan/a.pwm", "", 1))
	check(t, f.AddPWM(1, soc+"b.pwm", "vendor,pwm-FAN", 1))
	check(t, f.AddPWM(2, soc+"c.pwm", "", 1))
	for device, refused := range map[string]bool{"a.pwm": true, "b.pwm": true, "c.pwm": false} {
		p, err := OpenPWM(f.Sysfs(), "hub", device, 0, 1000)
		if refused {
			says(t, err, "hub", device, "belongs to a cooling fan")
			continue
		}
		check(t, err)
		check(t, p.Close())
	}
	check(t, plant(map[string]string{filepath.Join(root, soc, "c.pwm/of_node/compatible"): "fan\x00"}))
	_, err := OpenPWM(f.Sysfs(), "hub", "c.pwm", 0, 1000)
	says(t, err, "belongs to a cooling fan")
}

// TestA10MissingOverlay: the error names the overlay and what is there; parts of names do not count.
func TestA10MissingOverlay(t *testing.T) {
	_, err := OpenPWM(NewFakeSysfs(t.TempDir()).Sysfs(), "fan", "fe20c000.pwm", 0, 1000)
	says(t, err, "fan", `"fe20c000.pwm"`, "no PWM chip at all", "dtoverlay=pwm-2chan", "config.txt")
	f := tree(t)
	_, err = OpenPWM(f.Sysfs(), "fan", "20c000.pwm", 0, 1000)
	says(t, err, "pwmchip0 at "+soc+"fe20c000.pwm", "dtoverlay=pwm-2chan")
	_, err = OpenPWM(f.Sysfs(), "fan", "", 0, 1000)
	says(t, err, "name the device")
	check(t, f.AddPWM(1, "sys/devices/platform/other/fe20c000.pwm", "", 2))
	_, err = OpenPWM(f.Sysfs(), "fan", "fe20c000.pwm", 0, 1000)
	says(t, err, "2 PWM chips", "give more of the path")
	p, err := OpenPWM(f.Sysfs(), "fan", "/soc/fe20c000.pwm", 0, 1000)
	check(t, err)
	check(t, p.Close())
}

// TestPWMWaitsForUdev: the channel's files may come, or become writable, a moment after the export.
func TestPWMWaitsForUdev(t *testing.T) {
	for _, late := range []int{3, 1000} {
		f := tree(t)
		sys := f.Sysfs()
		channel, waits := filepath.Join(f.root, "sys/class/pwm/pwmchip0/pwm0"), 0
		write := sys.Write
		sys.Write = func(path, value string) error {
			if filepath.Base(path) == "export" {
				return nil
			}
			return write(path, value)
		}
		sys.Wait = func(d time.Duration) {
			if waits++; waits == late {
				check(t, f.export(channel))
			}
		}
		p, err := OpenPWM(sys, "fan", "fe20c000.pwm", 0, 1000)
		if late == 1000 {
			says(t, err, "fan", "did not become writable within 2 s")
			if waits > 100 {
				t.Errorf("waited %d times", waits)
			}
			continue
		}
		check(t, err)
		check(t, p.Close())
	}
}

// TestPWMTrouble: what the kernel says is passed on, a missing permission with the way out; the channel is left off as
// well as can be.
func TestPWMTrouble(t *testing.T) {
	f := tree(t)
	p := open(t, f, 0)
	check(t, p.Set(0.5))
	f.Fail(syscall.EIO)
	says(t, p.Set(0.6), "fan", "duty_cycle", "input/output error")
	err := p.Close()
	says(t, err, "fan may still be on", "cut the power", "duty_cycle", "enable")
	if again := p.Close(); again == nil || again.Error() != err.Error() {
		t.Errorf("the second Close says %v", again)
	}
	f.Fail(&fs.PathError{Op: "open", Path: "export", Err: syscall.EACCES})
	_, err = OpenPWM(f.Sysfs(), "hub", "fe20c000.pwm", 1, 1000)
	says(t, err, "hub", "group gpio", "usermod")
	_, err = OpenPWM(f.Sysfs(), "hub", "fe20c000.pwm", 0, 1000) // exported already
	says(t, err, "hub", "group gpio")
	f.Fail(nil)

	sys := f.Sysfs()
	write := sys.Write
	sys.Write = func(path, value string) error {
		if filepath.Base(path) == "enable" && value == "1" {
			return syscall.ENODEV
		}
		return write(path, value)
	}
	_, err = OpenPWM(sys, "hub", "fe20c000.pwm", 0, 1000)
	says(t, err, "hub", "enable", "no such device")
	if w := f.Waves()[len(f.Waves())-1]; w.File != "enable" || w.Value != "0" {
		t.Errorf("the last write is %+v, want it disabled", w)
	}
}

// TestPWMReadBack: what somebody else did to the channel shows; a file that makes no sense is an error, not a number.
func TestPWMReadBack(t *testing.T) {
	f := tree(t)
	p := open(t, f, 0)
	check(t, p.Set(0.5))
	channel := filepath.Join(f.root, "sys/class/pwm/pwmchip0/pwm0")
	check(t, writeFile(filepath.Join(channel, "enable"), "0\n"))
	if got, err := p.Share(); err != nil || got != 0 {
		t.Errorf("disabled by somebody: %g, %v", got, err)
	}
	check(t, writeFile(filepath.Join(channel, "enable"), "1\n"))
	check(t, writeFile(filepath.Join(channel, "duty_cycle"), "?"))
	_, err := p.Share()
	says(t, err, "fan", "cannot be read")
	check(t, os.Remove(filepath.Join(channel, "duty_cycle")))
	_, err = p.Share()
	says(t, err, "fan", "duty_cycle")
}

// TestRealWrite: without a function of the test's own the files are written, and never created.
func TestRealWrite(t *testing.T) {
	f := tree(t)
	sys := Sysfs{Root: f.root, Wait: f.Sysfs().Wait}
	channel := filepath.Join(f.root, "sys/class/pwm/pwmchip0/pwm0")
	check(t, f.export(channel))
	p, err := OpenPWM(sys, "fan", "fe20c000.pwm", 0, 20e3)
	check(t, err)
	check(t, p.Set(1))
	if got := attribute(channel, "duty_cycle"); got != "50000" {
		t.Errorf("duty %q", got)
	}
	check(t, p.Set(0))
	if got := attribute(channel, "duty_cycle"); got != "0" {
		t.Errorf("a shorter value leaves %q", got)
	}
	check(t, os.Remove(filepath.Join(channel, "duty_cycle")))
	says(t, p.Set(1), "fan", "no such file")
	says(t, p.Close(), "fan may still be on")
	if got := attribute(channel, "enable"); got != "0" {
		t.Errorf("enable %q: not disabled although the duty could not be set", got)
	}
}
