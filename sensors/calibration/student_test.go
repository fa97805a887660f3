package calibration

import (
	"math"
	"testing"
)

// Both sides, 95 %: NIST/SEMATECH e-Handbook of Statistical Methods, upper critical values of Student's t distribution,
// column 0.025.
func TestStudent95(t *testing.T) {
	table := []float64{12.706, 4.303, 3.182, 2.776, 2.571, 2.447, 2.365, 2.306, 2.262, 2.228, 2.201, 2.179, 2.160, 2.145, 2.131,
		2.120, 2.110, 2.101, 2.093, 2.086, 2.080, 2.074, 2.069, 2.064, 2.060, 2.056, 2.052, 2.048, 2.045, 2.042}
	for i, want := range table {
		if got := Student95(i + 1); math.Abs(got-want) > 0.0006 {
			t.Errorf("%d degrees of freedom: %.4f, want %.3f", i+1, got, want)
		}
	}
	for df, want := range map[int]float64{40: 2.021, 60: 2.000, 100: 1.984} {
		if got := Student95(df); math.Abs(got-want) > 0.0006 {
			t.Errorf("%d degrees of freedom: %.4f, want %.3f", df, got, want)
		}
	}
	if Student95(1_000_000) != Student95(1000) || !math.IsInf(Student95(0), 1) || !math.IsInf(Student95(-3), 1) {
		t.Error("at its ends")
	}
	// One degree of freedom has a closed form: the tangent of 0.475 π.
	if got, want := Student95(1), math.Tan(0.475*math.Pi); math.Abs(got-want) > 1e-9*want {
		t.Errorf("%.12f, want %.12f", got, want)
	}
}
