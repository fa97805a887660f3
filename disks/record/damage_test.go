package record

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"os"
	"path/filepath"
	"testing"
	"testing/fstest"
	"time"
)

// filled makes a record with a finished cycle of some length and closes it.
func filled(t testing.TB) string {
	t.Helper()
	r := testRecord(t, defaults)
	c := begin(t, r, example())
	for n := range 300 {
		c.PutSample(Sample{At: time.Duration(n) * time.Second, AirC: new(21.0), DosedML: new(float64(n))})
	}
	c.PutEvent(Event{Kind: "guard", ID: "lid-open", Said: "The lid was opened."})
	if err := c.Finish(within(t), End{State: "complete"}); err != nil {
		t.Fatal(err)
	}
	if err := r.Close(); err != nil {
		t.Fatal(err)
	}
	return r.Path()
}

func read(t testing.TB, path string) []byte {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

func write(t testing.TB, path string, data []byte) {
	t.Helper()
	if err := os.WriteFile(path, data, 0o644); err != nil {
		t.Fatal(err)
	}
}

// TestEveryOverwrittenPageIsFound overwrites each page in turn (I04): the start says so and leaves the file alone.
func TestEveryOverwrittenPageIsFound(t *testing.T) {
	good := read(t, filled(t))
	const page = 4096
	if len(good)%page != 0 || len(good)/page < 10 {
		t.Fatalf("record of %d bytes", len(good))
	}
	path := filepath.Join(t.TempDir(), "seed-bank.db")
	for at := 0; at < len(good); at += page {
		bad := bytes.Clone(good)
		copy(bad[at:at+page], bytes.Repeat([]byte{0xA5}, page))
		write(t, path, bad)
		_, err := Open(within(t), path)
		kind := ErrDamaged
		if at == 0 {
			kind = ErrNotRecord // nothing tells any more that it was one
		}
		wantFault(t, err, kind, path)
		if !bytes.Equal(read(t, path), bad) {
			t.Fatalf("page at %d: the damaged file was changed", at)
		}
	}
}

func TestUnfitFilesAreLeftAlone(t *testing.T) {
	good := read(t, filled(t))
	foreign := bytes.Clone(good)
	copy(foreign[68:], "SEED")
	newer := bytes.Clone(good)
	newer[63] = 200 // the layout number: offset 60, 4 bytes, https://www.sqlite.org/fileformat2.html section 1.3
	tests := []struct {
		name string
		data []byte
		kind error
	}{
		{"empty, as a power cut leaves it", nil, ErrDamaged},
		{"cut inside the header", good[:50], ErrDamaged},
		{"cut inside a page", good[:len(good)/2+7], ErrDamaged},
		{"text", []byte("cylinder,head,sector,state\n0,0,1,good\n"), ErrNotRecord},
		{"database of another program", foreign, ErrNotRecord},
		{"newer layout", newer, ErrNewer},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "seed-bank.db")
			write(t, path, tt.data)
			_, err := Open(within(t), path)
			wantFault(t, err, tt.kind, path)
			if !bytes.Equal(read(t, path), tt.data) {
				t.Error("the file was changed")
			}
			if tt.kind != ErrDamaged {
				_, err = OpenReadOnly(within(t), path)
				wantFault(t, err, tt.kind, path)
			}
		})
	}
	t.Run("folder", func(t *testing.T) {
		dir := t.TempDir()
		_, err := Open(within(t), dir)
		wantFault(t, err, ErrNotRecord, dir)
	})
	t.Run("missing, read only", func(t *testing.T) {
		path := filepath.Join(t.TempDir(), "seed-bank.db")
		_, err := OpenReadOnly(within(t), path)
		wantFault(t, err, ErrMissing, path)
		if _, err := os.Stat(path); err == nil {
			t.Error("reading made a file")
		}
	})
	t.Run("log without its file", func(t *testing.T) {
		path := filepath.Join(t.TempDir(), "seed-bank.db")
		write(t, path+"-wal", []byte("left over"))
		_, err := Open(within(t), path)
		wantFault(t, err, ErrDamaged, path)
		if string(read(t, path+"-wal")) != "left over" {
			t.Error("the log was changed")
		}
	})
}

// TestDamagedWithLog damages a record whose last entries are only in the log: neither is changed by looking.
func TestDamagedWithLog(t *testing.T) {
	r := testRecord(t, defaults)
	c := begin(t, r, example())
	if err := c.Flush(within(t)); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "copy.db")
	file, log := read(t, r.Path()), read(t, r.Path()+"-wal")
	if len(log) == 0 {
		t.Fatal("no log to test with")
	}
	copy(file[3*4096:], bytes.Repeat([]byte{0xA5}, 4096)) // table attention, which the log does not replace
	write(t, path, file)
	write(t, path+"-wal", log)
	_, err := Open(within(t), path)
	wantFault(t, err, ErrDamaged, path)
	if !bytes.Equal(read(t, path), file) || !bytes.Equal(read(t, path+"-wal"), log) {
		t.Error("looking at the damaged record changed it")
	}
	aside, err := SetAside(path, noon)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(read(t, aside), file) || !bytes.Equal(read(t, aside+"-wal"), log) {
		t.Error("setting it aside lost something")
	}
}

