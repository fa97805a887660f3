package draw

import "strings"

// Colours is what a terminal can show.
type Colours uint8

// The kinds of terminal. Attention is bold everywhere, so that it stands out without colours too.
const (
	NoColours  Colours = iota // bold only
	Sixteen                   // the eight old colours and their bright forms
	FullColour                // the 256-colour palette or better
)

// tones are the select-graphic-rendition parameters (ECMA-48) of each tone. In the 256-colour palette 33 is a blue
// and 208 an orange that stay apart for every common kind of colour blindness and read on dark and on light. Among
// sixteen colours the nearest to that orange would be a red, so brown (33) stands for it.
var tones = [...][Strong + 1]string{
	NoColours:  {Attention: "1", Strong: "1"},
	Sixteen:    {OnTrack: "94", Attention: "1;33", Quiet: "90", Strong: "1"},
	FullColour: {OnTrack: "38;5;33", Attention: "1;38;5;208", Quiet: "38;5;245", Strong: "1"},
}

// ANSI joins lines, with their tones as far as the terminal can show them.
func ANSI(lines []Line, colours Colours) string {
	var b strings.Builder
	for i, l := range lines {
		if i > 0 {
			b.WriteByte('\n')
		}
		for _, s := range l {
			code := ""
			if s.Tone <= Strong && int(colours) < len(tones) {
				code = tones[colours][s.Tone]
			}
			if code == "" || s.Text == "" {
				b.WriteString(s.Text)
				continue
			}
			b.WriteString("\x1b[" + code + "m" + s.Text + "\x1b[m")
		}
	}
	return b.String()
}
