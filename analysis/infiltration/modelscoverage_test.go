package infiltration_test

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"sheetwash/analysis/infiltration"
	"sheetwash/analysis/result"
	"sheetwash/analysis/simulate"
)

// modelsStudy runs draws through all models. Cells are named by the soil and the
// model; the average is a model among them.
func modelsStudy(c conditions, n int, seed uint64) map[string]*cell {
	r := rand.New(rand.NewPCG(seed, 2))
	cells := map[string]*cell{}
	for range n {
		d := newDraw(r, c)
		if !d.truth.OnsetMin.OK {
			continue
		}
		answer := infiltration.Models(d.in)
		for _, p := range answer.Rows() {
			if p.Name != infiltration.CapacityAtEnd {
				continue
			}
			e := result.Estimate{Value: p.Value, U: p.U, Low: p.Low, High: p.High}
			for _, soil := range []string{d.soil, "all soils"} {
				name := soil + ", " + p.Model
				if cells[name] == nil {
					cells[name] = &cell{}
				}
				if !p.Value.OK {
					cells[name].missing++
					continue
				}
				cells[name].add(&d, &e)
			}
		}
	}
	return cells
}

// TestModelsCoverage shows how well each model, and their average, tells the
// capacity at the end of rain of soils that follow it or not. That a single wrong
// model's interval holds the truth is not asked for; that of the right one, and the
// average's, is.
func TestModelsCoverage(t *testing.T) {
	cells := modelsStudy(conditions{instruments: simulate.FieldInstruments()}, *draws/4, *seed)
	names := []string{}
	for name := range cells {
		names = append(names, name)
	}
	slices.Sort(names)
	var table strings.Builder
	for _, name := range names {
		c := cells[name]
		fmt.Fprintf(&table, "%s %d |\n", c.row(name), c.missing)
	}
	t.Logf("%d draws, seed %d\n| soil, model | n | median error / limit | 90 %% of errors below | %% covered | %% truth below | %% truth above | median width / limit | without a value |\n| --- | --- | --- | --- | --- | --- | --- | --- | --- |\n%s",
		*draws/4, *seed, table.String())
	for _, name := range []string{
		"Green-Ampt soil, " + infiltration.GreenAmptModel, "Horton soil, " + infiltration.HortonPonding, "Philip soil, " + infiltration.PhilipTwoTerm,
		"all soils, " + infiltration.ModelAverage,
	} {
		if c := cells[name]; c.covered() < 85 {
			t.Errorf("%s: %.1f %% of %d intervals hold the truth, want at least 85 %%", name, c.covered(), c.n)
		}
	}
}
