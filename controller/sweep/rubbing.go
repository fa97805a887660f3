package sweep

import (
	"math"

	"fullery/recipe"
)

// Wear goes with force times sliding distance (J. F. Archard, "Contact and rubbing of flat surfaces", Journal of
// Applied Physics 24, 1953): per area with pressure times distance. The pressure is the recipe's; the distance is
// worked out here. How much of a coating a metre takes off depends on a factor that nobody has measured for these pads.

// middleOf is the radius of the middle of the recorded band of a disk, m, on which a pad is taken to sit: the mean of
// the outermost and the innermost track. From memory of the track tables of the standards for each size.
var middleOf = map[string]float64{"90 mm": 0.031, "130 mm": 0.046, "200 mm": 0.072}

// slides returns the speed, m/s, at which a round pad slides on the disk, as the root of the mean square over the pad.
// pads and hub are revolutions per second, area is in m².
//
// Against the disk a point of the pad at r from its centre moves by the pad's own turning less the disk's, at r, and by
// the disk's at the distance of the centre. The mean of the square of the first over a disk of radius R is half of that
// at R, and its product with the second is zero on average. Pads turn one way as long as the other, or it is not known
// which way they turn as seen from the disk: the mean of both leaves no product of the two speeds.
func slides(area, middle, pads, hub float64) float64 {
	own, disk := 2*math.Pi*pads, 2*math.Pi*hub
	half := area / math.Pi / 2 // R²/2
	return math.Sqrt((own*own+disk*disk)*half + disk*disk*middle*middle)
}

// middle is that of the first size the recipe is meant for.
func middle(r recipe.Recipe) float64 {
	if len(r.Media) > 0 {
		if m, ok := middleOf[r.Media[0]]; ok {
			return m
		}
	}
	return middleOf["90 mm"]
}
