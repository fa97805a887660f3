package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"
)

func newInstallService() *cobra.Command {
	var f installFlags
	c := &cobra.Command{
		Use:   "install-service",
		Short: "Have the system serve a bench from its start on: a unit, its user, who may reach the devices",
		Long: "Write the files with which systemd serves a bench: the unit, the user it runs as, the rules for its devices, and the\n" +
			"bench file. --print shows them and writes nothing. Members of the group fullery may then run cycles and give orders.",
		Example: "  fullery install-service --bench my-bench.toml --print",
		Args:    cobra.NoArgs,
		RunE:    func(c *cobra.Command, _ []string) error { return installService(c, f) },
	}
	c.Flags().StringVar(&f.bench, "bench", "", "bench file (default: the shipped simulated one)")
	c.Flags().StringVar(&f.program, "program", "", "path of the binary that the service runs (default: this one)")
	c.Flags().StringVar(&f.root, "root", "/", "folder that the files go under, for making an image")
	c.Flags().BoolVar(&f.print, "print", false, "print the files and write nothing")
	c.Flags().BoolVar(&f.force, "force", false, "replace files that are there already")
	return c
}

type installFlags struct {
	bench, program, root string
	print, force         bool
}

func installService(c *cobra.Command, f installFlags) error {
	b, err := readBench(f.bench)
	if err != nil {
		return err
	}
	if f.program, err = servedProgram(f); err != nil {
		return err
	}
	file := benchFolder + b.Name + ".toml" // the record knows the bench by this name: the service's copy keeps it
	files, err := unitFiles(factsOf(b, f.program, file))
	if err != nil {
		return err
	}
	files = append(files, installed{file, b.Text})
	if f.print {
		for _, file := range files {
			fmt.Fprintf(c.OutOrStdout(), "# ---- %s ----\n%s\n", file.path, file.text)
		}
		return nil
	}
	return install(c, f, files)
}

// servedProgram is the binary that a service can run: one that the system keeps, not one in a person's home.
func servedProgram(f installFlags) (string, error) {
	const usual = "/usr/local/bin/fullery"
	if f.program != "" {
		if !filepath.IsAbs(f.program) {
			return "", said(statusUsage, "--program %s is no full path: write it from the root, as in %s", f.program, usual)
		}
		return f.program, nil
	}
	self, err := os.Executable()
	if err == nil && (strings.HasPrefix(self, "/usr/") || strings.HasPrefix(self, "/opt/")) {
		return self, nil
	}
	if f.print {
		return usual, nil
	}
	return "", said(statusUsage, "a service cannot run %s, which is not a place for programs of the system: copy it to %s and run "+
		"it from there, or name another with --program", self, usual)
}

// install writes the files, all or, where one is in the way, none.
func install(c *cobra.Command, f installFlags, files []installed) error {
	if !f.force {
		for _, file := range files {
			path := filepath.Join(f.root, file.path)
			if was, err := os.ReadFile(path); err == nil && string(was) != file.text {
				return said(statusPersonal, "%s is there already and says something else: look at it, then add --force", path)
			} else if err != nil && !errors.Is(err, fs.ErrNotExist) {
				return said(statusUsage, "cannot look at %s: %v", path, plain(err))
			}
		}
	}
	for _, file := range files {
		path := filepath.Join(f.root, file.path)
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			return said(statusUsage, "cannot make the folder of %s: %v; only the system's administrator can, unless --root names "+
				"another folder", path, plain(err))
		}
		if err := writeWhole(path, []byte(file.text), true); err != nil {
			return withStatus(statusUsage, err)
		}
		fmt.Fprintln(c.OutOrStdout(), "Written:", path)
	}
	fmt.Fprint(c.OutOrStdout(), "Now: systemd-sysusers; udevadm control --reload; udevadm trigger; systemctl daemon-reload;\n"+
		"systemctl enable --now fullery. It claims the bench with every output off, and starts nothing.\n"+
		"Let people give orders: usermod -aG fullery NAME\n")
	return nil
}
