//go:build linux || darwin || freebsd

package record

import (
	"crypto/sha256"
	"fmt"
	"maps"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/synctest"

	"fullery/docs"
)

// A power cut at every write point. Histories of a record run over the shim; then, for every point of their logs, what a
// cut there may leave on the disk is laid out in a folder of its own, and opened by the product's code.

// TestPowerCuts tries every outcome at every write point of every history.
func TestPowerCuts(t *testing.T) {
	seeds, every := 4, 1
	if testing.Short() { // with the race detector one look costs a seventh of a second
		seeds, every = 1, 40
	}
	var page strings.Builder
	page.WriteString("| history | write points | outcomes tried | acknowledged entries lost | other faults |\n| --- | --: | --: | --: | --: |\n")
	for _, h := range histories {
		t.Run(h.name, func(t *testing.T) {
			log := h.run(t)
			got := cutEverywhere(t, log, outcomes(seeds), nobody, every)
			fmt.Fprintf(&page, "| %s | %d | %d | %d | %d |\n", h.name, got.points, got.tried, len(got.lost), len(got.other))
			t.Logf("%d write points, %d outcomes, %d of them different", got.points, got.tried, got.different)
			for _, fault := range append(got.lost, got.other...) {
				t.Error(fault)
			}
			if got.points < 20 {
				t.Errorf("the log has %d write points: the shim was not in between", got.points)
			}
		})
	}
	if !testing.Short() && !t.Failed() {
		docs.Hold(t, "powercuts", page.String())
	}
}

// TestShimSeesALoss: with a record that does not wait for the disk, and on a disk that only says that it has synced, the
// same cuts lose acknowledged entries, and the same look finds that out.
func TestShimSeesALoss(t *testing.T) {
	none := outcomes(0)[:1]
	hasty := history{"hasty", func(t *testing.T, path string, p *platter) {
		h := opened(t, path, p)
		h.pragma("synchronous=OFF")
		h.cycle(nil, 8)
		h.close()
	}}
	for name, got := range map[string]findings{
		"a record that does not wait": cutEverywhere(t, hasty.run(t), none, nobody, 1),
		"a disk that never syncs its log": cutEverywhere(t, histories[0].run(t), none,
			func(name string) bool { return strings.HasSuffix(name, "-wal") }, 1),
		"a disk that never syncs": cutEverywhere(t, histories[0].run(t), none, func(string) bool { return true }, 1),
	} {
		if len(got.lost) == 0 {
			t.Errorf("%s: nothing was seen to be lost at %d write points", name, got.points)
		} else {
			t.Logf("%s: %d losses at %d write points; the first: %s", name, len(got.lost), got.points, got.lost[0])
		}
	}
}

// outcomes are what is tried at every point: the plain ones, and so many seeds of random ones.
func outcomes(seeds int) []outcome {
	all := func(int) bool { return true }
	none := func(int) bool { return false }
	keep := func(int, int64, int) bool { return true }
	drop := func(int, int64, int) bool { return false }
	list := []outcome{
		{name: "nothing more", names: none, keep: drop},
		{name: "everything", names: all, keep: keep},
		{name: "names without contents", names: all, keep: drop},
		{name: "names and sizes", names: all, keep: drop, sizes: true},
		{name: "names, sizes and junk", names: all, keep: drop, sizes: true, junk: 1},
		{name: "contents without names", names: none, keep: keep},
		{name: "the last write torn at its front", names: all, keep: func(n int, sector int64, of int) bool {
			return n < of-1 || sector%8 < 3
		}},
		{name: "the last write torn at its back", names: all, sizes: true, keep: func(n int, sector int64, of int) bool {
			return n < of-1 || sector%8 >= 5
		}},
		{name: "the last write alone", names: all, sizes: true, junk: 2, keep: func(n int, _ int64, of int) bool { return n == of-1 }},
		{name: "all but the first write", names: all, keep: func(n int, _ int64, _ int) bool { return n > 0 }},
	}
	for seed := range uint64(seeds) {
		// Each question has its own answer, however often and in whatever order it is asked.
		coin := func(of uint64, a, b int64) bool {
			return rand.NewPCG(seed<<8|of, uint64(a)<<32^uint64(b)*0x9e3779b97f4a7c15).Uint64()%3 > 0
		}
		list = append(list, outcome{name: fmt.Sprint("random ", seed), sizes: seed%2 == 1, junk: seed % 3,
			names: func(n int) bool { return coin(1, int64(n), 0) },
			keep:  func(n int, sector int64, _ int) bool { return coin(2, int64(n), sector) }})
	}
	return list
}

// findings are what the cuts of one log came to.
type findings struct {
	points, tried, different int
	lost                     []string // acknowledged entries that are gone
	other                    []string // anything else that is wrong
}

