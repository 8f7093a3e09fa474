package balance

import (
	"sheetwash/analysis/internal/gum"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// Speaks reports whether there is anything to say: drainage or storage was measured, or
// the balance is impossible without them. Else rain minus runoff is all that is known, and
// infiltration_depth says it.
func (b *Balance) Speaks() bool {
	return b.input.Drainage.Known || len(b.Gains) > 0 || b.Verdict.Sign == MoreOut
}

// AppendRows appends the rows of storage_depth, one per method of measurement or the one of
// storage plus error, and of balance_closure. A balance that does not speak has none.
func (b *Balance) AppendRows(dst []result.PlotRow, base result.PlotRow) []result.PlotRow {
	if !b.Speaks() {
		return dst
	}
	add := func(m result.Metric, method string, headline bool, e result.Estimate) {
		row := base
		info, _ := m.Info()
		row.Metric, row.Method, row.Headline, row.Unit, row.Estimate = m, method, headline, info.SI, e
		dst = append(dst, row)
	}
	add(result.BalanceClosure, MethodClosure, true, b.Closure)
	for i, g := range b.Gains {
		add(result.StorageDepth, g.Method, i == 0, b.gain(g))
	}
	if len(b.Gains) == 0 && b.Residual.Value.OK {
		add(result.StorageDepth, MethodResidual, true, b.Residual)
	}
	return dst
}

// gain is a measured storage as an estimate.
func (b *Balance) gain(g Gain) result.Estimate {
	u := g.UMM
	if g.Weighed {
		u = gum.Combined(u, g.DepthMM*b.input.UAreaRel)
	}
	low, high := gum.Within(g.DepthMM, u, 0, b.input.Level, gum.Unbounded())
	e := result.Estimate{Value: quantity.Some(g.DepthMM), U: quantity.Some(u), Low: quantity.Some(low), High: quantity.Some(high),
		UShared: quantity.Some(0), Censored: result.Observed, N: 1}
	if g.DepthMM < 0 {
		e.Flags.Add("soil_lost_water")
	}
	return e
}
