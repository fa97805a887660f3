package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"fullery/cmd/fullery/draw"
	"fullery/recipe/drying"
	"fullery/recipe/liquid"
)

// picture draws the curve at the median figures, with the interval of its end. The curve is computed anew in finer
// steps: what is exact enough for a time has corners as a line.
func (e *estimate) picture() ([]byte, error) {
	x := e.expected
	middle := e.of
	middle.Film *= e.belief.Exposure().Median
	middle.Kept = e.keptNow().Median
	run, err := drying.Run(middle, drying.Options{Curve: true, Tolerance: 1e-6})
	if err != nil {
		return nil, err
	}
	p := draw.DryingPlot{Title: e.title() + ": computed drying", Air: celsiusOf(max(e.of.Air, e.of.Warm))}
	p.Subtitle = fmt.Sprintf("%.3g mL kept, air %.3g °C at %.3g %%, flow %.3g L/s; at the median figures", middle.Kept*1e6,
		celsiusOf(e.of.Air), e.of.Humidity*100, e.of.Flow*1e3)
	if !x.Never {
		p.Dry, p.Low, p.High = x.Minutes.Median, x.Minutes.Low, x.Minutes.High
	}
	mixed := false
	for _, at := range run.Curve {
		left := 0.0
		for _, kg := range at.Amounts {
			left += kg
		}
		p.Minutes = append(p.Minutes, at.Seconds/60)
		p.Left = append(p.Left, left*1e3)
		p.Water = append(p.Water, at.Amounts[liquid.Water]*1e3)
		p.Liner = append(p.Liner, celsiusOf(at.Liner))
		mixed = mixed || at.Amounts[liquid.Water] > 0.005*run.KeptMass
	}
	if e.of.Liquid.Alcohol == 0 || !mixed {
		p.Water = nil
	}
	return p.SVG(), nil
}

// toBeDrawn says early that a picture would replace a file; before anything is computed.
func toBeDrawn(path string, force bool) error {
	if path == "" || force {
		return nil
	}
	if _, err := os.Lstat(path); err == nil {
		return said(statusUsage, "%s is there already: name another file, or add --force to replace it", path)
	}
	return nil
}

// writeWhole writes a file that is either there whole or not at all. A file of that name is replaced only with force.
func writeWhole(path string, data []byte, force bool) error {
	dir := filepath.Dir(path)
	temp, err := os.CreateTemp(dir, "."+filepath.Base(path)+".new-*")
	if err != nil {
		return fmt.Errorf("cannot write %s: %w", path, plain(err))
	}
	defer os.Remove(temp.Name())
	_, err = temp.Write(data)
	err = errors.Join(err, temp.Chmod(0o644), temp.Sync(), temp.Close())
	if err == nil {
		err = put(temp.Name(), path, force)
	}
	if err == nil {
		err = syncFolder(dir)
	}
	if errors.Is(err, fs.ErrExist) {
		return fmt.Errorf("%s is there already: name another file, or add --force to replace it", path)
	}
	if err != nil {
		return fmt.Errorf("cannot write %s: %w", path, plain(err))
	}
	return nil
}

// put gives a finished file its name. Without force a link does it, which never replaces; where the file system knows no
// links, as on FAT, a look and a rename must do.
func put(temp, path string, force bool) error {
	if !force {
		err := os.Link(temp, path)
		if err == nil || errors.Is(err, fs.ErrExist) {
			return err
		}
		if _, err := os.Lstat(path); err == nil {
			return fs.ErrExist
		}
	}
	return os.Rename(temp, path)
}

// syncFolder makes the names in a folder durable.
func syncFolder(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}
