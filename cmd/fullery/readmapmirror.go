package main

import (
	"fmt"

	"fullery/cmd/fullery/draw"
	"fullery/disks/readback"
)

// diskMap is one table, or two and what changed between them.
type diskMap struct {
	format readback.Format
	paths  []string
	tables []*readback.Table
	change *readback.Comparison // nil: one table
}

// mirror is the map as a picture.
func (m *diskMap) mirror() draw.Mirror {
	before := m.tables[0].Total()
	p := draw.Mirror{Title: onScreen(m.paths[0]), Heads: m.format.Heads, Compared: m.change != nil,
		Subtitle: fmt.Sprintf("%s: %s", m.format, countWords(before))}
	if m.change == nil {
		for _, t := range m.tables[0].Tracks() {
			p.Tracks = append(p.Tracks, draw.MirrorTrack{Sectors: t.Total(), Still: t.Unread(), Untried: t.Untried})
		}
		return p
	}
	after := m.tables[1].Total()
	p.Title = fmt.Sprintf("%s before, %s after", onScreen(m.paths[0]), onScreen(m.paths[1]))
	p.Subtitle = fmt.Sprintf("%s: %d of %d sectors read before (%s), %d after (%s)", m.format, before.Good, before.Total(),
		shareWords(before), after.Good, shareWords(after))
	// What was unread at its first try stands with the still missing, because it is not read now and nothing was lost; what was
	// tried before and not after is unknown now, whatever it was.
	for _, t := range m.change.Tracks {
		n, _ := m.format.TrackAt(t.Cylinder, t.Head)
		p.Tracks = append(p.Tracks, draw.MirrorTrack{Sectors: n, Still: t.StillMissing + t.FirstMissing, Lost: t.NewlyLost,
			Regained: t.Regained, Untried: t.NeverTried + t.DroppedGood + t.DroppedMissing})
	}
	p.Notes = changeNotes(m.change.Total)
	return p
}

// changeNotes say what bars cannot.
func changeNotes(c readback.Change) (notes []string) {
	note := func(n int, format string) {
		if n > 0 {
			notes = append(notes, fmt.Sprintf(format, sectors(n)))
		}
	}
	note(c.FirstMissing, "%s not tried before and not read after: drawn with the still missing, though never read.")
	note(c.FirstGood, "%s not tried before and read after: not drawn, because nothing is missing and nothing was regained.")
	note(c.DroppedGood, "%s read before and not tried after: marked as not tried.")
	note(c.DroppedMissing, "%s not read before and not tried after: marked as not tried.")
	if !c.Exact {
		notes = append(notes, "Counts by track leave open which sectors they mean: regained and newly lost are the fewest that explain them.")
	}
	return notes
}

// changeJSON is what became of the sectors of a track or a disk.
type changeJSON struct {
	// The nine add up to the sectors. First: untried before. Dropped: untried after.
	Regained       int  `json:"regained"`
	NewlyLost      int  `json:"newly_lost"`
	StillMissing   int  `json:"still_missing"`
	StillGood      int  `json:"still_good"`
	FirstGood      int  `json:"first_good"`
	FirstMissing   int  `json:"first_missing"`
	DroppedGood    int  `json:"dropped_good"`
	DroppedMissing int  `json:"dropped_missing"`
	NeverTried     int  `json:"never_tried"`
	Exact          bool `json:"exact"` // false: counts by track, regained and newly lost are the fewest possible
}

// changeOf is a pointer, so that it can be null where there is but one table.
func changeOf(c readback.Change) *changeJSON {
	return &changeJSON{c.Regained, c.NewlyLost, c.StillMissing, c.StillGood, c.FirstGood, c.FirstMissing, c.DroppedGood,
		c.DroppedMissing, c.NeverTried, c.Exact}
}

// mapJSON is the map for a program. After and change are null for one table.
type mapJSON struct {
	Format string         `json:"format"`
	Before mapTableJSON   `json:"before"`
	After  *mapTableJSON  `json:"after"`
	Change *changeJSON    `json:"change"`
	Tracks []mapTrackJSON `json:"tracks"`
}

type mapTableJSON struct {
	File    string     `json:"file"`
	ByTrack bool       `json:"by_track"`
	Counts  countsJSON `json:"counts"`
}

// mapTrackJSON is one track: of one table its counts, of two the change.
type mapTrackJSON struct {
	Cylinder int         `json:"cylinder"`
	Head     int         `json:"head"`
	Counts   *countsJSON `json:"counts,omitempty"`
	Change   *changeJSON `json:"change,omitempty"`
}

// json has every track, in the order of an image.
func (m *diskMap) json() mapJSON {
	tables := make([]mapTableJSON, len(m.tables))
	for i, t := range m.tables {
		tables[i] = mapTableJSON{m.paths[i], t.ByTrack(), countsOf(t.Total())}
	}
	out := mapJSON{Format: m.format.String(), Before: tables[0]}
	if m.change == nil {
		for _, t := range m.tables[0].Tracks() {
			counts := countsOf(t.Counts)
			out.Tracks = append(out.Tracks, mapTrackJSON{Cylinder: t.Cylinder, Head: t.Head, Counts: &counts})
		}
		return out
	}
	out.After, out.Change = &tables[1], changeOf(m.change.Total)
	for _, t := range m.change.Tracks {
		out.Tracks = append(out.Tracks, mapTrackJSON{Cylinder: t.Cylinder, Head: t.Head, Change: changeOf(t.Change)})
	}
	return out
}
