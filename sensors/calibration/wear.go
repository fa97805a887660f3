package calibration

import (
	"errors"
	"fmt"
	"math"
	"time"
)

// Siphon looks at what was caught while the pump was off: volume (m³) over a time, where resolution (m³) is the least
// that the scale or cylinder shows. It returns the flow (m³/s) and a sentence, "" when nothing flowed that could be seen. A
// head that does not pinch its tube empties a container with nobody at it.
func Siphon(volume, resolution float64, over time.Duration) (flow float64, said string, err error) {
	switch {
	case !finite(volume):
		return math.NaN(), "", errors.New("what came while the pump was off is not known: read it again")
	case over <= 0 || !(resolution > 0) || !finite(resolution):
		return math.NaN(), "", errors.New("how long was waited, and how fine the scale or cylinder shows, must be more than nothing")
	}
	flow = volume / over.Seconds()
	switch {
	case volume > resolution:
		said = fmt.Sprintf("flow without pump: %.3g mL came in %.0f s with the pump off (%s): lower the container, or renew tube and head", 1e6*volume, over.Seconds(), perMinute(flow))
	case volume < -resolution:
		said = fmt.Sprintf("%.3g mL less than before while the pump was off: it runs back, or dries up; read it again", -1e6*volume)
	}
	return flow, said, nil
}

// Wear compares a pump's new curve with the earlier one, and looks at what has gone through the tube since it was renewed
// (pumped) against what it lasts (limit), both m³; limit 0: nobody has said. It returns "" or what to know. One
// comparison over all duties is made, not one for each: with several, one of them soon differs by chance.
func Wear(now, before Curve, pumped, limit float64) string {
	if change, interval, n := compare(now, before); n > 0 && math.Abs(change) > interval {
		if change < 0 {
			return fmt.Sprintf("the pump gives %.1f %% less than when it was last calibrated (± %.1f %%): its tube wears", -100*change, 100*interval)
		}
		return fmt.Sprintf("the pump gives %.1f %% more than when it was last calibrated (± %.1f %%): another tube, or another liquid?", 100*change, 100*interval)
	}
	if limit > 0 && !(pumped < limit) {
		return fmt.Sprintf("%.3g L have gone through the tube, which lasts %.3g L: renew it and calibrate", 1000*pumped, 1000*limit)
	}
	return ""
}

// compare returns the mean relative change from one curve to another at the duties of the first that the second covers,
// half its 95 % interval, and how many those duties are.
func compare(now, before Curve) (change, interval float64, n int) {
	var variance float64
	for _, p := range now.Points {
		flow, se, err := before.Flow(p.Duty)
		if err != nil || !(flow > 0) || !(p.Flow > 0) {
			continue
		}
		change += math.Log(p.Flow / flow)
		variance += p.SE*p.SE/(p.Flow*p.Flow) + se*se/(flow*flow)
		n++
	}
	if n == 0 {
		return 0, 0, 0
	}
	// The smaller of the two numbers of degrees of freedom errs on the careful side.
	interval = Student95(min(now.DF, before.DF)) * math.Sqrt(variance) / float64(n)
	return math.Expm1(change / float64(n)), interval, n
}
