package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"fullery/disks/record"
	"fullery/recipe"
	"fullery/recipe/quantity"
	"fullery/sensors/calibration"

	"github.com/spf13/cobra"
)

func newBenchPump() *cobra.Command {
	c := &cobra.Command{
		Use:   "pump",
		Short: "What a pump gives at each duty",
		Args:  cobra.NoArgs,
		RunE:  func(c *cobra.Command, _ []string) error { return c.Help() },
	}
	c.AddCommand(newPumpCalibrate())
	return c
}

// pumpFlags are what a person says of a pump's calibration.
type pumpFlags struct {
	pump, liquid, creep, record string
	duties                      string
	each                        time.Duration
	caught                      []string
	json                        bool
}

func newPumpCalibrate() *cobra.Command {
	var f pumpFlags
	c := &cobra.Command{
		Use:   "calibrate FILE",
		Short: "Make a pump's curve of volumes caught at several duties",
		Long: "Runs the pump at each duty for a while and asks what you caught in a measuring cylinder, twice at each; or takes\n" +
			"what you caught before, with --caught. It goes off at once when the lid opens, the emergency stop is pressed or\n" +
			"the tray's float lifts. Use water, the hose in the cylinder.\n" +
			"A curve that does not rise, or has nothing in it, is refused with the reason, and the old one stays. Between the\n" +
			"duties the curve is drawn straight; outside of them nothing is promised. With --creep say what came in a minute\n" +
			"with the pump off: a worn head lets a tank run empty.",
		Example: "  fullery bench pump calibrate my-bench.toml --pump pump --liquid water \\\n" +
			"    --caught \"20 %, 2.1 mL, 60 s\" --caught \"20 %, 2.0 mL, 60 s\" \\\n" +
			"    --caught \"100 %, 12.2 mL, 60 s\" --caught \"100 %, 12.0 mL, 60 s\" --creep \"0 mL, 60 s\"",
		Args: wants(1, 1, "one bench file"),
		RunE: func(c *cobra.Command, args []string) error { return pumpCalibrate(c, args[0], f) },
	}
	flags := c.Flags()
	flags.StringVar(&f.pump, "pump", "pump", "which: pump or rinse-pump")
	flags.StringVar(&f.liquid, "liquid", "water", "what was pumped")
	flags.StringVar(&f.duties, "duties", "20 %, 60 %, 100 %", "the duties to run it at")
	flags.DurationVar(&f.each, "each", time.Minute, "how long to run it each time")
	flags.StringArrayVar(&f.caught, "caught", nil, "one volume: duty, volume, time, as in \"60 %, 7.5 mL, 60 s\" (repeatable)")
	flags.StringVar(&f.creep, "creep", "", "what came with the pump off: volume, time")
	flags.StringVar(&f.record, "record", "", "record file (default: fullery.db in the user's data folder)")
	flags.BoolVar(&f.json, "json", false, "print as JSON")
	return c
}

// quantities reads a list of quantities, parted by commas, each of its dimension.
func quantities(text string, dims ...quantity.Dimension) ([]float64, error) {
	parts := strings.Split(text, ",")
	if len(parts) != len(dims) {
		return nil, said(statusUsage, "%q should be %d quantities, parted by commas", text, len(dims))
	}
	out := make([]float64, len(dims))
	for i, d := range dims {
		x, err := d.Parse(strings.TrimSpace(parts[i]))
		if err != nil {
			return nil, said(statusUsage, "%q: %v", text, err)
		}
		out[i] = x
	}
	return out, nil
}

// runOf reads one volume that was caught: "60 %, 7.5 mL, 60 s".
func runOf(text string) (calibration.Run, error) {
	x, err := quantities(text, quantity.Share, quantity.Volume, quantity.Duration)
	if err != nil {
		return calibration.Run{}, err
	}
	return calibration.Run{Duty: x[0], Volume: x[1], Time: time.Duration(x[2] * float64(time.Second))}, nil
}

