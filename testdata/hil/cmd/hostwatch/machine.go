package main

import (
	"fmt"
	"strings"
)

// machine is one kind of guest: how QEMU is started for it, and where its lines can be seen and moved from outside.
type machine struct {
	qemu    string // name of QEMU's program
	options string // beyond those that all guests have
	append  string // the kernel's command line
	device  string // QEMU's name for the kind of device that has the lines
	// inputs tells how an input is moved: "wire" moves the wire itself. "register" sets the level's register, for a device
	// model without input wires: the kernel then reads the level, and there are no edges.
	inputs string
	base   uint64 // address of the device's registers
	// timer is the address of a system timer whose alarms the guest lives by; 0 where it does not. See keepAwake.
	timer uint64
}

var machines = map[string]machine{
	// One thread for all of the guest's cores, because idle cores that spin take the time of the working one.
	"virt": {
		qemu: "qemu-system-aarch64", options: "-M virt -cpu cortex-a53 -smp 1 -m 512 -serial stdio",
		append: "console=ttyAMA0 quiet", device: "pl061", inputs: "wire", base: 0x09030000,
	},
	// The console is the second UART: the first belongs to the radio in this board's device tree.
	"raspi3b": {
		qemu: "qemu-system-aarch64", options: "-M raspi3b -serial null -serial stdio",
		append: "console=ttyS1,115200 quiet maxcpus=1", device: "bcm2835_gpio", inputs: "register", base: 0x3f200000,
	},
	// QEMU lacks a part that the driver of the power domains needs; the kernel would stop there.
	"raspi0": {
		qemu: "qemu-system-arm", options: "-M raspi0 -serial stdio",
		append: "console=ttyAMA0,115200 quiet initcall_blacklist=bcm2835_power_driver_init", device: "bcm2835_gpio",
		inputs: "register", base: 0x20200000, timer: 0x20003000,
	},
}

// arguments is QEMU's command line.
func (m machine) arguments(f files, sockets string) []string {
	args := []string{"-L", f.data, "-nographic", "-monitor", "none", "-no-reboot", "-nic", "none", "-S",
		"-accel", "tcg,thread=single", "-kernel", f.kernel, "-initrd", f.image, "-append", m.append,
		"-qmp", "unix:" + sockets + "/monitor,server=on,wait=off",
		"-qtest", "unix:" + sockets + "/wires,server=on,wait=off", "-qtest-log", "/dev/null"}
	if f.tree != "" {
		args = append(args, "-dtb", f.tree)
	}
	return append(args, strings.Fields(m.options)...)
}

// move is the command that moves an input from outside.
func (m machine) move(path string, line int, high bool) string {
	level := 0
	if high {
		level = 1
	}
	if m.inputs == "wire" {
		return fmt.Sprintf("set_irq_in %s unnamed-gpio-in %d %d", path, line, level)
	}
	// Registers of the BCM2835: 0x1c sets, 0x28 clears (peripherals manual, chapter 6).
	register := uint64(0x28)
	if high {
		register = 0x1c
	}
	return fmt.Sprintf("writel 0x%x 0x%x", m.base+register, 1<<line)
}

// direction and level are the registers that tell whether a line is an output, and how it stands, with the bit to look at.
func (m machine) direction(line int) (address uint64, shift, mask uint) {
	if m.device == "pl061" {
		return m.base + 0x400, uint(line), 1
	}
	return m.base + uint64(line/10)*4, uint(line%10) * 3, 7 // three bits a line: 0 input, 1 output
}

func (m machine) level(line int) (address uint64, shift uint) {
	if m.device == "pl061" {
		return m.base + 0x3fc, uint(line)
	}
	return m.base + 0x34, uint(line)
}
