//go:build linux || darwin || freebsd

package record

import (
	"bytes"
	"maps"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
)

// What a disk holds after a power cut: all that was synced, and of what was written since whatever it pleases. The model is
// harsh: every sector of every write, every change of a size and every change of a name may be there or not, whatever the
// order, until the file, or for names the folder, has been synced.

// sector is what a disk writes whole or not at all, bytes.
const sector = 512

// step is one thing that reached the system on its way to the disk.
type step struct {
	kind stepKind
	name string // of the entry, for the kinds that change names
	id   int    // which file
	off  int64  // where a write begins, or the size after a truncation
	data []byte // what was written
	tell any    // what the test knew from here on, for a mark
}

type stepKind uint8

const (
	stepWrite stepKind = iota
	stepTruncate
	stepSync   // of one file
	stepName   // a name is given to a file: made, or linked
	stepUnname // a name is taken away
	stepFolder // sync of the folder: its names are on the disk
	stepForget // a sync failed: what the system held of the file is dropped, and the next sync says nothing of it
	stepMark   // nothing reached the disk; the test came to know something
)

// platter is the log of one folder.
type platter struct {
	dir string

	mu    sync.Mutex
	steps []step
	names map[string]int // as the system shows them now
	stats map[int]os.FileInfo
	next  int
	base  disk // what lay there, synced, when the log began
}

// logged watches a folder and logs what reaches it. What lies in it already counts as synced.
func logged(t testing.TB, dir string) *platter {
	t.Helper()
	p := &platter{dir: dir, names: map[string]int{}, stats: map[int]os.FileInfo{}}
	p.look()
	p.base = disk{files: map[int]*onDisk{}, names: map[string]int{}}
	for _, s := range p.steps {
		p.base.apply(s, nobody)
	}
	for id := range p.base.files {
		p.base.apply(step{kind: stepSync, id: id}, nobody)
	}
	p.base.apply(step{kind: stepFolder}, nobody)
	p.steps = nil
	watch(t, dir).platter = p
	return p
}

// nobody is deaf.
func nobody(string) bool { return false }

func (p *platter) nameOf(id int) string {
	for name, has := range p.names {
		if has == id {
			return name
		}
	}
	return ""
}