func TestSetAsideNeverReplaces(t *testing.T) {
	path := filepath.Join(t.TempDir(), "seed-bank.db")
	var names []string
	for _, text := range []string{"first", "second", "third"} {
		write(t, path, []byte(text))
		aside, err := SetAside(path, noon)
		if err != nil {
			t.Fatal(err)
		}
		names = append(names, filepath.Base(aside))
		if got := string(read(t, aside)); got != text {
			t.Errorf("%s holds %q, want %q", aside, got, text)
		}
	}
	differ(t, "names", names, []string{"seed-bank.set-aside-20260504T120000Z.db",
		"seed-bank.set-aside-20260504T120000Z-2.db", "seed-bank.set-aside-20260504T120000Z-3.db"})
	_, err := SetAside(path, noon)
	wantFault(t, err, ErrMissing, path)
}

// TestFreshRecordNeedsAcknowledgment: after a damaged record was set aside nothing runs until somebody has read why
// (I04).
func TestFreshRecordNeedsAcknowledgment(t *testing.T) {
	ctx := within(t)
	path := filled(t)
	write(t, path, read(t, path)[:8192])
	r, aside, err := OpenFresh(ctx, path, noon)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	if len(read(t, aside)) != 8192 {
		t.Error("the old record was changed")
	}
	_, err = r.Begin(ctx, example())
	wantFault(t, err, ErrAttention, path)
	told, err := r.Attentions(ctx)
	if err != nil || len(told) != 1 || !told[0].Raised.Equal(noon) {
		t.Fatalf("attentions %v, %v", told, err)
	}
	if err := r.Acknowledge(ctx, told[0].ID, "test", noon); err != nil {
		t.Fatal(err)
	}
	begin(t, r, example())
}

func TestMigrations(t *testing.T) {
	ctx := within(t)
	files := fstest.MapFS{
		"migrations/0001_a.sql": {Data: []byte("create table a (x integer); create table b (x integer);")},
		"migrations/0002_b.sql": {Data: []byte("alter table a add column y integer; insert into a values (1, 2);")},
		"migrations/0003_c.sql": {Data: []byte("update a set y = y + 1;")},
	}
	all, err := migrations(files)
	if err != nil {
		t.Fatal(err)
	}
	for from := range len(all) + 1 {
		path := filepath.Join(t.TempDir(), "old.db")
		db := raw(t, path)
		if err := migrate(ctx, path, db, all[:from]); err != nil {
			t.Fatal(err)
		}
		for range 2 { // the second time there is nothing to do
			if err := migrate(ctx, path, db, all); err != nil {
				t.Fatalf("from layout %d: %v", from, err)
			}
		}
		var x, y, n int
		if err := db.QueryRow("select x, y, (select count(*) from a) from a").Scan(&x, &y, &n); err != nil || x != 1 || y != 3 || n != 1 {
			t.Errorf("from layout %d: %d %d, %d rows, %v", from, x, y, n, err)
		}
		wantFault(t, migrate(ctx, path, db, all[:2]), ErrNewer, path)
	}
	files["migrations/0005_gap.sql"] = &fstest.MapFile{}
	if _, err := migrations(files); err == nil {
		t.Error("a gap in the numbers went unnoticed")
	}
}

// TestFailedMigrationChangesNothing: a step that fails leaves the layout before the first step.
func TestFailedMigrationChangesNothing(t *testing.T) {
	ctx := within(t)
	path := filepath.Join(t.TempDir(), "old.db")
	db := raw(t, path)
	err := migrate(ctx, path, db, []migration{{1, "create table a (x integer)"}, {2, "create nonsense"}})
	wantFault(t, err, ErrFailing, path)
	n := -1
	if have, err := layout(ctx, db); have != 0 || err != nil {
		t.Errorf("layout %d, %v", have, err)
	}
	if err := db.QueryRow("select count(*) from sqlite_master").Scan(&n); n != 0 || err != nil {
		t.Errorf("%d tables are left, %v", n, err)
	}
}

// raw opens a new SQLite file without a layout.
func raw(t testing.TB, path string) *sql.DB {
	t.Helper()
	db, err := connect(path, "rwc", time.Second)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { db.Close() })
	return db
}

// FuzzOpen opens arbitrary bytes as a record: a record, or a sentence and the bytes as they were; never a panic.
func FuzzOpen(f *testing.F) {
	good := read(f, filled(f))
	f.Add(good)
	f.Add(good[:4096])
	f.Add(good[:100])
	f.Add([]byte{})
	f.Add([]byte("SQLite format 3\x00"))
	for _, at := range []int{16, 18, 20, 28, 44, 60, 100, 105, 4096, 8200} {
		bad := bytes.Clone(good)
		bad[at] ^= 0xff
		f.Add(bad)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		path := filepath.Join(t.TempDir(), "fuzz.db")
		write(t, path, data)
		r, err := Open(context.Background(), path)
		if err == nil {
			if err := r.Close(); err != nil {
				t.Logf("closing: %v", err)
			}
			return
		}
		var fault *Error
		if !errors.As(err, &fault) || fault.Path != path || fault.Error() == "" {
			t.Errorf("error without a sentence: %v", err)
		}
		if !bytes.Equal(read(t, path), data) {
			t.Errorf("the file was changed (%v)", err)
		}
	})
}
