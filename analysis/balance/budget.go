package balance

import (
	"sheetwash/analysis/internal/gum"
	"sheetwash/analysis/result"
)

// Budgets returns the uncertainty budgets of the closure, or of storage plus error where
// storage was not measured, and of each measured storage; none of what has no value.
func (b *Balance) Budgets() []gum.Budget {
	var out []gum.Budget
	switch {
	case b.Closure.Value.OK:
		out = b.budget(result.BalanceClosure, MethodClosure, "rain - (runoff + drainage + splash and edge loss) / area - storage", true)
	case b.Residual.Value.OK:
		out = b.budget(result.StorageDepth, MethodResidual, "rain - (runoff + drainage + splash and edge loss) / area", false)
	}
	for _, g := range b.Gains {
		out = append(out, b.ofGain(g))
	}
	return out
}

// ofGain is the budget of a measured storage.
func (b *Balance) ofGain(g Gain) gum.Budget {
	in := []gum.Input{{Name: "storage as measured", Unit: "mm", Value: g.DepthMM, U: g.UMM}}
	out := gum.Budget{Quantity: string(result.StorageDepth), Method: g.Method, Unit: "mm", Model: "storage as measured", Value: g.DepthMM}
	if g.Weighed {
		in = append(in, gum.Input{Name: "area over stated area", Unit: "1", Value: 1, U: b.input.UAreaRel, Common: true})
		out.Model = "storage as measured / area"
	}
	lines, _ := gum.Lines(func(x []float64) (float64, bool) {
		if len(x) > 1 {
			return x[0] / x[1], x[1] > 0
		}
		return x[0], true
	}, in)
	out.Lines = lines
	out.U = out.InQuadrature()
	return out
}

func (b *Balance) budget(m result.Metric, method, equation string, storage bool) []gum.Budget {
	out, ok := gum.NewBudget(model(storage && b.input.weighed()), b.input.terms(storage))
	if !ok {
		return nil
	}
	out.Quantity, out.Method, out.Unit, out.Model = string(m), method, "mm", equation
	return []gum.Budget{out}
}
