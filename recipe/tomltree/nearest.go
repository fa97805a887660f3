package tomltree

import "unicode/utf8"

// Nearest returns the name that is most like the one written, or "" when none is like it: at most a third of its
// letters differ (at least two may). Of equals the first in names is taken.
func Nearest(written string, names []string) string {
	if len(written) > 64 {
		return ""
	}
	best, nearest := max(2, utf8.RuneCountInString(written)/3)+1, ""
	for _, name := range names {
		if d := distance([]rune(written), []rune(name)); d < best {
			best, nearest = d, name
		}
	}
	if best >= utf8.RuneCountInString(written) {
		return "" // every letter would change
	}
	return nearest
}

// distance counts the letters to insert, drop, change or swap with their neighbour to turn a into b (the optimal
// string alignment distance; a swap is the commonest slip of the fingers).
func distance(a, b []rune) int {
	before, last, row := make([]int, len(b)+1), make([]int, len(b)+1), make([]int, len(b)+1)
	for j := range last {
		last[j] = j
	}
	for i := 1; i <= len(a); i++ {
		row[0] = i
		for j := 1; j <= len(b); j++ {
			change := 1
			if a[i-1] == b[j-1] {
				change = 0
			}
			row[j] = min(row[j-1]+1, last[j]+1, last[j-1]+change)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				row[j] = min(row[j], before[j-2]+1)
			}
		}
		before, last, row = last, row, before
	}
	return last[len(b)]
}
