//go:build linux || darwin || freebsd

package main

import (
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"
	"unsafe"

	"modernc.org/libc"
	sqlite3 "modernc.org/sqlite/lib"
)

// A disk that fails on order: a copy of SQLite's own VFS (https://www.sqlite.org/vfs.html), the default one once it is
// registered, which in one folder answers writes and syncs with trouble. disks/record has its larger sister, which also
// knows what a power cut leaves.

// diskCall is what SQLite asks of a file.
type diskCall uint8

const (
	diskWrite diskCall = iota
	diskSync
	diskOpen
)

var failing struct {
	once   sync.Once
	ours   *sqlite3.Tsqlite3_vfs
	real   uintptr
	mu     sync.Mutex
	tables map[uintptr]*sqlite3.Tsqlite3_io_methods // ours, by the real one behind it
	files  map[uintptr]*sqlite3.Tsqlite3_io_methods // the real one, by the open file
	folder atomic.Pointer[string]
	answer atomic.Pointer[func(diskCall) int32] // nil: all is well
}

// The library keeps function pointers where Go has functions.
func callable[F any](pointer uintptr) F  { return *(*F)(unsafe.Pointer(&pointer)) }
func pointer[F any](f F) uintptr         { return *(*uintptr)(unsafe.Pointer(&f)) }
func object[T any](address uintptr) *T   { return *(**T)(unsafe.Pointer(&address)) }
func addressOf[T any](object *T) uintptr { return *(*uintptr)(unsafe.Pointer(&object)) }

// keptIn keeps a value in the library's own memory, for as long as the process lives.
func keptIn[T any](value T) *T {
	place, _ := libc.CString(strings.Repeat(" ", int(unsafe.Sizeof(value)))) // its way to ask for memory on every system
	p := object[T](place)
	*p = value
	return p
}

// diskOf has the files of a folder come by the shim until the test's end, and returns how to bring trouble on, and off.
func diskOf(t testing.TB, folder string) (trouble func(func(diskCall) int32), well func()) {
	t.Helper()
	failing.once.Do(func() {
		tls := libc.NewTLS()
		defer tls.Close()
		failing.tables = map[uintptr]*sqlite3.Tsqlite3_io_methods{}
		failing.files = map[uintptr]*sqlite3.Tsqlite3_io_methods{}
		failing.real = sqlite3.Xsqlite3_vfs_find(tls, 0)
		ours := keptIn(*object[sqlite3.Tsqlite3_vfs](failing.real))
		ours.FzName, _ = libc.CString("failing")
		ours.FxOpen, ours.FxSleep = pointer(failingOpen), pointer(failingSleep)
		failing.ours = ours
		if rc := sqlite3.Xsqlite3_vfs_register(tls, addressOf(failing.ours), 1); rc != sqlite3.SQLITE_OK {
			t.Fatalf("SQLite does not take the shim: %d", rc)
		}
	})
	failing.folder.Store(&folder)
	t.Cleanup(func() { failing.folder.Store(nil); failing.answer.Store(nil) })
	return func(f func(diskCall) int32) { failing.answer.Store(&f) }, func() { failing.answer.Store(nil) }
}

// answered is what a call is answered with instead of being made.
func answered(c diskCall) int32 {
	if f := failing.answer.Load(); f != nil {
		return (*f)(c)
	}
	return sqlite3.SQLITE_OK
}

func failingOpen(tls *libc.TLS, _, name, file uintptr, flags int32, outFlags uintptr) int32 {
	folder := failing.folder.Load()
	here := folder != nil && name != 0 && filepath.Dir(libc.GoString(name)) == *folder
	if rc := answered(diskOpen); here && rc != sqlite3.SQLITE_OK {
		object[sqlite3.Tsqlite3_file](file).FpMethods = 0
		return rc
	}
	open := callable[func(*libc.TLS, uintptr, uintptr, uintptr, int32, uintptr) int32](object[sqlite3.Tsqlite3_vfs](failing.real).FxOpen)
	rc := open(tls, failing.real, name, file, flags, outFlags)
	if !here || rc != sqlite3.SQLITE_OK {
		return rc
	}
	failing.mu.Lock()
	defer failing.mu.Unlock()
	real := object[sqlite3.Tsqlite3_file](file).FpMethods
	table := failing.tables[real]
	if table == nil {
		table = keptIn(*object[sqlite3.Tsqlite3_io_methods](real))
		table.FxWrite, table.FxSync = pointer(failingWrite), pointer(failingSync)
		failing.tables[real] = table
	}
	failing.files[file] = object[sqlite3.Tsqlite3_io_methods](real)
	object[sqlite3.Tsqlite3_file](file).FpMethods = addressOf(table)
	return rc
}

// failingSleep is how SQLite waits for another program, here on the test's own clock.
func failingSleep(_ *libc.TLS, _ uintptr, micro int32) int32 {
	time.Sleep(time.Duration(micro) * time.Microsecond)
	return micro
}

// realOf are the methods behind an open file.
func realOf(file uintptr) *sqlite3.Tsqlite3_io_methods {
	failing.mu.Lock()
	defer failing.mu.Unlock()
	return failing.files[file]
}

func failingWrite(tls *libc.TLS, file, data uintptr, n int32, at int64) int32 {
	if rc := answered(diskWrite); rc != sqlite3.SQLITE_OK {
		return rc
	}
	return callable[func(*libc.TLS, uintptr, uintptr, int32, int64) int32](realOf(file).FxWrite)(tls, file, data, n, at)
}

func failingSync(tls *libc.TLS, file uintptr, flags int32) int32 {
	if rc := answered(diskSync); rc != sqlite3.SQLITE_OK {
		return rc
	}
	return callable[func(*libc.TLS, uintptr, int32) int32](realOf(file).FxSync)(tls, file, flags)
}
