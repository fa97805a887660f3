// Packimage writes the guest's first file system: an archive in the "newc" form of cpio, which the kernel unpacks into
// memory. It needs neither root nor a cpio program.
//
//	packimage -out IMAGE -kernel FOLDER -load i2c-dev,sht3x init=PATH steps/10-smoke=PATH …
//
// FOLDER is that of one unpacked kernel package. A module that this kernel has built in is left out; one that is nowhere
// is an error. Folders and the console's node are added by themselves. Every file can be executed.
package main

import (
	"bufio"
	"flag"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
)

func main() {
	out := flag.String("out", "", "image to write")
	kernel := flag.String("kernel", "", "folder of an unpacked kernel package")
	load := flag.String("load", "", "modules, in the order of loading")
	flag.Parse()
	if err := pack(*out, *kernel, *load, flag.Args()); err != nil {
		fmt.Fprintln(os.Stderr, "packimage:", err)
		os.Exit(1)
	}
}

// pack writes the image with the modules and with the files that are named TARGET=SOURCE.
func pack(out, kernel, load string, named []string) error {
	files := map[string]string{}
	for _, pair := range named {
		target, source, ok := strings.Cut(pair, "=")
		if !ok {
			return fmt.Errorf("%q is not of the form TARGET=SOURCE", pair)
		}
		files[target] = source
	}
	if load != "" {
		if err := addModules(files, kernel, strings.Split(load, ",")); err != nil {
			return err
		}
	}
	f, err := os.Create(out)
	if err != nil {
		return err
	}
	w := bufio.NewWriterSize(f, 1<<20)
	if err := archive(w, files); err != nil {
		return err
	}
	if err := w.Flush(); err != nil {
		return err
	}
	return f.Close()
}

// addModules finds each module below the kernel's folder.
func addModules(files map[string]string, kernel string, names []string) error {
	found := map[string]string{}
	var builtIn string
	err := filepath.WalkDir(kernel, func(p string, d fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case d.Name() == "modules.builtin":
			b, err := os.ReadFile(p)
			builtIn = string(b)
			return err
		case strings.HasSuffix(p, ".ko"):
			found[strings.TrimSuffix(d.Name(), ".ko")] = p
		}
		return nil
	})
	if err != nil {
		return err
	}
	for i, name := range names {
		switch p := found[name]; {
		case p != "":
			files[fmt.Sprintf("modules/%02d-%s.ko", i, name)] = p
		case !strings.Contains(builtIn, "/"+name+".ko\n"):
			return fmt.Errorf("there is no module %s below %s", name, kernel)
		}
	}
	return nil
}

// The kinds of entries, with their rights.
const (
	folder    = 0o040755
	node      = 0o020600
	regular   = 0o100755
	alignment = 4
)

// archive writes folders before what lies in them, nodes, then files, in order of their names.
func archive(w io.Writer, files map[string]string) error {
	folders := map[string]bool{"dev": true, "proc": true, "sys": true, "run": true}
	for target := range files {
		for p := path.Dir(target); p != "."; p = path.Dir(p) {
			folders[p] = true
		}
	}
	a := &archiver{w: w}
	for _, name := range sorted(folders) {
		a.entry(name, folder, 0, nil)
	}
	a.entry("dev/console", node, 1, nil) // before devtmpfs is mounted, init would have no console
	for _, target := range sorted(files) {
		b, err := os.ReadFile(files[target])
		if err != nil {
			return err
		}
		a.entry(target, regular, 0, b)
	}
	a.entry("TRAILER!!!", 0, 0, nil)
	return a.err
}

func sorted[V any](m map[string]V) []string {
	var names []string
	for name := range m {
		names = append(names, name)
	}
	slices.Sort(names)
	return names
}

// archiver keeps the first error, so that the entries can be written without a check after each.
type archiver struct {
	w     io.Writer
	inode int
	err   error
}

// entry writes one entry; minor is the minor number of a node of the console's kind, whose major number is 5.
func (a *archiver) entry(name string, mode, minor int, data []byte) {
	a.inode++
	major := 0
	if minor > 0 {
		major = 5
	}
	head := "070701"
	for _, field := range []int{a.inode, mode, 0, 0, 1, 0, len(data), 0, 0, major, minor, len(name) + 1, 0} {
		head += fmt.Sprintf("%08X", field)
	}
	a.padded([]byte(head + name + "\x00"))
	a.padded(data)
}

func (a *archiver) padded(b []byte) {
	if a.err == nil {
		_, a.err = a.w.Write(b)
	}
	if rest := len(b) % alignment; rest != 0 && a.err == nil {
		_, a.err = a.w.Write(make([]byte, alignment-rest))
	}
}
