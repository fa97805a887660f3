package sweep

import (
	"math"
	"testing"
)

// The closed form against the plain mean over points of the pad, for pads that turn with the disk and against it.
func TestSlidesIsTheMeanOverThePad(t *testing.T) {
	for _, x := range []struct{ area, middle, pads, hub float64 }{
		{6e-4, 0.031, 1, 1.0 / 3}, {6e-4, 0.031, 0, 4}, {6e-4, 0.031, 1, 0}, {20e-4, 0.072, 0.2, 6}, {1e-4, 0, 2, 2},
	} {
		radius, sum, n := math.Sqrt(x.area/math.Pi), 0.0, 0
		const steps = 400
		for i := range steps {
			for j := range steps {
				px, py := radius*(2*(float64(i)+0.5)/steps-1), radius*(2*(float64(j)+0.5)/steps-1)
				if px*px+py*py > radius*radius {
					continue
				}
				for _, sense := range []float64{1, -1} {
					pad, disk := 2*math.Pi*x.pads*sense, 2*math.Pi*x.hub
					// Velocity of the pad's point less that of the disk under it; the disk's axis is middle away along x.
					vx, vy := -pad*py+disk*py, pad*px-disk*(px+x.middle)
					sum += vx*vx + vy*vy
					n++
				}
			}
		}
		want, got := math.Sqrt(sum/float64(n)), slides(x.area, x.middle, x.pads, x.hub)
		if math.Abs(got-want) > 2e-3*want {
			t.Errorf("%+v: %.5f m/s, want %.5f", x, got, want)
		}
	}
}

func TestMiddle(t *testing.T) {
	r := read(t, quickText)
	for media, want := range map[string]float64{"90 mm": 0.031, "130 mm": 0.046, "200 mm": 0.072, "?": 0.031} {
		if r.Media = []string{media}; middle(r) != want {
			t.Errorf("%s: %g", media, middle(r))
		}
	}
	if r.Media = nil; middle(r) != 0.031 {
		t.Errorf("no medium: %g", middle(r))
	}
}
