package piobench

import (
	"fmt"
	"time"

	"periph.io/x/conn/v3/i2c"

	"fullery/controller/piobench/lines"
)

// World is how a bench reaches the machine that it runs on. Tests give it a kernel, files, buses and time of their own.
type World struct {
	Kernel lines.Kernel
	Sysfs  lines.Sysfs
	Bus    func(number int) (i2c.BusCloser, error) // opens the bus with the kernel's number
	Sleep  func(time.Duration)
	// Capture, if not nil, is shown every transfer on every bus, from the goroutine of that bus.
	Capture func(Transfer)
}

// Transfer is one transfer on a bus: what was written, what was read, and what went wrong.
type Transfer struct {
	At            time.Duration // monotonic
	Took          time.Duration
	Bus           string // as the bench file calls it
	Address       uint16
	Written, Read []byte
	Err           error
}

// System returns the world of the machine under root, which is "/" for the real one.
func System(root string) World {
	return World{
		Kernel: lines.System(root),
		Sysfs:  lines.Sysfs{Root: root, Wait: time.Sleep},
		Bus:    openBus,
		Sleep:  time.Sleep,
	}
}

// bus is an open bus that shows its transfers to whoever captures them.
type bus struct {
	i2c.BusCloser
	name  string
	world *World
}

// Tx makes one transfer.
func (b bus) Tx(address uint16, w, r []byte) error {
	if b.world.Capture == nil {
		return b.BusCloser.Tx(address, w, r)
	}
	at := b.world.Kernel.Now()
	err := b.BusCloser.Tx(address, w, r)
	b.world.Capture(Transfer{At: at, Took: b.world.Kernel.Now() - at, Bus: b.name, Address: address,
		Written: append([]byte(nil), w...), Read: append([]byte(nil), r...), Err: err})
	return err
}

// open finds a bus of the bench file by its adapter's name and opens it.
func (w *World) open(name, adapter string) (bus, error) {
	number, err := lines.Adapter(w.Sysfs.Root, adapter)
	if err != nil {
		return bus{}, fmt.Errorf("bus %s: %w", name, err)
	}
	b, err := w.Bus(number)
	if err != nil {
		return bus{}, fmt.Errorf("bus %s: /dev/i2c-%d cannot be opened: %w%s", name, number, err, mend(err, number))
	}
	return bus{b, name, w}, nil
}
