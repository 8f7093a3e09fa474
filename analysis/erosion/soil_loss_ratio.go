package erosion

import (
	"math"

	"sheetwash/analysis/internal/gum"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// MethodPaired is the method of the soil loss ratio.
const MethodPaired = "paired_within_run"

// SoilLossRatio returns the soil loss of a plot over the mean one of the bare plots under the
// same run.
//
//	SLR = L / mean(L_bare),  u(ln SLR)^2 = (u(L)/L)^2 + (u(mean)/mean)^2
//
// The rain of a run is common to its plots and cancels. The interval is that of the
// logarithm, hence not symmetric; the part of u that comes from the bare plots is shared by
// the run. A loss within twice its error (flag non_detect), or of a plot that did not run off,
// has no logarithm: its interval is that of the ratio itself, from zero up. Bare plots whose loss is within twice its
// error of zero make no ratio (flag reference_near_zero), nor does a run whose bare plots have no soil loss (flag
// reference_missing). Where a jar overflowed, the ratio is a bound.
// Source: definition, [RUSLE703]; [GUM2008] 5.1.6 with note 1.
func SoilLossRatio(loss result.Estimate, bare []result.Estimate, level float64) result.Estimate {
	if !loss.Value.OK {
		return result.Estimate{Flags: loss.Flags}
	}
	mean, u, n, bounded := meanLoss(bare)
	switch {
	case n == 0:
		return missing("reference_missing")
	case mean <= 2*u:
		return missing("reference_near_zero")
	case bounded && loss.Censored == result.Right:
		return missing("not_defined")
	}
	in := []gum.Input{
		{Name: "soil loss", Unit: "g/m2", Value: loss.Value.V, U: loss.U.V},
		{Name: "mean soil loss of the bare plots", Unit: "g/m2", Value: mean, U: u, Common: true},
	}
	r, ok := propagateRatio(in, level)
	if !ok {
		return missing("not_defined")
	}
	e := result.Estimate{Value: quantity.Some(r.Value), U: quantity.Some(r.U), UShared: quantity.Some(r.UCommon),
		Low: quantity.Some(r.Low), High: quantity.Some(r.High), Censored: result.Observed, N: 1 + n}
	for _, word := range [...]string{"no_runoff", "non_detect", "negative_mass", "pending", "interpolated", "turbidity_rating"} {
		if loss.Flags.Has(word) {
			e.Flags.Add(word)
		}
	}
	if r.Simulated {
		e.Flags.Add("simulated")
	}
	switch {
	case loss.Censored == result.Right:
		e.Censored, e.High = result.Right, quantity.None()
		e.Flags.Add("lower_bound")
	case bounded:
		e.Censored, e.Low = result.Left, quantity.None()
		e.Flags.Add("upper_bound")
	}
	return e
}

// ratio is the model of SoilLossRatio.
func ratio(x []float64) (float64, bool) { return x[0] / x[1], x[1] > 0 }

// propagateRatio takes logarithms where the loss is told from zero.
func propagateRatio(in []gum.Input, level float64) (gum.Result, bool) {
	if in[0].Value > 2*in[0].U {
		return gum.PropagateLog(ratio, in, level)
	}
	return gum.Propagate(ratio, in, level, gum.NonNegative())
}

// meanLoss is the mean of losses that have a value, with its standard uncertainty,
// how many these are, and whether one of them is a lower bound.
func meanLoss(losses []result.Estimate) (mean, u float64, n int, bounded bool) {
	var sum, squares float64
	for i := range losses {
		e := &losses[i]
		if !e.Value.OK {
			continue
		}
		n++
		sum += e.Value.V
		squares += e.U.V * e.U.V
		bounded = bounded || e.Censored == result.Right
	}
	if n == 0 {
		return 0, 0, 0, false
	}
	return sum / float64(n), math.Sqrt(squares) / float64(n), n, bounded
}