func pumpCalibrate(c *cobra.Command, name string, f pumpFlags) (err error) {
	ctx := contextOf(c)
	b, err := readBench(name)
	if err != nil {
		return err
	}
	curve := map[string]recipe.Pump{"pump": b.Pump, "rinse-pump": b.RinsePump}[f.pump]
	if len(curve.Curve) == 0 {
		return said(statusUsage, "bench %q has no %s", b.Name, f.pump)
	}
	l, err := parseLiquid(f.liquid)
	if err != nil {
		return err
	}
	rec, err := record.Open(ctx, recordPath(f.record))
	if err != nil {
		return bad(err)
	}
	defer func() { err = errors.Join(err, bad(rec.Close())) }()
	if len(f.caught) == 0 {
		burns, err := mayBurn(ctx, rec, b.Name)
		if err != nil {
			return bad(err)
		}
		if f.caught, err = runPump(c, b, f, burns || l.Flammable); err != nil {
			return err
		}
	}
	entry := record.PumpCalibration{Bench: b.Name, Simulated: b.Simulated, Part: f.pump, Made: time.Now(), Program: version(),
		Liquid: f.liquid}
	var runs []calibration.Run
	for _, text := range f.caught {
		one, err := runOf(text)
		if err != nil {
			return err
		}
		runs = append(runs, one)
		entry.Points = append(entry.Points, record.PumpPoint{DutyPct: one.Duty * 100, VolumeML: one.Volume * 1e6, Time: one.Time})
	}
	var notes []string
	if f.creep != "" {
		x, err := quantities(f.creep, quantity.Volume, quantity.Duration)
		if err != nil {
			return err
		}
		flow, told, err := calibration.Siphon(x[0], leastSeen, time.Duration(x[1]*float64(time.Second)))
		if err != nil {
			return bad(err)
		}
		creep := flow * 1e6 * 60
		entry.CreepMLMin = &creep
		if told != "" {
			notes = append(notes, told)
		}
	}
	fitted, why := calibration.PumpCurve(runs)
	if why == nil && len(notes) > 0 {
		why = errors.New(notes[0]) // what flows by itself is no pump to be measured
	}
	entry.Accepted = why == nil
	if why != nil {
		entry.Said = why.Error()
	} else {
		worn, err := wornSince(ctx, rec, entry, fitted)
		if err != nil {
			return bad(err)
		}
		notes = append(append(fitted.Notes, notes...), worn...)
		entry.Said = strings.Join(notes, " ")
	}
	if _, err := rec.PutPumpCalibration(ctx, entry); err != nil {
		return bad(err)
	}
	if why != nil {
		return said(statusNo, "%v\nThe volumes were kept in the record; the curve before it stays.", why)
	}
	if f.json {
		return writeJSON(c.OutOrStdout(), pumpJSONOf(entry, fitted, notes))
	}
	printPump(c.OutOrStdout(), entry, fitted, notes)
	return nil
}

// leastSeen is the least volume that a small cylinder shows, m³: a tenth of a millilitre (common practice, no source).
const leastSeen = 0.1e-6

// printPump prints the curve, in the form of the bench file.
func printPump(w io.Writer, entry record.PumpCalibration, c calibration.Curve, notes []string) {
	fmt.Fprintf(w, "%s of bench %q with %s\n", entry.Part, entry.Bench, entry.Liquid)
	var points []string
	for _, p := range c.Points {
		fmt.Fprintf(w, "  %5.1f %%  %7.2f mL/min ± %.2f (95 %%)  %d times\n", p.Duty*100, p.Flow*6e7, calibration.Student95(c.DF)*p.SE*6e7, p.Runs)
		points = append(points, fmt.Sprintf("[\"%g %%\", \"%.2f mL/min\"]", roundTo(p.Duty*100, 0.01), p.Flow*6e7))
	}
	for _, n := range notes {
		fmt.Fprintln(w, wrap(n, 96, "  "))
	}
	fmt.Fprintf(w, "For the bench file, in [%s]:\n  curve = [%s]\n", entry.Part, strings.Join(points, ", "))
}

// pumpPointJSON is one point of a pump's curve as it is printed.
type pumpPointJSON struct {
	DutyPct float64 `json:"duty_percent"`
	MLMin   float64 `json:"ml_per_min"`
	SE      float64 `json:"se_ml_per_min"`
	Times   int     `json:"times"`
}

type pumpJSON struct {
	Bench  string          `json:"bench"`
	Pump   string          `json:"pump"`
	Liquid string          `json:"liquid"`
	Curve  []pumpPointJSON `json:"curve"`
	Creep  *float64        `json:"creep_ml_per_min"` // null when nobody looked
	Notes  []string        `json:"notes"`
}

func pumpJSONOf(entry record.PumpCalibration, c calibration.Curve, notes []string) pumpJSON {
	out := pumpJSON{Bench: entry.Bench, Pump: entry.Part, Liquid: entry.Liquid, Creep: entry.CreepMLMin, Notes: append([]string{}, notes...)}
	for _, p := range c.Points {
		out.Curve = append(out.Curve, pumpPointJSON{p.Duty * 100, p.Flow * 6e7, p.SE * 6e7, p.Runs})
	}
	return out
}

// wornSince compares a new curve with the one before it, of the same pump and liquid.
func wornSince(ctx context.Context, rec *record.Record, entry record.PumpCalibration, now calibration.Curve) ([]string, error) {
	all, err := rec.PumpCalibrations(ctx, entry.Bench, entry.Simulated, entry.Part)
	if err != nil {
		return nil, err
	}
	for i := len(all) - 1; i >= 0; i-- {
		if !all[i].Accepted || all[i].Liquid != entry.Liquid {
			continue
		}
		var runs []calibration.Run
		for _, p := range all[i].Points {
			runs = append(runs, calibration.Run{Duty: p.DutyPct / 100, Volume: p.VolumeML / 1e6, Time: p.Time})
		}
		before, err := calibration.PumpCurve(runs)
		if err != nil {
			return nil, nil // what was accepted once and is not now compares with nothing
		}
		if told := calibration.Wear(now, before, 0, 0); told != "" {
			return []string{told}, nil
		}
		return nil, nil
	}
	return nil, nil
}
