// Busmodel gives the guest's kernel a real I²C adapter, behind which stand models of the bench's chips: it is the device's
// side of a USB adapter and hands it to the kernel as if it came over the network (USB/IP, module vhci-hcd). The
// kernel's own drivers and the product then see a bus like any other.
//
// As a step of the guest it starts itself again in the background and ends when the adapter is there. What the chips feel
// and what is wrong with them is told by lines over the socket of package bus; each is answered by one line. What the PWM
// chip drives is told to the host as wires "pwm0" to "pwm15".
package main

import (
	"bufio"
	"fmt"
	"net"
	"os"
	"os/exec"
	"syscall"
	"time"

	"hil/bus"
	"hil/console"
	"hil/i2c"
)

func main() {
	run := launch
	if len(os.Args) > 1 {
		run = stay
	}
	if err := run(); err != nil {
		fmt.Println("busmodel:", err)
		os.Exit(1)
	}
}

// launch starts the model and waits for the adapter.
func launch() error {
	c := exec.Command("/proc/self/exe", "stay")
	c.Stdout, c.Stderr = os.Stdout, os.Stderr
	if err := c.Start(); err != nil {
		return err
	}
	for range 400 { // an ARMv6 guest needs some seconds to take up the device
		if i2c.Find("tiny-usb") != "" {
			if _, err := os.Stat(bus.Socket); err == nil {
				return nil
			}
		}
		time.Sleep(50 * time.Millisecond)
	}
	return fmt.Errorf("the kernel made no adapter")
}

// stay is the model itself.
func stay() error {
	begin := time.Now()
	w := newWorld(func() time.Duration { return time.Since(begin) }, func(channel, level int) {
		fmt.Printf("\n%spwm%d %d\n", console.Wire, channel, level)
	})
	pair, err := syscall.Socketpair(syscall.AF_UNIX, syscall.SOCK_STREAM, 0)
	if err != nil {
		return err
	}
	l, err := net.Listen("unix", bus.Socket)
	if err != nil {
		return err
	}
	go listen(l, w)
	// Port 0, our end of the pair, a device number that means nothing here, and the speed: full.
	attach := fmt.Sprintf("0 %d 65538 2", pair[0])
	if err := os.WriteFile("/sys/devices/platform/vhci_hcd.0/attach", []byte(attach), 0); err != nil {
		return err
	}
	return (&bridge{world: w}).serve(os.NewFile(uintptr(pair[1]), "usb"))
}

func listen(l net.Listener, w *world) {
	for {
		c, err := l.Accept()
		if err != nil {
			return
		}
		go obey(c, w)
	}
}

func obey(c net.Conn, w *world) {
	defer c.Close()
	lines := bufio.NewScanner(c)
	for lines.Scan() {
		answer, err := w.order(lines.Text())
		if err != nil {
			answer = "no " + err.Error()
		} else {
			answer = "ok " + answer
		}
		if _, err := fmt.Fprintln(c, answer); err != nil {
			return
		}
	}
}
