package lines

import (
	"context"
	"encoding/binary"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"
	"unsafe"

	"golang.org/x/sys/unix"
)

// The layouts are checked while compiling, so that vetting for another processor checks them there. Sizes and offsets
// as a C compiler gives them for linux/gpio.h (ABI v2).
var (
	_ = [unsafe.Sizeof(unix.GPIOChipInfo{})]byte{} == [68]byte{}
	_ = [unsafe.Sizeof(unix.GPIOV2LineInfo{})]byte{} == [256]byte{}
	_ = [unsafe.Sizeof(unix.GPIOV2LineRequest{})]byte{} == [592]byte{}
	_ = [unsafe.Sizeof(unix.GPIOV2LineConfig{})]byte{} == [272]byte{}
	_ = [unsafe.Sizeof(unix.GPIOV2LineValues{})]byte{} == [16]byte{}
	_ = [unsafe.Sizeof(unix.GPIOV2LineEvent{})]byte{} == [48]byte{}

	_ = [unsafe.Offsetof(unix.GPIOV2LineInfo{}.Flags)]byte{} == [72]byte{}
	_ = [unsafe.Offsetof(unix.GPIOV2LineRequest{}.Consumer)]byte{} == [256]byte{}
	_ = [unsafe.Offsetof(unix.GPIOV2LineRequest{}.Config)]byte{} == [288]byte{}
	_ = [unsafe.Offsetof(unix.GPIOV2LineRequest{}.Num_lines)]byte{} == [560]byte{}
	_ = [unsafe.Offsetof(unix.GPIOV2LineRequest{}.Event_buffer_size)]byte{} == [564]byte{}
	_ = [unsafe.Offsetof(unix.GPIOV2LineRequest{}.Fd)]byte{} == [588]byte{}
	_ = [unsafe.Offsetof(unix.GPIOV2LineConfig{}.Attrs)]byte{} == [32]byte{}
	_ = [unsafe.Offsetof(unix.GPIOV2LineEvent{}.Line_seqno)]byte{} == [20]byte{}
)

// TestIoctlNumbers: the numbers carry direction, size, type 0xb4 and function (linux/gpio.h, linux/ioctl.h).
func TestIoctlNumbers(t *testing.T) {
	const readWrite = 3
	for _, k := range []struct {
		got, direction, function uint32
		size                     uintptr
	}{
		{unix.GPIO_GET_CHIPINFO_IOCTL, 2, 0x01, unsafe.Sizeof(unix.GPIOChipInfo{})},
		{unix.GPIO_V2_GET_LINEINFO_IOCTL, readWrite, 0x05, unsafe.Sizeof(unix.GPIOV2LineInfo{})},
		{unix.GPIO_V2_GET_LINE_IOCTL, readWrite, 0x07, unsafe.Sizeof(unix.GPIOV2LineRequest{})},
		{unix.GPIO_V2_LINE_GET_VALUES_IOCTL, readWrite, 0x0e, unsafe.Sizeof(unix.GPIOV2LineValues{})},
		{unix.GPIO_V2_LINE_SET_VALUES_IOCTL, readWrite, 0x0f, unsafe.Sizeof(unix.GPIOV2LineValues{})},
	} {
		if want := k.direction<<30 | uint32(k.size)<<16 | 0xb4<<8 | k.function; k.got != want {
			t.Errorf("function %#x: %#x, want %#x", k.function, k.got, want)
		}
	}
}

// TestFlagBits: enum gpio_v2_line_flag of linux/gpio.h.
func TestFlagBits(t *testing.T) {
	for bit, f := range []Flags{FlagUsed, FlagActiveLow, FlagInput, FlagOutput, FlagEdgeRising, FlagEdgeFalling,
		FlagOpenDrain, FlagOpenSource, FlagPullUp, FlagPullDown, FlagBiasDisabled} {
		if f != 1<<bit || f.String() != flagNames[bit] {
			t.Errorf("%s is %#x, want bit %d", f, uint64(f), bit)
		}
	}
}

// TestA01RequestOnTheWire looks at the bytes that the kernel gets: for both polarities the value is there and is 0.
func TestA01RequestOnTheWire(t *testing.T) {
	for _, low := range both {
		flags := FlagOutput
		if low {
			flags |= FlagActiveLow
		}
		raw := encode(Request{Offset: 17, Consumer: "fullery pump", Flags: flags})
		b := unsafe.Slice((*byte)(unsafe.Pointer(&raw)), unsafe.Sizeof(raw))
		u32 := func(at int) uint32 { return binary.NativeEndian.Uint32(b[at:]) }
		u64 := func(at int) uint64 { return binary.NativeEndian.Uint64(b[at:]) }
		if u32(0) != 17 || text(b[256:288]) != "fullery pump" || Flags(u64(288)) != flags || u32(560) != 1 {
			t.Errorf("offset %d, consumer %q, flags %s, lines %d", u32(0), text(b[256:288]), Flags(u64(288)), u32(560))
		}
		if attrs, id, values, mask := u32(296), u32(320), u64(328), u64(336); attrs != 1 || id != 2 || values != 0 || mask != 1 {
			t.Errorf("%d attributes: id %d, values %d, mask %d", attrs, id, values, mask)
		}
	}
	if on := encode(Request{Flags: FlagOutput, Active: true}); on.Config.Attrs[0].Attr.Flags != 1 {
		t.Error("an active first value is lost")
	}
	in := encode(Request{Flags: FlagInput, Buffer: 99, Consumer: strings.Repeat("x", 40)})
	if in.Config.Num_attrs != 0 || in.Event_buffer_size != 99 || in.Consumer[31] != 0 {
		t.Errorf("an input: %d attributes, buffer %d, consumer %q", in.Config.Num_attrs, in.Event_buffer_size, in.Consumer)
	}
}

