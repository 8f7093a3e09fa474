package season_test

import (
	"fmt"
	"testing"

	"sheetwash/analysis/result"
	"sheetwash/analysis/season"
)

// A mean over events with bounds has a derivation however far the events differ
// beyond their plots, with the likelihood where its integral can be evaluated.
func TestDeriveShiftedEvents(t *testing.T) {
	for _, tt := range []struct {
		scatter float64
		fit     bool
	}{{3, true}, {0.2, false}} {
		derived := false
		var rows []result.PlotRow
		for e, level := range []float64{20, 35, 28, 50} {
			for p, z := range []float64{-1, 0.3, 1} {
				rows = append(rows, plot(fmt.Sprint("e", e), fmt.Sprint("r", e), fmt.Sprint("p", p), result.SteadyInfiltrationRate, level+tt.scatter*z))
			}
			right(&rows[len(rows)-1])
		}
		for _, r := range treatments(t, rows) {
			if r.Scope != "all" || r.Method != "censored_mean_of_events" {
				continue
			}
			d, err := season.NewDeriver(rows, season.Settings{Level: 0.95})
			if err != nil {
				t.Fatal(err)
			}
			n, ok := d.Treatment(&r)
			if !ok {
				t.Fatalf("no derivation: %+v", r)
			}
			if err := n.Check(); err != nil {
				t.Error(err)
			}
			if (n.Fit != nil) != tt.fit {
				t.Errorf("scatter %v: likelihood %v", tt.scatter, n.Fit != nil)
			}
			derived = true
		}
		if !derived {
			t.Errorf("scatter %v: no such row", tt.scatter)
		}
	}
}
