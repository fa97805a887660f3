// Package i2c reaches a bus by the kernel's own interface, without any library: whole transactions of one or two
// messages. The numbers are those of linux/i2c-dev.h.
package i2c

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"unsafe"
)

// Bus is one opened adapter.
type Bus struct {
	file *os.File
	Path string // below /dev
}

// Find is the path of the adapter whose name contains the text, or "".
func Find(text string) string {
	names, _ := filepath.Glob("/sys/class/i2c-adapter/i2c-*/name")
	for _, name := range names {
		path := "/dev/" + filepath.Base(filepath.Dir(name))
		if b, _ := os.ReadFile(name); strings.Contains(string(b), text) {
			if _, err := os.Stat(path); err == nil {
				return path
			}
		}
	}
	return ""
}

// Open opens the adapter at a path.
func Open(path string) (*Bus, error) {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return nil, err
	}
	return &Bus{f, path}, nil
}

type message struct {
	address, flags, length uint16
	data                   *byte
}

type transaction struct {
	messages *message
	number   uint32
}

// Tx writes and then reads in one transaction, joined by a repeated start; either part may be empty.
func (b *Bus) Tx(address uint16, write []byte, read int) ([]byte, error) {
	var messages []message
	if len(write) > 0 {
		messages = append(messages, message{address, 0, uint16(len(write)), &write[0]})
	}
	answer := make([]byte, read)
	if read > 0 {
		messages = append(messages, message{address, 1, uint16(read), &answer[0]})
	}
	if len(messages) == 0 {
		return nil, fmt.Errorf("nothing to send to 0x%02x", address)
	}
	t := transaction{&messages[0], uint32(len(messages))}
	if _, _, errno := syscall.Syscall(syscall.SYS_IOCTL, b.file.Fd(), 0x0707, uintptr(unsafe.Pointer(&t))); errno != 0 {
		return nil, errno
	}
	return answer, nil
}

// Attach gives an address to a driver of the kernel, as in "sht3x"; Detach takes it away again.
func (b *Bus) Attach(driver string, address uint16) error {
	return b.write("new_device", fmt.Sprintf("%s 0x%02x", driver, address))
}

// Detach takes an address from the kernel's driver.
func (b *Bus) Detach(address uint16) error {
	return b.write("delete_device", fmt.Sprintf("0x%02x", address))
}

func (b *Bus) write(file, text string) error {
	return os.WriteFile(filepath.Join("/sys/bus/i2c/devices", filepath.Base(b.Path), file), []byte(text), 0)
}
