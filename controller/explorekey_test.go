package controller

import (
	"reflect"
	"testing"
	"unsafe"
)

// A walk remembers of a state that it was there not the state, which takes a kilobyte, but 128 bits of it. Two different
// states with the same bits would be taken for one, and what lies behind the second would not be seen. Were the bits
// drawn at random, the chance of that among n states would be below n²/2^129: for two million, one in 10^26. They are not drawn
// but mixed, always in the same way, so that a walk always counts the same.

// node is what a walk tells apart: the controller's state, and what is kept account of beside it.
type node struct {
	s    State
	kept account
}

// key is 128 bits of a node: the sum, over its words, of what each mixes to at its place. A sum, because a step changes
// few words: only these are mixed anew.
type key struct{ a, b uint64 }

const words = int(unsafe.Sizeof(node{}) / 8)

// raw looks at a node as words. Its alignment is a word's, because it holds spans and floats.
func raw(n *node) *[words]uint64 { return (*[words]uint64)(unsafe.Pointer(n)) }

// matters tells, for every word, which bits belong to a field: what lies between two fields may be anything.
var matters = func() (mask [words]uint64) {
	bytes := (*[8 * words]byte)(unsafe.Pointer(&mask))
	var mark func(t reflect.Type, at uintptr)
	mark = func(t reflect.Type, at uintptr) {
		switch t.Kind() {
		case reflect.Struct:
			for i := range t.NumField() {
				mark(t.Field(i).Type, at+t.Field(i).Offset)
			}
		case reflect.Array:
			for i := range t.Len() {
				mark(t.Elem(), at+uintptr(i)*t.Elem().Size())
			}
		default:
			for i := range t.Size() {
				bytes[at+i] = 0xff
			}
		}
	}
	mark(reflect.TypeFor[node](), 0)
	return mask
}()

// moved returns the key of a node that lies one step from another, whose key is known.
func (k key) moved(from, to *node) key {
	x, y := raw(from), raw(to)
	for i := range y {
		if x[i] == y[i] {
			continue
		}
		was, is := mix(i, x[i]&matters[i]), mix(i, y[i]&matters[i])
		k.a += is.a - was.a
		k.b += is.b - was.b
	}
	return k
}

// keyOf is the key of any node: as far from the zero node as it is.
func keyOf(n *node) key { return key{}.moved(&node{}, n) }

// mix spreads a word over 128 bits, differently at each place: two finalisers of the kind that hash functions end with,
// multiplying by odd numbers and folding the high bits down.
func mix(i int, w uint64) key {
	const golden = 0x9e3779b97f4a7c15 // 2^64 divided by the golden ratio
	place := uint64(i+1) * golden
	return key{finish(w+place, 0xff51afd7ed558ccd, 0xc4ceb9fe1a85ec53), finish(w^^place, 0xbf58476d1ce4e5b9, 0x94d049bb133111eb)}
}

func finish(x, by, and uint64) uint64 {
	x = (x ^ x>>32) * by
	x = (x ^ x>>29) * and
	return x ^ x>>32
}

// TestKeysTellStatesApart: whatever single field of a state changes, its key does, and each differently; and a key does
// not depend on the way to its state.
func TestKeysTellStatesApart(t *testing.T) {
	var zero node
	seen := map[key]string{{}: "nothing"}
	bits := 0
	for i, mask := range matters {
		for b := range 64 {
			if mask>>b&1 == 0 {
				continue
			}
			bits++
			n := zero
			raw(&n)[i] ^= 1 << b
			k := keyOf(&n)
			if other, old := seen[k]; old {
				t.Fatalf("word %d, bit %d: the same key as %s", i, b, other)
			}
			seen[k] = "another bit"
			if back := k.moved(&n, &zero); back != (key{}) {
				t.Fatal("there and back is not where it began")
			}
		}
	}
	// By hand: the fields of a state and of the account, without what lies between them.
	if want := 8 * sizeOfFields(reflect.TypeFor[node]()); bits != want || want < 8*(8*words-200) {
		t.Errorf("%d bits matter, of %d in fields", bits, want)
	}
	var junk node
	for i, mask := range matters {
		raw(&junk)[i] = ^mask
	}
	if keyOf(&junk) != (key{}) {
		t.Error("what lies between the fields changes the key")
	}
}

func sizeOfFields(t reflect.Type) (size int) {
	switch t.Kind() {
	case reflect.Struct:
		for i := range t.NumField() {
			size += sizeOfFields(t.Field(i).Type)
		}
	case reflect.Array:
		size = t.Len() * sizeOfFields(t.Elem())
	default:
		size = int(t.Size())
	}
	return size
}
