// Package lines claims and watches lines of a gpiochip by the kernel's own interface, version 2, without any library: it
// is the second opinion on what the product does with the same lines.
//
// The numbers of the requests and the shapes of the structures are those of linux/gpio.h.
package lines

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"syscall"
	"time"
	"unsafe"
)

// Flags of a line, as the kernel tells and takes them.
const (
	Used      = 1 << 0
	ActiveLow = 1 << 1
	Input     = 1 << 2
	Output    = 1 << 3
	Rising    = 1 << 4
	Falling   = 1 << 5
	PullUp    = 1 << 8
	PullDown  = 1 << 9
)

type attribute struct {
	id, _ uint32
	value uint64
}

type config struct {
	flags  uint64
	number uint32
	_      [5]uint32
	attrs  [10]struct {
		attribute
		mask uint64
	}
}

type request struct {
	offsets  [64]uint32
	consumer [32]byte
	config   config
	lines    uint32
	buffer   uint32
	_        [5]uint32
	fd       int32
}

type values struct{ bits, mask uint64 }

type event struct {
	stamp               uint64
	id, offset          uint32
	sequence, ofTheLine uint32
	_                   [6]uint32
}

type info struct {
	name, consumer [32]byte
	offset, number uint32
	flags          uint64
	attrs          [10]attribute
	_              [4]uint32
}

type chipInfo struct {
	name, label [32]byte
	lines       uint32
}

// number builds a request number as linux/ioctl.h does: direction, size, the letter of gpiochips, and which.
func number(direction, which, size uintptr) uintptr {
	return direction<<30 | size<<16 | 0xb4<<8 | which
}

func call(fd, number uintptr, argument unsafe.Pointer) error {
	if _, _, errno := syscall.Syscall(syscall.SYS_IOCTL, fd, number, uintptr(argument)); errno != 0 {
		return errno
	}
	return nil
}

// Chip is the path of the gpiochip with a label. Numbers change from one kernel to the next; labels do not.
func Chip(label string) (string, error) {
	paths, _ := filepath.Glob("/dev/gpiochip*")
	for _, path := range paths {
		f, err := os.Open(path)
		if err != nil {
			continue
		}
		var c chipInfo
		err = call(f.Fd(), number(2, 1, unsafe.Sizeof(c)), unsafe.Pointer(&c))
		f.Close()
		if err == nil && text(c.label[:]) == label {
			return path, nil
		}
	}
	return "", fmt.Errorf("no gpiochip is labelled %q among %v", label, paths)
}

func text(b []byte) string {
	head, _, _ := bytes.Cut(b, []byte{0})
	return string(head)
}

// State is what the kernel says of a line.
type State struct {
	Consumer string
	Flags    uint64
}

// Look asks the kernel about one line, whoever holds it.
func Look(chip string, offset int) (State, error) {
	f, err := os.Open(chip)
	if err != nil {
		return State{}, err
	}
	defer f.Close()
	l := info{offset: uint32(offset)}
	if err := call(f.Fd(), number(3, 5, unsafe.Sizeof(l)), unsafe.Pointer(&l)); err != nil {
		return State{}, fmt.Errorf("line %d of %s: %w", offset, chip, err)
	}
	return State{text(l.consumer[:]), l.flags}, nil
}

// Line is one claimed line.
type Line struct{ file *os.File }

// Claim claims a line with the given flags. An output gets its first value in the request itself, so that the wire never
// shows another one; value is logical, true being active.
func Claim(chip string, offset int, flags uint64, value bool) (*Line, error) {
	f, err := os.Open(chip)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	r := request{lines: 1, buffer: 1024}
	r.offsets[0] = uint32(offset)
	copy(r.consumer[:], "rig")
	r.config.flags = flags
	if flags&Output != 0 {
		r.config.number = 1
		r.config.attrs[0].attribute = attribute{id: 2} // the values of outputs
		r.config.attrs[0].mask = 1
		if value {
			r.config.attrs[0].value = 1
		}
	}
	if err := call(f.Fd(), number(3, 7, unsafe.Sizeof(r)), unsafe.Pointer(&r)); err != nil {
		return nil, fmt.Errorf("claiming line %d of %s: %w", offset, chip, err)
	}
	if err := syscall.SetNonblock(int(r.fd), true); err != nil {
		return nil, err
	}
	return &Line{os.NewFile(uintptr(r.fd), "line")}, nil
}

// control runs a request on the line without taking its file out of Go's poller, which the wait for edges needs.
func (l *Line) control(number uintptr, argument unsafe.Pointer) error {
	raw, err := l.file.SyscallConn()
	if err != nil {
		return err
	}
	return errors.Join(raw.Control(func(fd uintptr) { err = call(fd, number, argument) }), err)
}

// Set drives an output; active is logical.
func (l *Line) Set(active bool) error {
	v := values{mask: 1}
	if active {
		v.bits = 1
	}
	return l.control(number(3, 15, unsafe.Sizeof(v)), unsafe.Pointer(&v))
}

// Get reads the logical level.
func (l *Line) Get() (bool, error) {
	v := values{mask: 1}
	err := l.control(number(3, 14, unsafe.Sizeof(v)), unsafe.Pointer(&v))
	return v.bits&1 == 1, err
}

// Edges collects the edges that come until nothing has come for as long as quiet: true for a rising one.
func (l *Line) Edges(quiet time.Duration) ([]bool, error) {
	var edges []bool
	buffer := make([]byte, 64*unsafe.Sizeof(event{}))
	for {
		if err := l.file.SetReadDeadline(time.Now().Add(quiet)); err != nil {
			return edges, err
		}
		n, err := l.file.Read(buffer)
		if errors.Is(err, os.ErrDeadlineExceeded) {
			return edges, nil
		}
		if err != nil {
			return edges, err
		}
		for ; n >= int(unsafe.Sizeof(event{})); n -= int(unsafe.Sizeof(event{})) {
			e := (*event)(unsafe.Pointer(&buffer[0]))
			edges = append(edges, e.id == 1)
			copy(buffer, buffer[unsafe.Sizeof(event{}):])
		}
	}
}

// Close gives the line back.
func (l *Line) Close() error { return l.file.Close() }
