package lines

import (
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
)

// Adapter returns the number N of the I2C bus /dev/i2c-N whose adapter has a name, as in
// /sys/class/i2c-adapter/i2c-N/name. Bus numbers change with overlays and kernels, names do not. The root is the folder
// that holds sys and dev: "/" on a real system. It also opens the device node, to say beforehand what a driver would only
// stumble over, and closes it again; nothing is sent.
func Adapter(root, name string) (bus int, err error) { return adapter(root, name, openNode) }

// adapter is Adapter with the opening of the node as an argument, because a test may run as somebody who may open all.
func adapter(root, name string, open func(string) error) (int, error) {
	names, err := adapters(root)
	if err != nil {
		return 0, err
	}
	var found []int
	var seen []string
	for _, bus := range slices.Sorted(maps.Keys(names)) {
		seen = append(seen, fmt.Sprintf("i2c-%d %q", bus, names[bus]))
		if names[bus] == strings.TrimSpace(name) {
			found = append(found, bus)
		}
	}
	switch {
	case len(found) > 1:
		return 0, fmt.Errorf("%d I2C adapters are named %q (there are %s): it cannot be told which is meant",
			len(found), name, strings.Join(seen, ", "))
	case len(found) == 0:
		return 0, noAdapter(name, seen)
	}
	// The adapter is the kernel's, the node is the i2c-dev module's: one can be there without the other.
	node := filepath.Join(root, "dev", fmt.Sprintf("i2c-%d", found[0]))
	switch err := open(node); {
	case errors.Is(err, fs.ErrNotExist):
		return 0, fmt.Errorf("the I2C adapter %q is there but %s is not: load the module i2c-dev (sudo modprobe i2c-dev, "+
			"and a line i2c-dev in /etc/modules for the next start): %w", name, node, err)
	case err != nil:
		return 0, fmt.Errorf("%s, the I2C bus of %q, cannot be opened: %w%s", node, name, err, group(err, "i2c"))
	}
	return found[0], nil
}

// adapters reads the names of all adapters by bus number. The class of adapters is a courtesy to old programs that newer
// kernels leave out (from memory); the bus has them as well.
func adapters(root string) (map[int]string, error) {
	names := map[int]string{}
	for _, dir := range []string{"sys/class/i2c-adapter", "sys/bus/i2c/devices"} {
		dir = filepath.Join(root, filepath.FromSlash(dir))
		entries, err := os.ReadDir(dir)
		if err != nil && !errors.Is(err, fs.ErrNotExist) {
			return nil, err
		}
		for _, e := range entries {
			digits, ok := strings.CutPrefix(e.Name(), "i2c-")
			bus, err := strconv.Atoi(digits)
			if !ok || err != nil {
				continue // a device on a bus, not an adapter
			}
			if text, err := os.ReadFile(filepath.Join(dir, e.Name(), "name")); err == nil {
				names[bus] = strings.TrimSpace(string(text))
			}
		}
	}
	return names, nil
}

// noAdapter says what to do when the adapter is missing. Name of the setting from memory.
func noAdapter(name string, seen []string) error {
	there := "there is none at all"
	if len(seen) > 0 {
		there = "there are " + strings.Join(seen, ", ")
	}
	return fmt.Errorf("no I2C adapter is named %q (%s): I2C may be switched off in the firmware's settings "+
		"(on a board with the 40-pin header add dtparam=i2c_arm=on to config.txt and start the board anew), "+
		"or the driver of a plugged-in adapter is not loaded", name, there)
}

// openNode opens a node as a bus driver would, for reading and writing, and closes it.
func openNode(path string) error {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	return f.Close()
}
