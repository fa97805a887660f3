// Package docs keeps the tables of this folder's pages true: a test that has a result holds it against the page, or
// writes it there. Only tests use it.
package docs

import (
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"
	"testing"
)

// page is the page whose tables are made by tests.
const page = "failsafe.md"

// Hold compares a result with the section of that name in failsafe.md, and fails when they differ. With FULLERY_UPDATE
// set it writes the result there instead. A section stands between <!-- name --> and <!-- /name -->.
func Hold(t testing.TB, section, result string) {
	t.Helper()
	_, here, _, _ := runtime.Caller(0)
	path := filepath.Join(filepath.Dir(here), page)
	if os.Getenv("FULLERY_UPDATE") != "" {
		if err := update(path, section, result); err != nil {
			t.Fatal(err)
		}
		return
	}
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	_, stands, _, err := cut(string(text), section)
	if err != nil {
		t.Fatal(err)
	}
	if strings.TrimSpace(stands) != strings.TrimSpace(result) {
		t.Errorf("docs/%s, section %q, no longer tells the truth; read what changed, then run this test with "+
			"FULLERY_UPDATE=1. It has\n%s\nand the test found\n%s", page, section, stands, result)
	}
}

// update puts a result into its section. Packages are tested side by side: the folder is locked meanwhile.
func update(path, section, result string) error {
	folder, err := os.Open(filepath.Dir(path))
	if err != nil {
		return err
	}
	defer folder.Close()
	if err := syscall.Flock(int(folder.Fd()), syscall.LOCK_EX); err != nil {
		return err
	}
	text, err := os.ReadFile(path)
	if err != nil {
		return err
	}
	before, _, after, err := cut(string(text), section)
	if err != nil {
		return err
	}
	temp := path + ".new"
	text = []byte(before + "\n\n" + strings.TrimSpace(result) + "\n\n" + after)
	if err := os.WriteFile(temp, text, 0o644); err != nil {
		return err
	}
	return os.Rename(temp, path)
}

// cut parts a page into what stands before, in and after a section; the marks stay outside of it.
func cut(text, section string) (before, within, after string, err error) {
	begin, end := "<!-- "+section+" -->", "<!-- /"+section+" -->"
	head, rest, ok := strings.Cut(text, begin)
	within, tail, also := strings.Cut(rest, end)
	if !ok || !also {
		return "", "", "", fmt.Errorf("docs/%s has no section %q: it stands between %s and %s", page, section, begin, end)
	}
	return head + begin, within, end + tail, nil
}
