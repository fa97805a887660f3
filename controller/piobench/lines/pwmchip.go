package lines

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"
)

// pwmChip is a chip of the kernel's PWM class, as one look at its files shows it. Nothing here writes.
type pwmChip struct {
	dir    string // sys/class/pwm/pwmchipN
	device string // path of the device behind it, below the root
	about  string // what the device tree says the device is, in lower case
	npwm   int
}

// findPWM finds the one chip whose device path ends with what is asked, by whole elements of the path: an address is
// the device's place on the board and stays, where pwmchipN is the order in which drivers happened to load.
func findPWM(root, device string) (pwmChip, error) {
	wanted := strings.Trim(filepath.ToSlash(device), "/")
	if wanted == "" {
		return pwmChip{}, errors.New(`name the device of the PWM chip, as in "fe20c000.pwm"`)
	}
	class := filepath.Join(root, "sys", "class", "pwm")
	entries, err := os.ReadDir(class)
	// A kernel whose PWM drivers are all unloaded has no class folder: that is no chip, and the overlay mends it.
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return pwmChip{}, err
	}
	var found []pwmChip
	var seen []string
	for _, e := range entries {
		if !strings.HasPrefix(e.Name(), "pwmchip") {
			continue
		}
		c := pwmChip{dir: filepath.Join(class, e.Name())}
		if c.device, err = behind(root, c.dir); err != nil {
			return pwmChip{}, fmt.Errorf("the device behind %s cannot be told: %w", c.dir, err)
		}
		seen = append(seen, fmt.Sprintf("%s at %s", e.Name(), c.device))
		if strings.HasSuffix("/"+c.device, "/"+wanted) {
			found = append(found, c)
		}
	}
	switch {
	case len(found) > 1:
		return pwmChip{}, fmt.Errorf("%d PWM chips have a device path that ends with %q (there are %s): give more of the path",
			len(found), wanted, strings.Join(seen, ", "))
	case len(found) == 0:
		return pwmChip{}, noPWM(wanted, seen)
	}
	return found[0].look()
}

// noPWM says what to do when the chip is missing. Names of the overlay from memory.
func noPWM(wanted string, seen []string) error {
	there := "there is no PWM chip at all"
	if len(seen) > 0 {
		there = "there are " + strings.Join(seen, ", ")
	}
	return fmt.Errorf("no PWM chip has a device path that ends with %q (%s): on a board with the 40-pin header it appears "+
		"only with its overlay; add dtoverlay=pwm-2chan to config.txt and start the board anew", wanted, there)
}

// behind resolves the device link of a chip to a path below the root. The root itself may be reached through links.
func behind(root, dir string) (string, error) {
	real, err := filepath.EvalSymlinks(filepath.Join(dir, "device"))
	if err != nil {
		return "", err
	}
	if root, err = filepath.EvalSymlinks(root); err != nil {
		return "", err
	}
	below, err := filepath.Rel(root, real)
	return filepath.ToSlash(below), err
}

// look reads how many channels the chip has and what its device is. The kernel tells the latter in two places, and not
// every kernel has both.
func (c pwmChip) look() (pwmChip, error) {
	text, err := os.ReadFile(filepath.Join(c.dir, "npwm"))
	if err != nil {
		return c, err
	}
	if c.npwm, err = strconv.Atoi(strings.TrimSpace(string(text))); err != nil {
		return c, fmt.Errorf("%s does not tell how many channels it has: %w", c.dir, err)
	}
	for _, name := range []string{"device/uevent", "device/of_node/compatible"} {
		if text, err := os.ReadFile(filepath.Join(c.dir, name)); err == nil {
			c.about += strings.ToLower(string(text)) + "\n"
		}
	}
	return c, nil
}

// refuse keeps the bench off channels that are not there and off the computer's own cooling. The kernel refuses a channel
// that its fan driver holds; this is for when that driver is not loaded. The second rule is from memory: on boards with
// the rp1 chip, channel 3 of one of its two PWM devices turns the fan. The other device's channel 3 is refused with it.
func (c pwmChip) refuse(channel int) error {
	if channel < 0 || channel >= c.npwm {
		return fmt.Errorf("%s has the channels 0 to %d, not %d", c.device, c.npwm-1, channel)
	}
	if strings.Contains(strings.ToLower(c.device), "fan") || strings.Contains(c.about, "fan") {
		return fmt.Errorf("%s belongs to a cooling fan: name the PWM chip of the header's pins", c.device)
	}
	if strings.Contains(c.about, "rp1") && channel == 3 {
		return fmt.Errorf("channel 3 of %s may be the computer's own cooling fan: take another channel", c.device)
	}
	return nil
}
