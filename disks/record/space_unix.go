//go:build linux || darwin || freebsd

package record

import (
	"errors"
	"io/fs"
	"path/filepath"
	"syscall"
)

// FreeBytes returns how many bytes an ordinary user can still write on the disk that holds path. The file, and
// folders above it, need not exist yet.
func FreeBytes(path string) (int64, error) {
	path, err := filepath.Abs(path)
	if err != nil {
		return 0, err
	}
	for {
		var st syscall.Statfs_t
		err := syscall.Statfs(path, &st)
		if err == nil {
			return int64(st.Bavail) * int64(st.Bsize), nil //nolint:unconvert // the types differ between systems
		}
		parent := filepath.Dir(path)
		if parent == path || !errors.Is(err, fs.ErrNotExist) {
			return 0, err
		}
		path = parent
	}
}