// look notes what the program itself did to names since SQLite's last call: a record is made under another name and then
// linked into its place (see place), which syncs the folder, and the other name is taken away.
func (p *platter) look() {
	if p == nil {
		return
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	list, _ := os.ReadDir(p.dir)
	here := map[string]bool{}
	for _, entry := range list {
		name := entry.Name()
		here[name] = true
		if _, known := p.names[name]; known || strings.HasSuffix(name, "-shm") { // of no account after a power cut
			continue
		}
		p.found(name)
	}
	for _, name := range slices.Sorted(maps.Keys(p.names)) {
		if !here[name] {
			p.unname(name)
		}
	}
}

// found adds a name: of a file that is known by another one already, or of a new one.
func (p *platter) found(name string) {
	info, err := os.Stat(filepath.Join(p.dir, name))
	if err != nil {
		return // it went as it came
	}
	for _, id := range slices.Sorted(maps.Keys(p.stats)) {
		if os.SameFile(info, p.stats[id]) && p.nameOf(id) != "" {
			p.names[name] = id
			p.steps = append(p.steps, step{kind: stepName, name: name, id: id}, step{kind: stepFolder})
			return
		}
	}
	p.next++
	p.names[name], p.stats[p.next] = p.next, info
	p.steps = append(p.steps, step{kind: stepName, name: name, id: p.next})
	if data, err := os.ReadFile(filepath.Join(p.dir, name)); err == nil && len(data) > 0 {
		p.steps = append(p.steps, step{kind: stepWrite, id: p.next, data: data})
	}
}

func (p *platter) unname(name string) {
	p.steps = append(p.steps, step{kind: stepUnname, name: name, id: p.names[name]})
	delete(p.names, name)
}

// add appends a step about a file.
func (p *platter) add(name string, s step) {
	if p == nil {
		return
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	s.id = p.names[name]
	p.steps = append(p.steps, s)
}

func (p *platter) wrote(name string, off int64, data []byte) {
	p.add(name, step{kind: stepWrite, off: off, data: bytes.Clone(data)})
}

func (p *platter) cutTo(name string, size int64) { p.add(name, step{kind: stepTruncate, off: size}) }

func (p *platter) synced(name string, folder bool) {
	p.add(name, step{kind: stepSync})
	if folder {
		p.add("", step{kind: stepFolder})
	}
}

func (p *platter) deleted(name string, folder bool) {
	if p == nil {
		return
	}
	p.mu.Lock()
	p.unname(name)
	p.mu.Unlock()
	if folder {
		p.add("", step{kind: stepFolder})
	}
}

// mark notes what the test knows from here on.
func (p *platter) mark(known any) {
	p.look()
	p.add("", step{kind: stepMark, tell: known})
}

// disk is what the log left on the disk up to some point: what is there for certain, and what may be.
type disk struct {
	files map[int]*onDisk
	names map[string]int // for certain
	may   []step         // changes of names since
}

// onDisk is one file. synced is never changed in place, so that outcomes may share it.
type onDisk struct {
	synced []byte
	may    []step
}

// begun is a copy of the disk as it was when the log began.
func (p *platter) begun() *disk {
	d := &disk{files: map[int]*onDisk{}, names: maps.Clone(p.base.names)}
	for id, f := range p.base.files {
		d.files[id] = &onDisk{synced: f.synced}
	}
	return d
}

// apply brings the disk one step on. deaf are the files whose syncs the disk answers without doing anything.
func (d *disk) apply(s step, deaf func(name string) bool) {
	f := d.files[s.id]
	if f == nil {
		f = &onDisk{}
		d.files[s.id] = f
	}
	switch s.kind {
	case stepWrite, stepTruncate:
		f.may = append(f.may, s)
	case stepSync:
		if !deaf(d.called(s.id)) {
			f.synced, f.may = whole(f.synced, f.may), nil
		}
	case stepForget:
		f.may = nil
	case stepName, stepUnname:
		d.may = append(d.may, s)
	case stepFolder:
		d.names, d.may = named(d.names, d.may), nil
	}
}

// called is a name of a file, or "".
func (d *disk) called(id int) string {
	names := named(d.names, d.may)
	for _, name := range slices.Sorted(maps.Keys(names)) {
		if names[name] == id {
			return name
		}
	}
	return ""
}

// named applies changes of names.
func named(names map[string]int, steps []step) map[string]int {
	names = maps.Clone(names)
	for _, s := range steps {
		if s.kind == stepName {
			names[s.name] = s.id
		} else {
			delete(names, s.name)
		}
	}
	return names
}

// whole is a file after all of its steps.
func whole(data []byte, steps []step) []byte {
	return outcome{keep: func(int, int64, int) bool { return true }}.partly(data, steps)
}

// outcome is one thing that a power cut may leave behind.
type outcome struct {
	name  string
	names func(n int) bool                       // which changes of names since the last sync are kept
	keep  func(n int, sector int64, of int) bool // which sectors of a file's n-th write, of so many since the last sync
	sizes bool                                   // a file has its size, though not what was written there
	junk  uint64                                 // seed of what such a place holds; 0: zeros
}

// files is what lies in the folder then: contents by name.
func (o outcome) files(d *disk) map[string][]byte {
	var kept []step
	for n, s := range d.may {
		if o.names(n) {
			kept = append(kept, s)
		}
	}
	files := map[string][]byte{}
	for name, id := range named(d.names, kept) {
		files[name] = o.partly(d.files[id].synced, d.files[id].may)
	}
	return files
}

// partly is a file after what the outcome keeps of its steps. Without sizes it is as long as its last sector that was kept.
func (o outcome) partly(data []byte, steps []step) []byte {
	data = bytes.Clone(data)
	junk := rand.New(rand.NewPCG(o.junk, uint64(len(steps))))
	reach := func(size int64) {
		was := len(data)
		data = append(data, make([]byte, max(0, size-int64(was)))...)
		for i := was; o.junk > 0 && i < len(data); i++ {
			data[i] = byte(junk.Uint32())
		}
	}
	for n, s := range steps {
		if s.kind == stepTruncate {
			if o.keep(n, 0, len(steps)) {
				reach(s.off)
				data = data[:s.off]
			}
			continue
		}
		end := s.off + int64(len(s.data))
		for from := s.off; from < end; {
			to := min(from-from%sector+sector, end)
			kept := o.keep(n, from/sector, len(steps))
			if kept || o.sizes {
				reach(to)
			}
			if kept {
				copy(data[from:to], s.data[from-s.off:])
			}
			from = to
		}
	}
	return data
}
