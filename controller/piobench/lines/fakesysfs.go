package lines

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"time"
)

// FakeSysfs is a tree of files for tests that answers writes to PWM channels by the kernel's rules, and works out what
// the pin does after each. Reading goes to the files themselves. Only what is written through Sysfs is seen.
type FakeSysfs struct {
	root    string
	mu      sync.Mutex
	kernel  map[string]bool // channels that a kernel driver holds
	waited  time.Duration
	waves   []Wave
	failing error
}

// Wave is what a write did to a PWM channel.
type Wave struct {
	Channel     string  // "DEVICE CHANNEL"
	File, Value string  // what was written
	High        float64 // share of time for which the pin is high after it; a disabled channel is low
}

// NewFakeSysfs begins an empty tree in a folder.
func NewFakeSysfs(root string) *FakeSysfs { return &FakeSysfs{root: root, kernel: map[string]bool{}} }

// Sysfs returns the tree for OpenPWM. Waiting only adds up.
func (f *FakeSysfs) Sysfs() Sysfs {
	return Sysfs{Root: f.root, Write: f.write, Wait: func(d time.Duration) {
		f.mu.Lock()
		defer f.mu.Unlock()
		f.waited += d
	}}
}

// AddPWM adds pwmchipN with a device path below the root ("sys/devices/platform/soc/fe20c000.pwm"), what the device tree
// calls it, and the channels that the kernel itself holds.
func (f *FakeSysfs) AddPWM(number int, device, compatible string, channels int, held ...int) error {
	chip := filepath.Join(f.root, "sys", "class", "pwm", fmt.Sprintf("pwmchip%d", number))
	device = filepath.Join(f.root, filepath.FromSlash(device))
	for _, c := range held {
		f.kernel[filepath.Join(chip, fmt.Sprintf("pwm%d", c))] = true
	}
	files := map[string]string{filepath.Join(chip, "npwm"): strconv.Itoa(channels), filepath.Join(chip, "export"): "",
		filepath.Join(device, "uevent"): "OF_COMPATIBLE_0=" + compatible}
	if err := plant(files); err != nil {
		return err
	}
	return os.Symlink(device, filepath.Join(chip, "device"))
}

// AddAdapter adds the I2C adapter i2c-N with its device node.
func (f *FakeSysfs) AddAdapter(bus int, name string) error {
	return plant(map[string]string{
		filepath.Join(f.root, "sys", "class", "i2c-adapter", fmt.Sprintf("i2c-%d", bus), "name"): name + "\n",
		filepath.Join(f.root, "dev", fmt.Sprintf("i2c-%d", bus)):                                 ""})
}

// Waves returns what every write so far did, those of export and unwelcome ones left out.
func (f *FakeSysfs) Waves() []Wave {
	f.mu.Lock()
	defer f.mu.Unlock()
	return slices.Clone(f.waves)
}

// Fail makes every later write fail; nil ends that.
func (f *FakeSysfs) Fail(err error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.failing = err
}

// write is the kernel's part of writing an attribute.
func (f *FakeSysfs) write(path, value string) error {
	f.mu.Lock()
	defer f.mu.Unlock()
	dir, file := filepath.Split(path)
	dir = filepath.Clean(dir)
	if f.failing != nil {
		return f.failing
	}
	if file == "export" {
		return f.export(filepath.Join(dir, "pwm"+value))
	}
	if !allowed(dir, file, value) {
		return syscall.EINVAL
	}
	if err := writeFile(path, value); err != nil {
		return err
	}
	// Told by the device and not by pwmchipN, so that a test that mixes up the numbers is caught.
	device, err := filepath.EvalSymlinks(filepath.Join(filepath.Dir(dir), "device"))
	f.waves = append(f.waves, Wave{File: file, Value: value, High: high(dir),
		Channel: fmt.Sprintf("%s %s", filepath.Base(device), strings.TrimPrefix(filepath.Base(dir), "pwm"))})
	return err
}

// export makes a fresh channel, unless a kernel driver holds it.
func (f *FakeSysfs) export(channel string) error {
	if _, err := os.Stat(channel); err == nil || f.kernel[channel] {
		return syscall.EBUSY
	}
	return plant(map[string]string{filepath.Join(channel, "period"): "0\n", filepath.Join(channel, "duty_cycle"): "0\n",
		filepath.Join(channel, "enable"): "0\n", filepath.Join(channel, "polarity"): "normal\n"})
}

// allowed tells whether the kernel takes a value: the period must not be 0 nor shorter than the duty, whatever is
// written, and polarity changes only while disabled.
func allowed(dir, file, value string) bool {
	now := map[string]string{"period": attribute(dir, "period"), "duty_cycle": attribute(dir, "duty_cycle"), file: value}
	period, badPeriod := strconv.ParseInt(now["period"], 10, 64)
	duty, badDuty := strconv.ParseInt(now["duty_cycle"], 10, 64)
	if badPeriod != nil || badDuty != nil || period <= 0 || duty < 0 || duty > period {
		return false
	}
	return file != "polarity" || attribute(dir, "enable") == "0"
}

// high works out the share of time for which the pin is high.
func high(dir string) float64 {
	if attribute(dir, "enable") == "0" {
		return 0
	}
	period, _ := strconv.ParseFloat(attribute(dir, "period"), 64) // allowed has looked at both
	duty, _ := strconv.ParseFloat(attribute(dir, "duty_cycle"), 64)
	if attribute(dir, "polarity") == "inversed" {
		return 1 - duty/period
	}
	return duty / period
}

// attribute reads a value of a channel as the kernel has it.
func attribute(dir, name string) string {
	text, _ := os.ReadFile(filepath.Join(dir, name)) // missing is empty, which no rule allows
	return strings.TrimSpace(string(text))
}

// plant writes files with their folders.
func plant(files map[string]string) error {
	for path, text := range files {
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			return err
		}
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			return err
		}
	}
	return nil
}
