package tomltree

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// Place is where something stands in a file. Line and Column count from 1; columns count characters, not bytes.
type Place struct {
	File         string
	Line, Column int
}

// String returns "my.toml:12:9", the form that editors and terminals can jump to.
func (p Place) String() string {
	return fmt.Sprintf("%s:%d:%d", p.File, p.Line, p.Column)
}

// Problem is one thing that is wrong with a file.
type Problem struct {
	Place   Place
	Said    string // what is wrong
	Hint    string // what would be right; may be empty
	Warning bool   // the file can be used all the same
}

// String returns the problem as one line: place, what is wrong, what would be right.
func (p Problem) String() string {
	line := p.Place.String() + ": "
	if p.Warning {
		line += "warning: "
	}
	line += p.Said
	if p.Hint != "" {
		line += "; " + p.Hint
	}
	return line
}

// Error returns the same line as String, so that a single problem can travel as an error.
func (p Problem) Error() string { return p.String() }

// Problems is everything that is wrong with a file, in the order of the file. No problems: the file is fine.
type Problems []Problem

// Error returns one line for each problem.
func (ps Problems) Error() string {
	lines := make([]string, len(ps))
	for i, p := range ps {
		lines[i] = p.String()
	}
	return strings.Join(lines, "\n")
}

// Errors returns the problems without the warnings; empty when the file can be used.
func (ps Problems) Errors() Problems {
	var errs Problems
	for _, p := range ps {
		if !p.Warning {
			errs = append(errs, p)
		}
	}
	return errs
}

// Sorted returns the problems in the order of the file. Two at one place stay in the order in which they were found,
// and a problem that was found twice is told once.
func (ps Problems) Sorted() Problems {
	sorted := slices.Clone(ps)
	slices.SortStableFunc(sorted, func(a, b Problem) int {
		return cmp.Or(
			cmp.Compare(a.Place.Line, b.Place.Line),
			cmp.Compare(a.Place.Column, b.Place.Column),
		)
	})
	return slices.Compact(sorted)
}