// laid is one disk to look at.
type laid struct {
	where string
	files map[string][]byte
	shm   bool // what readers shared lies there too, and is junk
	used  bool // a cycle is written to it afterwards
	known known
}

// cutEverywhere cuts a log at every write point, or at every n-th, and looks at what may be left. Contents that were looked
// at already are not looked at again for the same knowledge.
func cutEverywhere(t *testing.T, p *platter, list []outcome, deaf func(string) bool, every int) findings {
	t.Helper()
	cases := make(chan laid)
	var mu sync.Mutex
	var got findings
	var wait sync.WaitGroup
	for range max(2, runtime.GOMAXPROCS(0)) {
		dir := t.TempDir()
		watch(t, dir).unsynced = true
		wait.Go(func() {
			for c := range cases {
				lost, other := c.look(dir)
				mu.Lock()
				got.lost, got.other = append(got.lost, lost...), append(got.other, other...)
				mu.Unlock()
			}
		})
	}
	var k known
	seen := map[[32]byte]bool{}
	d := p.begun()
	// Where a sync fails, what comes before it has been tried without it.
	early := slices.ContainsFunc(p.steps, func(s step) bool { return s.kind == stepForget })
	for at, s := range p.steps {
		if s.kind == stepMark {
			k = s.tell.(known)
			continue
		}
		d.apply(s, deaf)
		if early = early && s.kind != stepForget; early {
			continue
		}
		if got.points++; got.points%every > 0 {
			continue
		}
		for n, o := range list {
			got.tried++
			c := laid{where: fmt.Sprintf("cut after step %d of %d, %s", at+1, len(p.steps), o.name), files: o.files(d),
				shm: (at+n)%2 == 1, used: (at+n)%3 == 0, known: k}
			if sum := c.sum(); !seen[sum] {
				seen[sum] = true
				cases <- c
			}
		}
	}
	close(cases)
	wait.Wait()
	got.different = len(seen)
	slices.Sort(got.lost)
	slices.Sort(got.other)
	return got
}

// sum tells one case from another.
func (c laid) sum() [32]byte {
	h := sha256.New()
	for _, name := range slices.Sorted(maps.Keys(c.files)) {
		fmt.Fprintf(h, "%s %d\n", name, len(c.files[name]))
		h.Write(c.files[name])
	}
	fmt.Fprintf(h, "%+v", c.known)
	return [32]byte(h.Sum(nil))
}

// lay puts the files into an emptied folder.
func (c laid) lay(dir string) error {
	list, err := os.ReadDir(dir)
	if err != nil {
		return err
	}
	for _, old := range list {
		if err := os.Remove(filepath.Join(dir, old.Name())); err != nil {
			return err
		}
	}
	for name, data := range c.files {
		if err := os.WriteFile(filepath.Join(dir, name), data, 0o644); err != nil {
			return err
		}
	}
	if !c.shm {
		return nil
	}
	junk := make([]byte, 32<<10)
	random := rand.New(rand.NewPCG(7, uint64(len(c.files))))
	for i := range junk {
		junk[i] = byte(random.Uint32())
	}
	if c.files[recordName] == nil {
		return nil
	}
	return os.WriteFile(filepath.Join(dir, recordName+"-shm"), junk, 0o644)
}

// history is a life of a record, run on the test's own clock so that its log is the same every time.
type history struct {
	name string
	live func(t *testing.T, path string, p *platter)
}

const recordName = "seed-bank.db"

func (h history) run(t *testing.T) *platter {
	t.Helper()
	dir := t.TempDir()
	path := filepath.Join(dir, recordName)
	if strings.Contains(h.name, "old layout") {
		oldRecord(t, path)
	}
	p := logged(t, dir)
	synctest.Test(t, func(t *testing.T) { h.live(t, path, p) })
	return p
}

var histories = []history{
	{"a fresh record, one cycle begun and finished, a second one cut short", func(t *testing.T, path string, p *platter) {
		h := opened(t, path, p)
		h.cycle(nil, allEntries)
		h.cycle(nil, 8)
		h.close()
	}},
	{"a record of the old layout is brought up to date, its cut-short cycle is continued", func(t *testing.T, path string, p *platter) {
		h := opened(t, path, p)
		h.cycle(&Resolution{Cycle: 2, Choice: ToResume, By: "SB", Wall: noon}, allEntries)
		h.close()
	}},
	{"the log is taken over into the file, and begun anew, in the middle of cycles; closed and opened between", func(t *testing.T, path string, p *platter) {
		h := opened(t, path, p)
		h.pragma("wal_autocheckpoint=12")
		h.cycle(nil, allEntries)
		h.close()
		h = h.again()
		h.pragma("wal_autocheckpoint=7")
		h.cycle(nil, 9)
		h.close()
		h = h.again()
		h.cycle(&Resolution{Cycle: 2, Choice: ToDry, By: "SB", Wall: noon}, 4)
		h.close()
	}},
}
