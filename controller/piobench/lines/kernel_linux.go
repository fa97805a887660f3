package lines

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"
	"unsafe"

	"golang.org/x/sys/unix"
)

// System returns the running kernel, with its device nodes under root/dev: root is "/" on a real system. It needs
// Linux 5.10 or newer (the second version of the interface; from memory).
func System(root string) Kernel { return system{root} }

// system makes the requests of linux/gpio.h. The structures and numbers are those of golang.org/x/sys/unix; a test holds
// them against the header.
type system struct{ root string }

// Nodes lists the entries of the device folder whose name begins with gpiochip, links as well: some distributions keep
// the old numbers alive by them.
func (s system) Nodes() ([]string, error) {
	dir := filepath.Join(s.root, "dev")
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil, err
	}
	var nodes []string
	for _, e := range entries {
		if strings.HasPrefix(e.Name(), "gpiochip") {
			nodes = append(nodes, filepath.Join(dir, e.Name()))
		}
	}
	return nodes, nil
}

// Now reads CLOCK_MONOTONIC.
func (s system) Now() time.Duration {
	var t unix.Timespec
	if unix.ClockGettime(unix.CLOCK_MONOTONIC, &t) != nil {
		return 0 // cannot happen: the clock is there in every kernel that has the chips
	}
	return time.Duration(t.Nano())
}

// Open opens a node for reading, which is all that the requests need.
func (s system) Open(node string) (Device, error) {
	f, err := os.Open(node)
	if err != nil {
		return nil, err
	}
	return device{f}, nil
}

// device is an open node.
type device struct{ file *os.File }

// Close closes the node. The descriptors of claimed lines are their own.
func (d device) Close() error { return d.file.Close() }

// Info is GPIO_GET_CHIPINFO.
func (d device) Info() (ChipInfo, error) {
	var raw unix.GPIOChipInfo
	if err := ioctl(d.file, unix.GPIO_GET_CHIPINFO_IOCTL, unsafe.Pointer(&raw)); err != nil {
		return ChipInfo{}, err
	}
	return ChipInfo{Name: text(raw.Name[:]), Label: text(raw.Label[:]), Lines: int(raw.Lines)}, nil
}

// Line is GPIO_V2_GET_LINEINFO: a question, also about lines that others hold.
func (d device) Line(offset int) (LineInfo, error) {
	raw := unix.GPIOV2LineInfo{Offset: uint32(offset)}
	if err := ioctl(d.file, unix.GPIO_V2_GET_LINEINFO_IOCTL, unsafe.Pointer(&raw)); err != nil {
		return LineInfo{}, err
	}
	return LineInfo{Offset: offset, Name: text(raw.Name[:]), Consumer: text(raw.Consumer[:]), Flags: Flags(raw.Flags)}, nil
}

// Request is GPIO_V2_GET_LINE. The kernel claims, sets the direction and sets the value in this one call.
func (d device) Request(r Request) (Held, error) {
	raw := encode(r)
	if err := ioctl(d.file, unix.GPIO_V2_GET_LINE_IOCTL, unsafe.Pointer(&raw)); err != nil {
		return nil, err
	}
	return hold(int(raw.Fd))
}

// encode lays a request out for the kernel. An output always carries its first value as an attribute. The kernel would
// take inactive without it as well, but then only a reader who knows that could tell what the claim does.
func encode(r Request) unix.GPIOV2LineRequest {
	raw := unix.GPIOV2LineRequest{Num_lines: 1, Event_buffer_size: uint32(r.Buffer)}
	raw.Offsets[0] = uint32(r.Offset)
	copy(raw.Consumer[:len(raw.Consumer)-1], r.Consumer)
	raw.Config.Flags = uint64(r.Flags)
	if r.Flags&FlagOutput == 0 {
		return raw
	}
	raw.Config.Num_attrs = 1
	first := &raw.Config.Attrs[0]
	first.Attr.Id, first.Mask = unix.GPIO_V2_LINE_ATTR_ID_OUTPUT_VALUES, 1
	if r.Active {
		first.Attr.Flags = 1 // a union: here it is the values
	}
	return raw
}

