package tomltree

import (
	"io/fs"
	"strings"
	"testing"

	tomltest "github.com/toml-lang/toml-test/v2"
)

// suite returns the names of the official test suite's files for TOML 1.0, and the file system they lie in.
// Source: github.com/toml-lang/toml-test v2.2.0, tests/files-toml-1.0.0.
func suite(t *testing.T) (fs.FS, []string) {
	t.Helper()
	files := tomltest.TestCases()
	list, err := fs.ReadFile(files, "files-toml-1.0.0")
	if err != nil {
		t.Fatal(err)
	}
	return files, strings.Fields(string(list))
}

func TestOfficialSuite(t *testing.T) {
	files, names := suite(t)
	valid, invalid := 0, 0
	for _, name := range names {
		if !strings.HasSuffix(name, ".toml") {
			continue
		}
		data, err := fs.ReadFile(files, name)
		if err != nil {
			t.Fatal(err)
		}
		root, problems := Parse(name, data)
		switch {
		case strings.HasPrefix(name, "valid/"):
			valid++
			if len(problems) > 0 {
				t.Errorf("refused, but it is TOML 1.0: %v", problems)
			}
		case strings.HasPrefix(name, "invalid/"):
			invalid++
			if root != nil {
				t.Errorf("accepted, but it is not TOML 1.0: %s\n%s", name, data)
			}
		}
	}
	if valid < 200 || invalid < 350 {
		t.Errorf("the suite had %d valid and %d invalid files: it was not read whole", valid, invalid)
	}
	t.Logf("%d valid, %d invalid", valid, invalid)
}
