package main

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"time"
)

// naps is how many seconds in a row a test binary may sleep before it counts as waiting for ever.
const naps = 8

// endAsleep ends what a context runs once every thread of a process has slept for so long. A process that only gets no
// turn on a busy machine is not asleep: one of its threads is ready to run.
func endAsleep(ctx context.Context, end context.CancelFunc, pid int) {
	look := time.NewTicker(time.Second)
	defer look.Stop()
	for slept := 0; slept < naps; {
		select {
		case <-ctx.Done():
			return
		case <-look.C:
		}
		if slept++; !asleep(pid) {
			slept = 0
		}
	}
	end()
}

// asleep tells whether all threads of a process sleep now.
func asleep(pid int) bool {
	threads, err := filepath.Glob(fmt.Sprintf("/proc/%d/task/*/stat", pid))
	if err != nil || len(threads) == 0 {
		return false
	}
	for _, path := range threads {
		text, _ := os.ReadFile(path)
		_, after, _ := bytes.Cut(text, []byte(") ")) // pid (name) state …
		if len(after) > 0 && after[0] != 'S' {
			return false
		}
	}
	return true
}
