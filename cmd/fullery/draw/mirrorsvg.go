package draw

import (
	"fmt"
	"strings"
)

// classNames are the looks by name in a file of marks.
var classNames = [numClasses]string{classPage: "page", classGrid: "grid", classAxis: "axis", classStill: "still",
	classLost: "lost", classRegained: "regained", classUntried: "untried", classHead: "head", classQuiet: "quiet"}

// mirrorLook has lighter strokes for viewers that know a dark scheme, as all pictures here. What is newly lost is
// hatched and what is regained hollow, so that a grey print tells them apart.
const mirrorLook = `<style>
.grid{stroke:none;fill:#d9dbdd}
.axis,.untried{fill:#5c646b}
.still{fill:#8a9299}
.lost{fill:url(#hatch);stroke:#d9730d}
.stripe{stroke:#d9730d;stroke-width:2.6}
.regained{fill:none;stroke:#1f6fb2;stroke-width:1.5}
@media (prefers-color-scheme: dark){
.grid{stroke:none;fill:#34393e}.axis,.untried{fill:#a5adb4}.lost,.stripe{stroke:#f29a45}.regained{stroke:#6db1ea}}
</style>
<defs><pattern id="hatch" width="5" height="5" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><path class="stripe" d="M0 0V5"/></pattern></defs>
`

// inset is how far the middle of an outline lies inside its rectangle, so that neighbours do not overlap.
var inset = [numClasses]float64{classLost: 0.5, classRegained: 0.75}

// SVG draws the picture as a file of its own, without scripts, fonts or anything from elsewhere. The same picture always
// gives the same bytes.
func (m Mirror) SVG() []byte {
	p := m.page()
	s := &sheet{}
	s.add(`<svg xmlns="http://www.w3.org/2000/svg" width="%d" height="%s" viewBox="0 0 %d %s" role="img">`, pageWidth, num(p.high),
		pageWidth, num(p.high))
	s.add(`<title>%s</title><desc>%s</desc>`, plainText(m.Title), plainText(m.Subtitle))
	s.b.WriteString(look + mirrorLook)
	// All rectangles of one look are one path: a disk has hundreds.
	for c := range numClasses {
		var d strings.Builder
		for _, r := range p.shapes {
			if r.class == c && r.words == "" && c < classHead {
				by := min(inset[c], r.w/2, r.h/2)
				fmt.Fprintf(&d, "M%s %sh%sv%sh%sz", hundredth(r.x+by), hundredth(r.y+by), hundredth(r.w-2*by), hundredth(r.h-2*by),
					hundredth(2*by-r.w))
			}
		}
		if d.Len() > 0 {
			s.add(`<path class="%s" d="%s"/>`, classNames[c], d.String())
		}
	}
	for _, r := range p.shapes {
		if r.words != "" {
			s.text(r.x, r.y, classNames[r.class], r.anchor, r.words)
		}
	}
	s.add("</svg>")
	return []byte(s.b.String())
}

// hundredth writes a coordinate to a hundredth of a pixel: bars are a few pixels wide, and tenths would show in their gaps.
func hundredth(v float64) string {
	text := strings.TrimRight(fmt.Sprintf("%.2f", v+0), "0")
	if text = strings.TrimSuffix(text, "."); text == "-0" {
		return "0"
	}
	return text
}
