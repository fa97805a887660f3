//go:build linux || darwin || freebsd

package record

import (
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"unsafe"

	"modernc.org/libc"
	sqlite3 "modernc.org/sqlite/lib"
)

// A shim stands between SQLite and the system's files: a VFS (https://www.sqlite.org/vfs.html) that is a copy of SQLite's
// own, and the default one once it is registered, so that the record is opened by the product's code as ever. Folders
// that no test watches are not touched. In a watched folder every write, truncation, sync, close and deletion comes by
// here, is logged for power cuts (shimplatter_test.go), or answered with trouble instead (storagefault_test.go).

// The calls as SQLite makes them.
type (
	openCall      = func(tls *libc.TLS, vfs, name, file uintptr, flags int32, outFlags uintptr) int32
	deleteCall    = func(tls *libc.TLS, vfs, name uintptr, syncFolder int32) int32
	writeCall     = func(tls *libc.TLS, file, data uintptr, n int32, at int64) int32
	truncateCall  = func(tls *libc.TLS, file uintptr, size int64) int32
	syncCall      = func(tls *libc.TLS, file uintptr, flags int32) int32
	closeCall     = func(tls *libc.TLS, file uintptr) int32
	folderCall    = func(tls *libc.TLS, name, fd uintptr) int32
	setSystemCall = func(tls *libc.TLS, vfs, name, call uintptr) int32
	getSystemCall = func(tls *libc.TLS, vfs, name uintptr) uintptr
)

// callable makes a Go function of a C function pointer, and pointer the way back: the transpiled library keeps the one in
// the place of the other. A function given to pointer must be a plain one, which is never collected.
func callable[F any](pointer uintptr) F { return *(*F)(unsafe.Pointer(&pointer)) }
func pointer[F any](f F) uintptr        { return *(*uintptr)(unsafe.Pointer(&f)) }

// object is what lies at an address of memory that does not move, and address the way back.
func object[T any](address uintptr) *T { return *(**T)(unsafe.Pointer(&address)) }

// made keeps a value in the library's own memory, for as long as the process lives.
func made[T any](value T) *T {
	place, _ := libc.CString(strings.Repeat(" ", int(unsafe.Sizeof(value)))) // its way to ask for memory on every system
	p := object[T](place)
	*p = value
	return p
}

func address[T any](p *T) uintptr { return *(*uintptr)(unsafe.Pointer(&p)) }

// shim is the one of this process: SQLite keeps its VFS for the life of the process.
var shim struct {
	once      sync.Once
	ours      *sqlite3.Tsqlite3_vfs
	real      uintptr    // SQLite's own VFS
	folder    folderCall // its way to open a folder for a sync
	mu        sync.Mutex
	tables    map[uintptr]*sqlite3.Tsqlite3_io_methods // ours, by the real one behind it
	files     map[uintptr]*shimFile                    // open ones of watched folders, by SQLite's address
	watched   map[string]*watched
	registers int32
}

// shimFile is an open file of a watched folder.
type shimFile struct {
	name string // within its folder
	in   *watched
	real *sqlite3.Tsqlite3_io_methods
}

// call is what SQLite asks of a file.
type call uint8

const (
	callOpen call = iota
	callWrite
	callTruncate
	callSync
	callDelete
)

// watched is a folder whose files come by the shim.
type watched struct {
	dir     string
	platter *platter // logs what reaches the disk; nil: nobody wants to know
	// unsynced answers a sync at once: for folders that are only looked at, and that no power cut meets.
	unsynced bool
	trouble  atomic.Pointer[func(call, string) int32] // what is answered in place of a call; SQLITE_OK: the call is made
	folder   atomic.Bool                              // the folder itself was opened for a sync
}

// watch has the files of a folder come by the shim until the test's end.
func watch(t testing.TB, dir string) *watched {
	t.Helper()
	w := &watched{dir: dir}
	shim.once.Do(register)
	if shim.registers != sqlite3.SQLITE_OK {
		t.Fatalf("SQLite does not take the shim: %d", shim.registers)
	}
	shim.mu.Lock()
	defer shim.mu.Unlock()
	shim.watched[dir] = w
	t.Cleanup(func() {
		shim.mu.Lock()
		defer shim.mu.Unlock()
		delete(shim.watched, dir)
	})
	return w
}

// register puts a copy of SQLite's VFS before it.
func register() {
	tls := libc.NewTLS()
	defer tls.Close()
	shim.tables, shim.files = map[uintptr]*sqlite3.Tsqlite3_io_methods{}, map[uintptr]*shimFile{}
	shim.watched = map[string]*watched{}
	shim.real = sqlite3.Xsqlite3_vfs_find(tls, 0)
	shim.ours = made(*object[sqlite3.Tsqlite3_vfs](shim.real))
	ours := shim.ours
	ours.FzName, _ = libc.CString("shim")
	ours.FxOpen, ours.FxDelete = pointer(shimOpen), pointer(shimDelete)
	name, _ := libc.CString("openDirectory") // kept by SQLite as long as the process lives
	shim.folder = callable[folderCall](callable[getSystemCall](ours.FxGetSystemCall)(tls, shim.real, name))
	shim.registers = callable[setSystemCall](ours.FxSetSystemCall)(tls, shim.real, name, pointer(shimFolder)) |
		sqlite3.Xsqlite3_vfs_register(tls, address(shim.ours), 1)
}

