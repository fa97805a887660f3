package main

import (
	"encoding/binary"
	"io"
	"net"
	"testing"
	"time"
)

// clocked is a world with a clock of its own.
func clocked() (*world, *time.Duration) {
	now := new(time.Duration)
	return newWorld(func() time.Duration { return *now }, nil), now
}

func obeyed(t *testing.T, w *world, orders ...string) {
	t.Helper()
	for _, o := range orders {
		if _, err := w.order(o); err != nil {
			t.Fatal(err)
		}
	}
}

func (w *world) feel(address uint16, quantity string, at time.Duration) float64 {
	return w.sense(address)(quantity, at)
}

func TestWorld(t *testing.T) {
	w, now := clocked()
	*now = 10 * time.Second
	obeyed(t, w, "set 0x44 celsius 30", "ramp 0x4a celsius 10 20 10", "link 0x48 volt0 2 0.5 2.5")
	if got := w.feel(0x44, "celsius", *now); got != 30 {
		t.Errorf("set to 30 it feels %g", got)
	}
	for at, want := range map[time.Duration]float64{10: 10, 15: 15, 20: 20, 99: 20} {
		if got := w.feel(0x4a, "celsius", at*time.Second); got != want {
			t.Errorf("after %d s of a ramp it feels %g, not %g", at-10, got, want)
		}
	}
	if got := w.feel(0x48, "volt0", *now); got != 0.5 {
		t.Errorf("linked to a channel that is off it feels %g", got)
	}
	w.transfer(0x40, false, 0, []byte{0x00, 0x20})
	w.transfer(0x40, false, 0, []byte{0x0e, 0, 0x10, 0, 0})
	if got := w.feel(0x48, "volt0", *now); got != 2.5 {
		t.Errorf("linked to a channel that is on it feels %g", got)
	}
	for _, wrong := range []string{"", "set", "set 0x44", "set 0x20 celsius 1", "set 0x44 volt0 1", "set 0x44 celsius warm", "fault 0x48 checksum",
		"fault 0x44 tired", "link 0x48 volt0 16 0 1"} {
		if _, err := w.order(wrong); err == nil {
			t.Errorf("the order %q is taken", wrong)
		}
	}
}

func TestFaults(t *testing.T) {
	w, now := clocked()
	measure := func() (string, bool) {
		w.transfer(0x44, false, 0, []byte{0x24, 0x00})
		*now += 20 * time.Millisecond
		b, ok := w.transfer(0x44, true, 6, nil)
		return string(b), ok
	}
	obeyed(t, w, "noise 0x44 celsius 1")
	well, ok := measure()
	if other, _ := measure(); !ok || other == well {
		t.Fatal("a restless chip says the same twice")
	}
	obeyed(t, w, "fault 0x44 frozen")
	first, _ := measure()
	if second, ok := measure(); !ok || second != first {
		t.Error("a frozen chip moves")
	}
	obeyed(t, w, "heal 0x44", "fault 0x44 nak")
	if _, ok := measure(); ok {
		t.Error("a chip that refuses is read")
	}
	obeyed(t, w, "heal 0x44", "fault 0x44 unplugged")
	if _, ok := w.transfer(0x44, false, 0, []byte{0x24, 0x00}); ok {
		t.Error("a chip that is not there is written to")
	}
	obeyed(t, w, "heal 0x44")
	if _, ok := measure(); !ok {
		t.Error("a healed chip refuses")
	}
	if _, ok := w.transfer(0x23, false, 0, nil); ok {
		t.Error("an address without a chip answers")
	}
}

// The frames are those of Documentation/usb/usbip_protocol.rst, for what the kernel's driver of the adapter sends.
func TestBridge(t *testing.T) {
	w, now := clocked()
	kernel, device := net.Pipe()
	defer kernel.Close()
	go (&bridge{world: w}).serve(device)
	sequence := uint32(0)
	send := func(in bool, kind, request byte, value, index uint16, length int, data []byte) (status int32, answer []byte) {
		t.Helper()
		sequence++
		head := make([]byte, 48)
		binary.BigEndian.PutUint32(head, 1)
		binary.BigEndian.PutUint32(head[4:], sequence)
		if in {
			binary.BigEndian.PutUint32(head[12:], 1)
		}
		binary.BigEndian.PutUint32(head[24:], uint32(length))
		head[40], head[41] = kind, request
		binary.LittleEndian.PutUint16(head[42:], value)
		binary.LittleEndian.PutUint16(head[44:], index)
		binary.LittleEndian.PutUint16(head[46:], uint16(length))
		go kernel.Write(append(head, data...)) // the pipe has no room of its own; a loss shows in the read
		back := make([]byte, 48)
		if _, err := io.ReadFull(kernel, back); err != nil {
			t.Fatal(err)
		}
		if binary.BigEndian.Uint32(back) != 3 || binary.BigEndian.Uint32(back[4:]) != sequence {
			t.Fatalf("the answer's head is % x", back[:8])
		}
		if in {
			answer = make([]byte, binary.BigEndian.Uint32(back[24:]))
			if _, err := io.ReadFull(kernel, answer); err != nil {
				t.Fatal(err)
			}
		}
		return int32(binary.BigEndian.Uint32(back[20:])), answer
	}
	acknowledged := func() bool {
		t.Helper()
		_, answer := send(true, 0xc1, 3, 0, 0, 1, nil)
		return len(answer) == 1 && answer[0] == 1
	}
	if status, _ := send(false, 0x41, 6, 0, 0x44, 2, []byte{0x24, 0x00}); status != 0 || !acknowledged() {
		t.Errorf("a write has the status %d", status)
	}
	if send(true, 0xc1, 7, 1, 0x44, 6, nil); acknowledged() {
		t.Error("a read too early is acknowledged")
	}
	*now += 20 * time.Millisecond
	if _, answer := send(true, 0xc1, 7, 1, 0x44, 6, nil); len(answer) != 6 || !acknowledged() {
		t.Errorf("six bytes read as % x", answer)
	}
	if send(false, 0x41, 7, 0, 0x23, 1, []byte{0}); acknowledged() {
		t.Error("an address without a chip is acknowledged")
	}
	if status, _ := send(false, 0x41, 99, 0, 0, 0, nil); status != -32 { // EPIPE
		t.Errorf("an unknown request is no stall: %d", status)
	}
}