// pipe stands for the descriptor of a claimed line: it gives events in the kernel's form.
func pipe(t *testing.T) (held Held, send func(...unix.GPIOV2LineEvent)) {
	t.Helper()
	var fds [2]int
	check(t, unix.Pipe2(fds[:], 0))
	held, err := hold(fds[0])
	check(t, err)
	t.Cleanup(func() { check(t, unix.Close(fds[1])) })
	return held, func(events ...unix.GPIOV2LineEvent) {
		for _, e := range events {
			_, err := unix.Write(fds[1], unsafe.Slice((*byte)(unsafe.Pointer(&e)), unsafe.Sizeof(e)))
			check(t, err)
		}
	}
}

func TestEdgesFromTheKernel(t *testing.T) {
	held, send := pipe(t)
	send(unix.GPIOV2LineEvent{Timestamp_ns: 5e9, Id: 1, Line_seqno: 7}, unix.GPIOV2LineEvent{Timestamp_ns: 6e9, Id: 2, Line_seqno: 8},
		unix.GPIOV2LineEvent{Timestamp_ns: 7e9, Id: 1, Line_seqno: 9})
	var got []Edge
	buf := make([]Edge, 2)
	for len(got) < 3 {
		n, err := held.Edges(t.Context(), buf)
		check(t, err)
		got = append(got, buf[:n]...)
	}
	want := []Edge{{At: 5 * time.Second, Rising: true, Seq: 7}, {At: 6 * time.Second, Seq: 8}, {At: 7 * time.Second, Rising: true, Seq: 9}}
	if !slices.Equal(got, want) {
		t.Errorf("%+v, want %+v", got, want)
	}
	check(t, held.Close())
}

// TestEndOfContextEndsARead: and the line can be read again afterwards.
func TestEndOfContextEndsARead(t *testing.T) {
	held, send := pipe(t)
	for range 100 {
		ctx, stop := context.WithCancel(t.Context())
		go stop()
		if n, err := held.Edges(ctx, make([]Edge, 1)); n != 0 || !errors.Is(err, context.Canceled) {
			t.Fatalf("%d, %v", n, err)
		}
		send(unix.GPIOV2LineEvent{Id: 1, Line_seqno: 3})
		if n, err := held.Edges(t.Context(), make([]Edge, 1)); n != 1 || err != nil {
			t.Fatalf("afterwards: %d, %v", n, err)
		}
	}
	check(t, held.Close())
}

func TestCloseEndsARead(t *testing.T) {
	held, _ := pipe(t)
	ended := make(chan error)
	go func() {
		_, err := held.Edges(t.Context(), make([]Edge, 1))
		ended <- err
	}()
	check(t, held.Close())
	if err := <-ended; !errors.Is(err, os.ErrClosed) {
		t.Errorf("ended with %v", err)
	}
	if err := held.SetValue(true); !errors.Is(err, os.ErrClosed) {
		t.Errorf("setting a closed line: %v", err)
	}
}

// TestChildDoesNotInherit: a line's descriptor closes on exec, and never blocks.
func TestChildDoesNotInherit(t *testing.T) {
	held, _ := pipe(t)
	conn, err := held.(*line).file.SyscallConn()
	check(t, err)
	check(t, conn.Control(func(fd uintptr) {
		onExec, err := unix.FcntlInt(fd, unix.F_GETFD, 0)
		check(t, err)
		status, err := unix.FcntlInt(fd, unix.F_GETFL, 0)
		check(t, err)
		if onExec&unix.FD_CLOEXEC == 0 || status&unix.O_NONBLOCK == 0 {
			t.Errorf("descriptor flags %#x, status %#x", onExec, status)
		}
	}))
	check(t, held.Close())
}

// TestSystemOnOrdinaryFiles: nodes come from the root's dev folder, and a node that is no chip is told, not driven.
func TestSystemOnOrdinaryFiles(t *testing.T) {
	root := t.TempDir()
	check(t, plant(map[string]string{filepath.Join(root, "dev/gpiochip0"): "", filepath.Join(root, "dev/null"): ""}))
	check(t, os.Symlink("gpiochip0", filepath.Join(root, "dev/gpiochip4")))
	nodes, err := System(root).Nodes()
	check(t, err)
	if want := []string{filepath.Join(root, "dev/gpiochip0"), filepath.Join(root, "dev/gpiochip4")}; !slices.Equal(nodes, want) {
		t.Errorf("%q, want %q", nodes, want)
	}
	_, err = Find(System(root), label)
	says(t, err, label, "/dev/gpiochip0")
	// An emulator of a processor has its own word for a request that it does not know.
	refused := func(err error) bool { return errors.Is(err, syscall.ENOTTY) || errors.Is(err, syscall.ENOSYS) }
	d, err := System(root).Open(nodes[0])
	check(t, err)
	if _, err := d.Line(0); !refused(err) {
		t.Errorf("line: %v", err)
	}
	if _, err := d.Request(Request{}); !refused(err) {
		t.Errorf("request: %v", err)
	}
	check(t, d.Close())
	_, err = Find(System(filepath.Join(root, "nowhere")), label)
	says(t, err, "cannot be listed")
}

// TestMonotonicClock: the same clock as the kernel's stamps, which only goes forward.
func TestMonotonicClock(t *testing.T) {
	a := System("/").Now()
	if b := System("/").Now(); a <= 0 || b < a {
		t.Errorf("%s, then %s", a, b)
	}
}
