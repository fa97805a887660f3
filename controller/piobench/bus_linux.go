package piobench

import (
	"errors"
	"fmt"
	"io/fs"
	"os"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/host/v3/sysfs"
)

// openBus opens a bus through the hardware library's own driver of /dev/i2c-N. Its host.Init is not called: it would look
// at every device there is, and with a link among the GPIO chips it closes the standard input (seen).
func openBus(number int) (i2c.BusCloser, error) {
	// The library turns errors into text: whether the device may be opened at all is asked first.
	f, err := os.OpenFile(fmt.Sprintf("/dev/i2c-%d", number), os.O_RDWR, 0)
	if err != nil {
		return nil, err
	}
	if err := f.Close(); err != nil {
		return nil, err
	}
	b, err := sysfs.NewI2C(number)
	if err != nil {
		return nil, err
	}
	return b, nil
}

// mend says how to mend a device that may not be opened, or is not there.
func mend(err error, number int) string {
	switch {
	case errors.Is(err, fs.ErrPermission):
		return fmt.Sprintf("; add the user to the group that owns /dev/i2c-%d, usually i2c, and log in again", number)
	case errors.Is(err, fs.ErrNotExist):
		return "; load the kernel's module i2c-dev"
	}
	return ""
}
