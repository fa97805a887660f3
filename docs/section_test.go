package docs

import (
	"os"
	"path/filepath"
	"testing"
)

func TestUpdate(t *testing.T) {
	path := filepath.Join(t.TempDir(), page)
	if err := os.WriteFile(path, []byte("Head\n<!-- a -->\nold\n<!-- /a -->\nmiddle\n<!-- b -->\n<!-- /b -->\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	for range 2 { // the second time changes nothing
		if err := update(path, "a", "new\n"); err != nil {
			t.Fatal(err)
		}
	}
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if want := "Head\n<!-- a -->\n\nnew\n\n<!-- /a -->\nmiddle\n<!-- b -->\n<!-- /b -->\n"; string(text) != want {
		t.Errorf("got %q, want %q", text, want)
	}
	if err := update(path, "c", "x"); err == nil {
		t.Error("a section that is not there was written")
	}
}
