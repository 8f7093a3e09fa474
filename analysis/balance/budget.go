package balance

import (
	"sheetwash/analysis/internal/gum"
	"sheetwash/analysis/result"
)

// Budgets returns the uncertainty budget of the closure, or of storage plus error where
// storage was not measured; none where neither has a value.
func (b *Balance) Budgets() []gum.Budget {
	switch {
	case b.Closure.Value.OK:
		return b.budget(result.BalanceClosure, MethodClosure, "rain - (runoff + drainage + splash and edge loss) / area - storage", true)
	case b.Residual.Value.OK:
		return b.budget(result.StorageDepth, MethodResidual, "rain - (runoff + drainage + splash and edge loss) / area", false)
	}
	return nil
}

func (b *Balance) budget(m result.Metric, method, equation string, storage bool) []gum.Budget {
	out, ok := gum.NewBudget(model(storage && b.input.weighed()), b.input.terms(storage))
	if !ok {
		return nil
	}
	out.Quantity, out.Method, out.Unit, out.Model = string(m), method, "mm", equation
	return []gum.Budget{out}
}
