package simbench

import (
	"fmt"
	"strings"
)

// hint returns a question that names the nearest of names, or nothing when none is near.
func hint(word string, names []string) string {
	if len(word) > 40 {
		return ""
	}
	best, least := "", max(2, len(word)/3)+1
	for _, n := range names {
		if d := edits(strings.ToLower(word), n); d < least {
			best, least = n, d
		}
	}
	if best == "" {
		return ""
	}
	return fmt.Sprintf(" (did you mean %s?)", best)
}

// edits counts the insertions, deletions and replacements of bytes from a to b.
func edits(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		corner := row[0]
		row[0] = i + 1
		for j := range len(b) {
			cost := 1
			if a[i] == b[j] {
				cost = 0
			}
			corner, row[j+1] = row[j+1], min(row[j]+1, row[j+1]+1, corner+cost)
		}
	}
	return row[len(b)]
}