// of returns the watched folder that a path lies in, nil for none, and the name within it.
func of(path uintptr) (*watched, string) {
	if path == 0 { // a temporary file without a name
		return nil, ""
	}
	full := libc.GoString(path)
	return watchedAt(full), filepath.Base(full)
}

// watchedAt is the watched folder that a file lies in, nil for none.
func watchedAt(path string) *watched {
	shim.mu.Lock()
	defer shim.mu.Unlock()
	return shim.watched[filepath.Dir(path)]
}

// fileAt returns an open file of a watched folder.
func fileAt(file uintptr) *shimFile {
	shim.mu.Lock()
	defer shim.mu.Unlock()
	return shim.files[file]
}

// asked returns what is answered in place of a call.
func (w *watched) asked(c call, name string) int32 {
	if trouble := w.trouble.Load(); trouble != nil {
		return (*trouble)(c, name)
	}
	return sqlite3.SQLITE_OK
}

func shimOpen(tls *libc.TLS, _, name, file uintptr, flags int32, outFlags uintptr) int32 {
	w, base := of(name)
	if w != nil {
		if rc := w.asked(callOpen, base); rc != sqlite3.SQLITE_OK {
			object[sqlite3.Tsqlite3_file](file).FpMethods = 0
			return rc
		}
		w.platter.look()
	}
	rc := callable[openCall](object[sqlite3.Tsqlite3_vfs](shim.real).FxOpen)(tls, shim.real, name, file, flags, outFlags)
	if w == nil || rc != sqlite3.SQLITE_OK {
		return rc
	}
	w.platter.look()
	shim.mu.Lock()
	defer shim.mu.Unlock()
	real := object[sqlite3.Tsqlite3_file](file).FpMethods
	table := shim.tables[real]
	if table == nil {
		table = made(*object[sqlite3.Tsqlite3_io_methods](real))
		table.FxWrite, table.FxTruncate = pointer(shimWrite), pointer(shimTruncate)
		table.FxSync, table.FxClose = pointer(shimSync), pointer(shimClose)
		shim.tables[real] = table
	}
	shim.files[file] = &shimFile{base, w, object[sqlite3.Tsqlite3_io_methods](real)}
	object[sqlite3.Tsqlite3_file](file).FpMethods = address(table)
	return rc
}

func shimWrite(tls *libc.TLS, file, data uintptr, n int32, off int64) int32 {
	f := fileAt(file)
	if rc := f.in.asked(callWrite, f.name); rc != sqlite3.SQLITE_OK {
		return rc
	}
	rc := callable[writeCall](f.real.FxWrite)(tls, file, data, n, off)
	if rc == sqlite3.SQLITE_OK {
		f.in.platter.wrote(f.name, off, unsafe.Slice(object[byte](data), n))
	}
	return rc
}

func shimTruncate(tls *libc.TLS, file uintptr, size int64) int32 {
	f := fileAt(file)
	if rc := f.in.asked(callTruncate, f.name); rc != sqlite3.SQLITE_OK {
		return rc
	}
	rc := callable[truncateCall](f.real.FxTruncate)(tls, file, size)
	if rc == sqlite3.SQLITE_OK {
		f.in.platter.cutTo(f.name, size)
	}
	return rc
}

func shimSync(tls *libc.TLS, file uintptr, flags int32) int32 {
	f := fileAt(file)
	rc := f.in.asked(callSync, f.name)
	if rc != sqlite3.SQLITE_OK {
		f.in.platter.add(f.name, step{kind: stepForget})
	}
	if rc != sqlite3.SQLITE_OK || f.in.unsynced {
		return rc
	}
	f.in.folder.Store(false)
	if rc = callable[syncCall](f.real.FxSync)(tls, file, flags); rc == sqlite3.SQLITE_OK {
		f.in.platter.synced(f.name, f.in.folder.Load())
	}
	return rc
}

func shimClose(tls *libc.TLS, file uintptr) int32 {
	f := fileAt(file)
	shim.mu.Lock()
	delete(shim.files, file)
	shim.mu.Unlock()
	return callable[closeCall](f.real.FxClose)(tls, file)
}

func shimDelete(tls *libc.TLS, _, name uintptr, syncFolder int32) int32 {
	w, base := of(name)
	if w != nil {
		if rc := w.asked(callDelete, base); rc != sqlite3.SQLITE_OK {
			return rc
		}
		w.folder.Store(false)
	}
	rc := callable[deleteCall](object[sqlite3.Tsqlite3_vfs](shim.real).FxDelete)(tls, shim.real, name, syncFolder)
	if w != nil && rc == sqlite3.SQLITE_OK {
		w.platter.deleted(base, w.folder.Load())
	}
	return rc
}

// shimFolder stands before the call that opens a folder, which SQLite makes only to sync it.
func shimFolder(tls *libc.TLS, name, fd uintptr) int32 {
	if w, _ := of(name); w != nil {
		w.folder.Store(true)
	}
	return shim.folder(tls, name, fd)
}
