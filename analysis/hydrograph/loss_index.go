package hydrograph

import (
	"slices"

	"sheetwash/analysis/internal/gum"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// The methods of the loss indices.
const (
	MethodPhi = "constant_loss_of_excess"
	MethodW   = "mean_loss"
)

// RainStep is a stretch of rain of one intensity.
type RainStep struct{ Depth, Hours float64 }

// PhiIndex returns the constant loss rate that leaves a runoff of a rain.
//
//	sum max(P_j - phi d_j, 0) = Q
//
// Units: those of the depths per hour. Source: definition, after [Horton1933]; solved
// exactly, since the left side is straight between the intensities of the steps.
// Where nothing ran off only a limit is known, the largest intensity, and more
// runoff than rain has none: 0, false.
func PhiIndex(rain []RainStep, runoff float64) (rate float64, ok bool) {
	steps := slices.DeleteFunc(slices.Clone(rain), func(s RainStep) bool { return !(s.Hours > 0) })
	slices.SortStableFunc(steps, func(a, b RainStep) int {
		switch x, y := a.Depth*b.Hours, b.Depth*a.Hours; {
		case x > y:
			return -1
		case x < y:
			return 1
		}
		return 0
	})
	if !(runoff > 0) {
		return 0, false
	}
	var depth, hours float64
	for i, s := range steps {
		depth, hours = depth+s.Depth, hours+s.Hours
		phi := (depth - runoff) / hours
		last := i == len(steps)-1
		if phi >= 0 && (last || phi >= steps[i+1].Depth/steps[i+1].Hours) {
			return phi, true
		}
	}
	return 0, false
}

// WIndex returns the mean loss rate of a rain less what stays on the surface.
//
//	W = (P - Q - D) / T
//
// with rain P, runoff Q, storage on the surface D and duration T. Units: those of the depths
// per hour. Source: [Horton1933]. Without a duration there is none: 0, false.
func WIndex(rain, runoff, storage, hours float64) (rate float64, ok bool) {
	if !(hours > 0) {
		return 0, false
	}
	return (rain - runoff - storage) / hours, true
}

// ExcessDepth returns the rain in excess of a constant loss per interval.
//
//	sum max(P_j - loss, 0)
//
// Units: those of the depths. Source: definition.
func ExcessDepth(rain []float64, lossPerInterval float64) float64 {
	var sum float64
	for _, p := range rain {
		sum += max(0, p-lossPerInterval)
	}
	return sum
}

// steps returns the course of the rain in stretches of one intensity; nil where
// it was constant.
func (r *Rain) steps() []RainStep {
	if r.RatesMMH == nil {
		return nil
	}
	out := make([]RainStep, 0, len(r.RatesMMH))
	for i, rate := range r.RatesMMH {
		hours := (min(r.EdgesMin[i+1], r.DurationMin) - max(r.EdgesMin[i], 0)) / 60
		if hours > 0 {
			out = append(out, RainStep{Depth: rate * hours, Hours: hours})
		}
	}
	return out
}

// appendLossRows appends phi and W index of a plot whose rain varied. Under a
// constant rain phi says no more than the mean loss, and there are no rows.
func (h *Hydrograph) appendLossRows(dst []result.PlotRow, base *result.PlotRow) []result.PlotRow {
	steps := h.rain.steps()
	if steps == nil || h.Status == NoData {
		return dst
	}
	dst = appendRow(dst, base, result.PhiIndex, MethodPhi, true, h.phi(steps))
	return appendRow(dst, base, result.WIndex, MethodW, true, h.meanLoss())
}

// phi is the phi index of the plot, mm/h; without runoff the largest intensity,
// as a lower bound.
func (h *Hydrograph) phi(steps []RainStep) result.Estimate {
	q := h.depthMM(h.VolumeML)
	if q <= 0 {
		var most float64
		for _, s := range steps {
			most = max(most, s.Depth/s.Hours)
		}
		rel, df := 0.0, 0.0
		if h.rain.DepthMM > 0 {
			rel = gum.Combined(h.rain.UDepth, h.rain.UDepthShared) / h.rain.DepthMM
			df = h.rain.df(rel, 1/h.rain.DepthMM)
		}
		e := h.estimate(most, most*rel, df, gum.NonNegative())
		h.bound(&e, true)
		e.Flags.Add("no_runoff")
		e.N = h.NMeasured
		return e
	}
	r, ok := gum.Propagate(h.phiModel(steps), h.curveInputs(q), h.set.Level, gum.NonNegative())
	if !ok {
		return missing("above_one")
	}
	e := estimateOf(r)
	h.finish(&e)
	if h.LowerBound { // more ran off than was read, so less was lost
		e.Censored, e.Low, e.High = result.Left, quantity.None(), quantity.Some(r.High)
		e.Flags.Add("upper_bound")
	}
	return e
}

// phiModel takes the inputs of curveModel.
func (h *Hydrograph) phiModel(steps []RainStep) gum.Model {
	scaled := slices.Clone(steps)
	return func(x []float64) (float64, bool) {
		if !(h.rain.DepthMM > 0) {
			return 0, false
		}
		part := (x[0] + x[1]) / h.rain.DepthMM
		for i := range steps {
			scaled[i].Depth = part * steps[i].Depth
		}
		return PhiIndex(scaled, x[2]/x[3])
	}
}

// meanLoss is the W index of the plot with nothing left on the surface, mm/h.
//
//	W = 60 (P - Q) / T
//
// Its sign is kept.
func (h *Hydrograph) meanLoss() result.Estimate {
	e := h.InfiltrationDepth()
	hours := h.rain.DurationMin / 60
	if !e.Value.OK || !(hours > 0) {
		return e
	}
	per := func(v float64) float64 { w, _ := WIndex(v, 0, 0, hours); return w }
	e.Value, e.U, e.UShared, e.Low, e.High = e.Value.Map(per), e.U.Map(per), e.UShared.Map(per), e.Low.Map(per), e.High.Map(per)
	return e
}
