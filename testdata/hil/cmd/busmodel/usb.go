package main

import (
	"encoding/binary"
	"fmt"
	"io"
	"syscall"
)

// bridge is a small USB device that is an I²C adapter, of the kind whose driver in the kernel is i2c-tiny-usb. Beneath the
// kernel's USB, I²C and character devices only this device is ours.
type bridge struct {
	world        *world
	acknowledged bool
}

// Descriptors: vendor and product are those that the kernel's driver looks for; one interface of the vendor's own class
// without endpoints, because everything goes by control transfers.
var (
	deviceDescriptor = []byte{18, 1, 0x10, 1, 0xff, 0, 0, 64, 0x03, 0x04, 0x31, 0xc6, 5, 2, 1, 2, 0, 1}
	configDescriptor = []byte{9, 2, 18, 0, 1, 1, 0, 0x80, 5, 9, 4, 0, 0, 0, 0xff, 0, 0, 0}
	languages        = []byte{4, 3, 9, 4}
)

func named(s string) []byte {
	b := []byte{byte(2 + 2*len(s)), 3}
	for _, c := range []byte(s) {
		b = append(b, c, 0)
	}
	return b
}

// setup is the head of a control transfer.
type setup struct {
	kind, request        byte
	value, index, length uint16
}

// control handles one control transfer and returns what is read; false stalls it.
func (b *bridge) control(s setup, data []byte) ([]byte, bool) {
	const vendor = 0x60
	if s.kind&vendor == 0 {
		return standard(s)
	}
	switch s.request {
	case 0: // echo
		return []byte{byte(s.value), byte(s.value >> 8)}, true
	case 1: // what the adapter can do: plain I²C, and the calls that the kernel makes of it
		return []byte{0x01, 0x00, 0xff, 0x0e}, true
	case 2: // delay
		return nil, true
	case 3: // whether the last address was acknowledged
		if b.acknowledged {
			return []byte{1}, true
		}
		return []byte{2}, true
	case 4, 5, 6, 7: // one message; the two lowest bits tell whether it is the first and the last of its transaction
		read := s.value&1 != 0
		var in []byte
		if in, b.acknowledged = b.world.transfer(s.index, read, int(s.length), data); read && !b.acknowledged {
			in = make([]byte, s.length) // the driver looks at the length first and at the acknowledgement later
		}
		return in, true
	}
	return nil, false
}

// standard answers what the kernel asks of every USB device.
func standard(s setup) ([]byte, bool) {
	switch s.request {
	case 0: // status
		return []byte{0, 0}, true
	case 8: // configuration
		return []byte{1}, true
	case 6:
		switch kind, index := s.value>>8, s.value&0xff; {
		case kind == 1:
			return deviceDescriptor, true
		case kind == 2:
			return configDescriptor, true
		case kind == 3 && index == 0:
			return languages, true
		case kind == 3:
			return named("bus model"), true
		}
		return nil, false
	}
	return nil, true
}

// The commands of USB/IP that reach a device, and their answers (Documentation/usb/usbip_protocol.rst of the kernel).
const (
	submit, unlink    = 1, 2
	submitted, unlunk = 3, 4
	headLength        = 48
	directionIn       = 1
)

// serve speaks the device's side of USB/IP until the stream ends.
func (b *bridge) serve(stream io.ReadWriter) error {
	head := make([]byte, headLength)
	for {
		if _, err := io.ReadFull(stream, head); err != nil {
			return err
		}
		var answer []byte
		var err error
		switch command := binary.BigEndian.Uint32(head); command {
		case submit:
			answer, err = b.submit(stream, head)
		case unlink: // by then the transfer is done: they are handled one after the other
			answer = answerHead(unlunk, head)
		default:
			err = fmt.Errorf("unknown command %d of USB/IP", command)
		}
		if err != nil {
			return err
		}
		if _, err := stream.Write(answer); err != nil {
			return err
		}
	}
}

// answerHead repeats the sequence number, by which the kernel knows which transfer is meant.
func answerHead(command uint32, head []byte) []byte {
	out := make([]byte, headLength)
	binary.BigEndian.PutUint32(out, command)
	copy(out[4:8], head[4:8])
	return out
}

func (b *bridge) submit(stream io.Reader, head []byte) ([]byte, error) {
	big, little := binary.BigEndian, binary.LittleEndian
	in, endpoint, length := big.Uint32(head[12:]) == directionIn, big.Uint32(head[16:]), big.Uint32(head[24:])
	const most = 1 << 16
	if length > most {
		return nil, fmt.Errorf("a transfer of %d bytes", length)
	}
	var data []byte
	if !in {
		data = make([]byte, length)
		if _, err := io.ReadFull(stream, data); err != nil {
			return nil, err
		}
	}
	s := head[40:48]
	read, ok := b.control(setup{s[0], s[1], little.Uint16(s[2:]), little.Uint16(s[4:]), little.Uint16(s[6:])}, data)
	out := answerHead(submitted, head)
	switch {
	case !ok || endpoint != 0:
		stall := -int32(syscall.EPIPE)
		big.PutUint32(out[20:], uint32(stall))
	case in:
		read = read[:min(len(read), int(length))]
		big.PutUint32(out[24:], uint32(len(read)))
		out = append(out, read...)
	default:
		big.PutUint32(out[24:], length)
	}
	return out, nil
}