// hold wraps the descriptor of a claimed line so that Close ends a waiting read, and so that a child process does not
// inherit the claim.
func hold(fd int) (Held, error) {
	unix.CloseOnExec(fd)
	if err := unix.SetNonblock(fd, true); err != nil {
		return nil, errors.Join(err, unix.Close(fd))
	}
	return &line{file: os.NewFile(uintptr(fd), "gpio line")}, nil
}

// line is the descriptor of a claimed line.
type line struct{ file *os.File }

// Close releases the line. What its level does then depends on chip and kernel.
func (l *line) Close() error { return l.file.Close() }

// Value is GPIO_V2_LINE_GET_VALUES on the held request. The kernel reads the pin; direction, pull and polarity stay
// (read in its source, and it says there that outputs may be read so).
func (l *line) Value() (bool, error) {
	raw := unix.GPIOV2LineValues{Mask: 1}
	err := ioctl(l.file, unix.GPIO_V2_LINE_GET_VALUES_IOCTL, unsafe.Pointer(&raw))
	return raw.Bits&1 != 0, err
}

// SetValue is GPIO_V2_LINE_SET_VALUES.
func (l *line) SetValue(active bool) error {
	raw := unix.GPIOV2LineValues{Mask: 1}
	if active {
		raw.Bits = 1
	}
	return ioctl(l.file, unix.GPIO_V2_LINE_SET_VALUES_IOCTL, unsafe.Pointer(&raw))
}

// Edges reads what the kernel has, or waits. The end of the context moves the read's deadline into the past; it is taken
// back before the next read, and only after that move is surely over.
func (l *line) Edges(ctx context.Context, buf []Edge) (int, error) {
	moved := make(chan struct{})
	stop := context.AfterFunc(ctx, func() {
		defer close(moved)
		_ = l.file.SetReadDeadline(time.Unix(1, 0)) // fails only when the line is closed, which ends the read as well
	})
	defer func() {
		if !stop() {
			<-moved
			_ = l.file.SetReadDeadline(time.Time{})
		}
	}()
	// The kernel hands over whole events only, as many as there are and fit.
	const size = int(unsafe.Sizeof(unix.GPIOV2LineEvent{}))
	raw := make([]unix.GPIOV2LineEvent, len(buf))
	n, err := l.file.Read(unsafe.Slice((*byte)(unsafe.Pointer(unsafe.SliceData(raw))), len(raw)*size))
	if errors.Is(err, os.ErrDeadlineExceeded) && ctx.Err() != nil {
		return 0, ctx.Err()
	}
	for i := range n / size {
		buf[i] = Edge{At: time.Duration(raw[i].Timestamp_ns), Seq: raw[i].Line_seqno,
			Rising: raw[i].Id == unix.GPIO_V2_LINE_EVENT_RISING_EDGE}
	}
	return n / size, err
}

// ioctl goes through the file and not its bare number, so that a file closed meanwhile is an error and never somebody
// else's descriptor. A signal may interrupt the call before it has begun: then it is made again.
func ioctl(f *os.File, request uintptr, arg unsafe.Pointer) error {
	conn, err := f.SyscallConn()
	if err != nil {
		return err
	}
	failed := unix.EINTR
	err = conn.Control(func(fd uintptr) {
		for failed == unix.EINTR {
			_, _, failed = unix.Syscall(unix.SYS_IOCTL, fd, request, uintptr(arg))
		}
	})
	if err != nil { // the only reason: poll's own word for a closed file, which os.ErrClosed does not match
		return fmt.Errorf("%w: %w", os.ErrClosed, err)
	}
	if failed != 0 {
		return failed
	}
	return nil
}

// text cuts a name at its first zero byte.
func text(b []byte) string {
	b, _, _ = bytes.Cut(b, []byte{0})
	return string(b)
}
