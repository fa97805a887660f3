package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// unpack reads an archive back by the form that cpio's manual gives for "newc": names with what they hold.
func unpack(t *testing.T, b []byte) (names []string, held map[string]string) {
	t.Helper()
	held = map[string]string{}
	field := func(n int) int {
		v, err := strconv.ParseInt(string(b[6+8*n:14+8*n]), 16, 32)
		if err != nil {
			t.Fatal(err)
		}
		return int(v)
	}
	for round := func(n int) int { return (n + 3) / 4 * 4 }; ; {
		if !bytes.HasPrefix(b, []byte("070701")) {
			t.Fatalf("no head at %.20q", b)
		}
		size, length := field(6), field(11)
		name := string(b[110 : 110+length-1])
		if name == "TRAILER!!!" {
			return names, held
		}
		body := round(110 + length)
		names = append(names, name)
		held[name] = string(b[body : body+size])
		b = b[body+round(size):]
	}
}

func TestPack(t *testing.T) {
	folder := t.TempDir()
	write := func(name, text string) string {
		path := filepath.Join(folder, name)
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		return path
	}
	write("kernel/lib/second.ko", "two")
	write("kernel/lib/first.ko", "one")
	write("kernel/modules.builtin", "kernel/lib/inside.ko\n")
	out := filepath.Join(folder, "image")
	if err := pack(out, filepath.Join(folder, "kernel"), "first,inside,second", []string{"init=" + write("a", "hello"), "steps/x/y=" + write("b", "")}); err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(out)
	if err != nil {
		t.Fatal(err)
	}
	names, held := unpack(t, b)
	if got := strings.Join(names, " "); got != "dev modules proc run steps steps/x sys dev/console init modules/00-first.ko modules/02-second.ko steps/x/y" {
		t.Errorf("the archive has %s", got)
	}
	if held["init"] != "hello" || held["modules/02-second.ko"] != "two" {
		t.Errorf("the files hold %q", held)
	}
	if err := pack(out, filepath.Join(folder, "kernel"), "third", nil); err == nil {
		t.Error("a module that is nowhere is packed")
	}
}
