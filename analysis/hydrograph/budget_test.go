package hydrograph_test

import (
	"math"
	"testing"

	"sheetwash/analysis/experiment"
	"sheetwash/analysis/hydrograph"
	"sheetwash/analysis/result"
)

// The lines of each budget make the u of the row, in quadrature, and its value.
func TestBudgetsMakeTheRows(t *testing.T) {
	h := lossPlot(func(*experiment.Plot) {}, 3000, 5000, 7000)
	rows := map[string]result.PlotRow{}
	for _, r := range h.AppendRows(nil, result.PlotRow{Subject: &result.Subject{}, Level: 0.95}) {
		rows[string(r.Metric)+"/"+r.Method] = r
	}
	budgets := h.Budgets()
	if len(budgets) != 8 {
		t.Fatalf("%d budgets", len(budgets))
	}
	for _, b := range budgets {
		r, ok := rows[b.Quantity+"/"+b.Method]
		if !ok {
			t.Errorf("no row of %s by %s", b.Quantity, b.Method)
			continue
		}
		if math.Abs(b.Value-r.Value.V) > 1e-9*math.Abs(r.Value.V) || math.Abs(b.InQuadrature()-r.U.V) > 1e-4*r.U.V || b.Unit != r.Unit {
			t.Errorf("%s: budget %v with u %v, row %v with %v", b.Quantity, b.Value, b.InQuadrature(), r.Value.V, r.U.V)
		}
	}
	dry := lossPlot(func(p *experiment.Plot) { p.Onset = experiment.OnsetNone })
	if n := len(dry.Budgets()); n != 3 {
		t.Errorf("%d budgets of a dry plot", n)
	}
	none := lossPlot(func(*experiment.Plot) {})
	if b := none.Budgets(); b != nil || none.Status != hydrograph.NoData {
		t.Errorf("budgets of no data: %v", b)
	}
}
