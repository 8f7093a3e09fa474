package analysis

import (
	"math"

	"sheetwash/analysis/derivation"
	"sheetwash/analysis/erosion"
	"sheetwash/analysis/experiment"
	"sheetwash/analysis/hydrograph"
	"sheetwash/analysis/internal/gum"
	"sheetwash/analysis/rainfall"
	"sheetwash/analysis/result"
)

// Budgets returns the uncertainty budgets of the values of one plot: where the u of
// each row comes from, line by line. False: there is no such plot, or nothing tells its rain.
//
// The rows are not made of budgets: this computes the plot again, for whoever asks. Bounds, values
// without a u, and those of fits have none. Errors: ErrPlan.
func Budgets(d *experiment.Dataset, run, plot string, calibrations []rainfall.Calibration, plan Plan) ([]result.Budget, bool, error) {
	plan, err := plan.checked()
	if err != nil {
		return nil, false, err
	}
	for _, s := range sites(d, plan) {
		if s.run.ID == run && s.plot.ID == plot {
			out, ok := s.budgets(calibrations, plan)
			return out, ok, nil
		}
	}
	return nil, false, nil
}

func (s site) budgets(calibrations []rainfall.Calibration, plan Plan) ([]result.Budget, bool) {
	errs := s.dataset.Errors()
	rain, ok := rainfall.ForPlot(s.dataset.Name(), s.run, s.plot, calibrations, errs)
	if !ok {
		return nil, false
	}
	rain.Under(s.run, s.dataset.Rig(s.run.Simulator))
	h := hydrograph.Of(s.run, s.plot, forHydrograph(rain), errs, plan.Hydrograph)
	drainage := hydrograph.OfDrainage(s.run, s.plot, forHydrograph(rain), errs, plan.Hydrograph)
	in := s.forErosion(&h, plan.Level)
	in.Late = late(&h, &rain)
	sediment := erosion.Of(in)
	water := s.balanceOf(&rain, &h, &drainage, &sediment, plan)
	var out []result.Budget
	parts := [][]gum.Budget{rainBudget(&rain), h.Budgets(), drainage.Budgets(), erosion.Budgets(in), water.Budgets()}
	for _, a := range s.with.analytes {
		parts = append(parts, erosion.AnalyteBudgets(a, in))
	}
	if s.paired {
		parts = append(parts, s.ratioBudgets(calibrations, plan))
	}
	for _, some := range parts {
		for _, b := range some {
			out = append(out, budget(b))
		}
	}
	return out, true
}

// budgetOf is the budget of a row of the plot, nil where it has none. The budgets of the plot are
// made once.
func (t *trace) budgetOf(calibrations []rainfall.Calibration, r *result.PlotRow) *derivation.Budget {
	if t.budgets == nil {
		all, _ := t.site.budgets(calibrations, t.plan)
		t.budgets = append([]result.Budget{}, all...)
	}
	for i := range t.budgets {
		b := &t.budgets[i]
		if b.Metric != r.Metric || b.Method != r.Method {
			continue
		}
		out := &derivation.Budget{Equation: b.Model, U: b.U, Unit: b.Unit, Simulated: b.Simulated}
		for _, l := range b.Lines {
			if l.U == 0 {
				continue // an exact number, or what is not there
			}
			out.Lines = append(out.Lines, derivation.BudgetLine{Input: l.Input, Value: l.Value, Unit: l.Unit, U: l.U,
				Sensitivity: l.Sensitivity, Contribution: l.Contribution, Common: l.Common})
		}
		return out
	}
	return nil
}

// ratioBudgets are those of what sets the plot against the bare plots of its run.
func (s site) ratioBudgets(calibrations []rainfall.Calibration, plan Plan) []gum.Budget {
	whole := ofRun{plots: s.run.Plots, plan: plan, rows: make([][]result.PlotRow, len(s.run.Plots))}
	at := -1
	for i := range s.run.Plots {
		var part Part
		other := site{dataset: s.dataset, run: s.run, plot: &s.run.Plots[i], with: s.with}
		other.analyse(calibrations, plan, &part)
		whole.rows[i] = part.Plots
		if other.plot.ID == s.plot.ID {
			at = i
		}
	}
	loss := find(whole.rows[at], result.SoilLoss)
	if loss == nil {
		return nil
	}
	bareLosses, cover, _ := whole.references(at)
	return erosion.RatioBudgets(loss.Estimate, bareLosses, s.plot.CoverPct.V, cover, s.plot.CoverPct.OK, s.dataset.Errors().CoverPoints, plan.Level)
}

// rainBudget is that of the rain's depth.
func rainBudget(r *rainfall.Rain) []gum.Budget {
	between := r.UBetween * r.DurationMin / 60
	b, ok := gum.NewBudget(func(x []float64) (float64, bool) { return x[0] + x[1] + x[2], true }, []gum.Input{
		{Name: "rain of the run", Unit: "mm", Value: r.DepthMM, U: math.Sqrt(max(0, r.UDepthShared*r.UDepthShared-between*between)), Common: true},
		{Name: "simulator between calibrations", Unit: "mm", U: between, DF: r.DFBetween, Common: true},
		{Name: "rain at the plot's place", Unit: "mm", U: r.UDepth, DF: r.DF},
	})
	if !ok {
		return nil
	}
	b.Quantity, b.Method, b.Unit, b.Model = string(result.RainDepth), r.Source, "mm", "rain of the run + simulator between calibrations + rain at the plot's place"
	return []gum.Budget{b}
}

func budget(b gum.Budget) result.Budget {
	out := result.Budget{Metric: result.Metric(b.Quantity), Method: b.Method, Unit: b.Unit, Model: b.Model, Value: b.Value, U: b.U, Simulated: b.Simulated,
		Lines: make([]result.BudgetLine, len(b.Lines))}
	for i, l := range b.Lines {
		out.Lines[i] = result.BudgetLine{Input: l.Name, Unit: l.Unit, Value: l.Value, U: l.U, Sensitivity: l.Sensitivity, Contribution: l.Contribution, Common: l.Common}
	}
	return out
}
