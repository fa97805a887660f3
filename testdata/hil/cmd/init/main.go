// Init is the first process of the guest. It mounts what Linux needs, loads the modules of the image in their order, runs
// the steps of the image in their order, tells the host how that went, and switches the guest off.
//
//	/modules/NN-NAME.ko   loaded one after the other; one that does not load counts as a failed step
//	/steps/NN-NAME        programs, run one after the other with the console as their standard streams
//	/settings             lines of KEY=VALUE for the steps' environment
package main

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"time"
	"unsafe"

	"hil/console"
)

func main() {
	if os.Getpid() != 1 {
		fmt.Fprintln(os.Stderr, "init: this is for the first process of a guest only")
		os.Exit(2)
	}
	mount()
	takeConsole()
	loopback()
	version, _ := os.ReadFile("/proc/version")
	fmt.Printf("guest: up after %s s, %s", uptime(), version)
	failed := loadModules()
	steps, _ := filepath.Glob("/steps/*") // sorted by name
	for _, step := range steps {
		if err := run(step); err != nil {
			failed++
			fmt.Printf("guest: %s: %v\n", step, err)
		}
	}
	fmt.Printf("\n%sfailed=%d steps=%d\n", console.End, failed, len(steps))
	time.Sleep(2 * time.Second) // the host ends QEMU here; the rest is for when it does not
	syscall.Reboot(syscall.LINUX_REBOOT_CMD_POWER_OFF)
	select {}
}

func mount() {
	for _, m := range []struct{ kind, at string }{
		{"proc", "/proc"}, {"sysfs", "/sys"}, {"devtmpfs", "/dev"}, {"debugfs", "/sys/kernel/debug"}, {"tmpfs", "/run"},
	} {
		if err := syscall.Mount(m.kind, m.at, m.kind, 0, ""); err != nil {
			fmt.Printf("guest: mounting %s: %v\n", m.at, err)
		}
	}
}

// takeConsole ties the standard streams to the console of the mounted /dev, raw: an echo would look like answers.
func takeConsole() {
	f, err := os.OpenFile("/dev/console", os.O_RDWR, 0)
	if err != nil {
		return
	}
	for fd := range 3 {
		syscall.Dup3(int(f.Fd()), fd, 0)
	}
	var t syscall.Termios
	if _, _, errno := syscall.Syscall(syscall.SYS_IOCTL, 0, syscall.TCGETS, uintptr(unsafe.Pointer(&t))); errno != 0 {
		return
	}
	t.Lflag &^= syscall.ECHO | syscall.ECHONL
	t.Iflag &^= syscall.ICRNL | syscall.IXON
	syscall.Syscall(syscall.SYS_IOCTL, 0, syscall.TCSETS, uintptr(unsafe.Pointer(&t)))
}

// loopback brings up 127.0.0.1, for programs that serve or ask a page.
func loopback() {
	fd, err := syscall.Socket(syscall.AF_INET, syscall.SOCK_DGRAM, 0)
	if err != nil {
		return
	}
	defer syscall.Close(fd)
	var request [40]byte
	copy(request[:], "lo")
	request[16] = syscall.IFF_UP | syscall.IFF_RUNNING
	syscall.Syscall(syscall.SYS_IOCTL, uintptr(fd), syscall.SIOCSIFFLAGS, uintptr(unsafe.Pointer(&request)))
}

// loadModules returns how many would not load.
func loadModules() (failed int) {
	modules, _ := filepath.Glob("/modules/*.ko")
	for _, module := range modules {
		f, err := os.Open(module)
		if err == nil {
			var none byte
			_, _, errno := syscall.Syscall(finitModule, f.Fd(), uintptr(unsafe.Pointer(&none)), 0)
			if f.Close(); errno != 0 {
				err = errno
			}
		}
		if err != nil {
			failed++
			fmt.Printf("guest: %s: %v\n", module, err)
		}
	}
	return failed
}

func run(step string) error {
	c := exec.Command(step)
	c.Stdin, c.Stdout, c.Stderr = os.Stdin, os.Stdout, os.Stderr
	settings, _ := os.ReadFile("/settings")
	c.Env = append([]string{"HOME=/run", "TMPDIR=/run", "PATH=/"}, strings.Fields(string(settings))...)
	err := c.Run()
	fmt.Printf("guest: %s ended after %s s\n", filepath.Base(step), uptime())
	return err
}

func uptime() string {
	b, _ := os.ReadFile("/proc/uptime")
	first, _, _ := strings.Cut(string(b), " ")
	return first
}
