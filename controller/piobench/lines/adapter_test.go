package lines

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"syscall"
	"testing"
)

func TestAdapter(t *testing.T) {
	f := NewFakeSysfs(t.TempDir())
	check(t, f.AddAdapter(0, "bcm2835 (i2c@7e205000)"))
	check(t, f.AddAdapter(1, "bcm2835 (i2c@7e804000)"))
	check(t, f.AddAdapter(11, "i2c-tiny-usb at bus 001 device 002"))
	for name, want := range map[string]int{"bcm2835 (i2c@7e804000)": 1, " bcm2835 (i2c@7e205000)\n": 0,
		"i2c-tiny-usb at bus 001 device 002": 11} {
		if got, err := Adapter(f.root, name); err != nil || got != want {
			t.Errorf("%q is %d, %v, want %d", name, got, err, want)
		}
	}
	_, err := Adapter(f.root, "bcm2835")
	says(t, err, `"bcm2835"`, `i2c-0 "bcm2835 (i2c@7e205000)"`, `i2c-11 "i2c-tiny-usb`, "dtparam=i2c_arm=on")
	check(t, f.AddAdapter(12, "bcm2835 (i2c@7e804000)"))
	_, err = Adapter(f.root, "bcm2835 (i2c@7e804000)")
	says(t, err, "2 I2C adapters", "i2c-1 ", "i2c-12 ")
	_, err = Adapter(t.TempDir(), "bcm2835 (i2c@7e804000)")
	says(t, err, "none at all", "switched off in the firmware")
}

// TestAdapterOnNewKernels: without the class of adapters the bus has them; devices on a bus are none.
func TestAdapterOnNewKernels(t *testing.T) {
	root := t.TempDir()
	bus := filepath.Join(root, "sys/bus/i2c/devices")
	check(t, plant(map[string]string{filepath.Join(bus, "i2c-3/name"): "ours\n", filepath.Join(bus, "3-0044/name"): "ours\n",
		filepath.Join(bus, "i2c-x/name"): "ours\n", filepath.Join(root, "dev/i2c-3"): ""}))
	check(t, os.Mkdir(filepath.Join(bus, "i2c-4"), 0o755)) // without a name
	if got, err := Adapter(root, "ours"); err != nil || got != 3 {
		t.Errorf("%d, %v", got, err)
	}
}

// TestAdapterNode: the device node is missing without its module, and closed to who is not in its group.
func TestAdapterNode(t *testing.T) {
	f := NewFakeSysfs(t.TempDir())
	check(t, f.AddAdapter(1, "ours"))
	denied := func(path string) error { return &fs.PathError{Op: "open", Path: path, Err: syscall.EACCES} }
	_, err := adapter(f.root, "ours", denied)
	says(t, err, "/dev/i2c-1", "group i2c", "usermod -aG i2c")
	if !errors.Is(err, fs.ErrPermission) {
		t.Errorf("%v is not fs.ErrPermission", err)
	}
	check(t, os.Remove(filepath.Join(f.root, "dev/i2c-1")))
	_, err = Adapter(f.root, "ours")
	says(t, err, `"ours" is there`, "/dev/i2c-1 is not", "modprobe i2c-dev")
}
