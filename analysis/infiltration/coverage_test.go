package infiltration_test

import (
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"sheetwash/analysis/infiltration"
	"sheetwash/analysis/result"
	"sheetwash/analysis/simulate"
)

// The study in docs/coverage.md is this test with more draws.
var (
	draws = flag.Int("draws", 400, "plots per condition of the coverage test")
	seed  = flag.Uint64("seed", 20, "seed of the coverage test")
)

// cell collects what happened to the estimates of one kind of plots.
type cell struct {
	errors, widths   []float64 // in units of the limit
	n, above, below  int       // truth above the interval, below it
	limited, missing int       // bounds instead of values; no value
}

// limitOf is the accepted median error: 6 % of the rate or 2 % of the intensity.
func limitOf(d *draw) float64 {
	return math.Max(0.06*d.truth.CapacityMMH, 0.02*d.in.IntensityMMH)
}

func (c *cell) add(d *draw, e *result.Estimate) {
	c.n++
	truth := d.truth.CapacityMMH
	switch {
	case !e.Value.OK:
		c.missing++
		return
	case e.Low.OK && truth < e.Low.V:
		c.below++
	case e.High.OK && truth > e.High.V:
		c.above++
	}
	if e.Censored != "" && e.Censored != result.Observed {
		c.limited++
		return
	}
	c.errors = append(c.errors, math.Abs(e.Value.V-truth)/limitOf(d))
	c.widths = append(c.widths, (e.High.V-e.Low.V)/limitOf(d))
}

func (c *cell) covered() float64 { return 100 * float64(c.n-c.above-c.below) / float64(c.n) }

func quantileOf(x []float64, share float64) float64 {
	if len(x) == 0 {
		return 0
	}
	x = slices.Clone(x)
	slices.Sort(x)
	return x[int(share*float64(len(x)-1))]
}

func (c *cell) row(name string) string {
	return fmt.Sprintf("| %s | %d | %.2f | %.2f | %.1f | %.1f | %.1f | %.2f |", name, c.n,
		quantileOf(c.errors, 0.5), quantileOf(c.errors, 0.9), c.covered(),
		100*float64(c.below)/float64(c.n), 100*float64(c.above)/float64(c.n), quantileOf(c.widths, 0.5))
}

// kinds names the cells that a draw belongs to.
func kinds(d *draw, a *infiltration.Answer) []string {
	wet := (d.truth.RainMin - d.truth.OnsetMin.V) / d.truth.RainMin
	if !d.truth.OnsetMin.OK {
		return []string{"never ran off"}
	}
	names := []string{"all that ran off"}
	add := func(is bool, name string) {
		if is {
			names = append(names, name)
		}
	}
	add(true, d.soil)
	add(d.routed, "water in flow on the plot (0.1-1 min)")
	add(!d.routed, "no water in flow")
	add(d.gaps, "gaps at bottle changes")
	add(d.noted, "onset noted")
	add(!d.noted, "onset not noted")
	add(d.perBottle > 2, "k d > 2")
	add(d.declines > 0 && d.declines < 3, "k T < 3")
	add(d.declines > 8, "k T > 8")
	add(d.flat, "flat curve")
	add(wet < 0.2, "runs off in the last fifth only")
	add(a.Horton.N < 4, "1 to 3 intervals")
	add(a.Horton.N >= 4 && a.Horton.N < 8, "4 to 7 intervals")
	add(a.Horton.Flags.Has(infiltration.FlagNotSteady), "verdict not_steady")
	add(!a.Horton.Flags.Has(infiltration.FlagNotSteady), "no verdict not_steady")
	return names
}

// study runs draws under some conditions.
func study(c conditions, n int, seed uint64) map[string]*cell {
	r := rand.New(rand.NewPCG(seed, 1))
	cells := map[string]*cell{}
	add := func(name string, d *draw, e *result.Estimate) {
		if cells[name] == nil {
			cells[name] = &cell{}
		}
		cells[name].add(d, e)
	}
	for range n {
		d := newDraw(r, c)
		a := infiltration.Steady(d.in)
		headline := &a.Horton
		if a.Headline == infiltration.FinalWindow {
			headline = &a.Window
		}
		for _, k := range kinds(&d, &a) {
			add(k, &d, headline)
		}
		if d.truth.OnsetMin.OK {
			add("final_window", &d, &a.Window)
			if !a.Window.Flags.Has(infiltration.FlagNotSteady) {
				add("final_window, steady", &d, &a.Window)
			}
		}
	}
	return cells
}

// TestCoverage asks for the accepted error and for intervals that hold the
// truth at least as often as stated, over all plots and over each hard kind.
// The truth is physics that shares no code with the estimate.
func TestCoverage(t *testing.T) {
	field := simulate.FieldInstruments()
	coarse := field
	coarse.VolumeStepML, coarse.TimeStepMin = 10, 5.0/60
	for _, tt := range []struct {
		name string
		conditions
	}{
		{"intensity known", conditions{instruments: field}},
		{"intensity nominal, 3 %", conditions{instruments: field, intensityRel: 0.03}},
		{"read to 10 mL and 5 s, intensity known", conditions{instruments: coarse}},
		{"rates of every minute by a logger to 0.5 mm/h, intensity known", conditions{loggerU: 0.5}},
		{"the same to 0.05 mm/h", conditions{loggerU: 0.05}},
	} {
		cells := study(tt.conditions, *draws, *seed)
		names := []string{}
		for name := range cells {
			names = append(names, name)
		}
		slices.Sort(names)
		var table strings.Builder
		for _, name := range names {
			fmt.Fprintln(&table, cells[name].row(name))
		}
		t.Logf("%s, %d draws, seed %d\n| plots | n | median error / limit | 90 %% of errors below | %% covered | %% truth below | %% truth above | median width / limit |\n| --- | --- | --- | --- | --- | --- | --- | --- |\n%s",
			tt.name, *draws, *seed, table.String())
		all := cells["all that ran off"]
		if m := quantileOf(all.errors, 0.5); m > 1 {
			t.Errorf("%s: median error is %.2f of the limit", tt.name, m)
		}
		for _, name := range []string{"all that ran off", "Horton soil", "Green-Ampt soil", "Philip soil"} {
			if c := cells[name]; c.covered() < 90 || c.missing > 0 {
				t.Errorf("%s, %s: %.1f %% of %d intervals hold the truth, %d without a value; want at least 90 %% and none", tt.name, name, c.covered(), c.n, c.missing)
			}
		}
	}
}
