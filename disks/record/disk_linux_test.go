package record

import (
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"
)

// mounted makes a small file system of its own, or skips the test where that needs rights that we have not.
func mounted(t *testing.T, options string) string {
	t.Helper()
	dir := t.TempDir()
	if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, options); err != nil {
		t.Skipf("cannot mount a file system here: %v", err)
	}
	t.Cleanup(func() { syscall.Unmount(dir, syscall.MNT_DETACH) })
	return dir
}

// TestSmallDisk fills a real file system of 1 MB mid-run (I05).
func TestSmallDisk(t *testing.T) {
	ctx := within(t)
	dir := mounted(t, "size=1m")
	r := reopen(t, filepath.Join(dir, "seed-bank.db"), quick)
	c := begin(t, r, example())
	wantFault(t, CheckSpace(r.Path()), ErrLowSpace, r.Path())
	short, cancel := context.WithTimeout(ctx, time.Second)
	defer cancel()
	for n := 0; c.Flush(short) == nil; n++ {
		c.PutEvent(long(n))
	}
	h := c.Health()
	wantFault(t, h.Why, ErrFull, r.Path())
	if events, err := r.Events(ctx, 1); err != nil || uint64(len(events)) != c.Acked() {
		t.Errorf("%d events are readable, %d were acknowledged, %v", len(events), c.Acked(), err)
	}
	if err := syscall.Mount("tmpfs", dir, "tmpfs", syscall.MS_REMOUNT, "size=64m"); err != nil {
		t.Fatal(err)
	}
	if err := c.Finish(ctx, End{State: "stopped", Reason: "record failing"}); err != nil {
		t.Error(err)
	}
}

// TestReadOnlyFileSystem: a card that was remounted read-only refuses a start with its reason, and can be read (I06).
func TestReadOnlyFileSystem(t *testing.T) {
	ctx := within(t)
	dir := mounted(t, "size=4m")
	path := filepath.Join(dir, "seed-bank.db")
	write(t, path, read(t, filled(t)))
	if err := syscall.Mount("tmpfs", dir, "tmpfs", syscall.MS_REMOUNT|syscall.MS_RDONLY, ""); err != nil {
		t.Skipf("cannot remount: %v", err)
	}
	for _, name := range []string{path, filepath.Join(dir, "new.db"), filepath.Join(dir, "folder", "new.db")} {
		_, err := Open(ctx, name)
		wantFault(t, err, ErrReadOnly, name)
	}
	r, err := OpenReadOnly(ctx, path)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	if cycles, err := r.Cycles(ctx, 0); err != nil || len(cycles) != 1 {
		t.Errorf("%d cycles, %v", len(cycles), err)
	}
	_, err = r.Begin(ctx, example())
	wantFault(t, err, ErrReadOnly, path)
}

// TestReadOnlyFolder: the same where only the folder's permissions forbid writing. Root may write anywhere, so root
// runs the test again as nobody.
func TestReadOnlyFolder(t *testing.T) {
	path := filled(t)
	dir := filepath.Dir(path)
	if err := os.Chmod(dir, 0o555); err != nil {
		t.Fatal(err)
	}
	defer os.Chmod(dir, 0o755)
	if os.Getuid() != 0 {
		_, err := Open(within(t), path)
		wantFault(t, err, ErrReadOnly, path)
		r, err := OpenReadOnly(within(t), path)
		if err != nil {
			t.Fatal(err)
		}
		defer r.Close()
		return
	}
	const nobody = 65534
	for up := dir; strings.HasPrefix(up, os.TempDir()+"/"); up = filepath.Dir(up) {
		os.Chmod(up, 0o555)
		defer os.Chmod(up, 0o755)
	}
	exe := filepath.Join(t.TempDir(), "record.test")
	write(t, exe, read(t, os.Args[0]))
	os.Chmod(exe, 0o755)
	os.Chmod(filepath.Dir(exe), 0o755)
	cmd := exec.Command(exe)
	cmd.Env = append(os.Environ(), childPath+"="+path, childJob+"=open")
	cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: nobody, Gid: nobody}}
	in, _ := cmd.StdinPipe()
	defer in.Close()
	out, _ := cmd.Output()
	want := (&Error{Path: path, Kind: ErrReadOnly}).Error()
	if !strings.Contains(string(out), want) {
		t.Errorf("as nobody: %s; want %s", out, want)
	}
}
