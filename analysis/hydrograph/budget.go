package hydrograph

import (
	"math"

	"sheetwash/analysis/experiment"
	"sheetwash/analysis/internal/gum"
	"sheetwash/analysis/result"
)

// Budgets returns the uncertainty budgets of the depth, and for runoff of the
// infiltration depth, the coefficient, the rain until runoff, the final and the peak rate, the curve numbers and the loss indices. What has no
// value, and what is only a bound, has none. In quadrature the lines make the value's u,
// but where it was simulated.
func (h *Hydrograph) Budgets() []gum.Budget {
	if h.Status == NoData {
		return nil
	}
	area := gum.Input{Name: "area", Unit: "m2", Value: h.AreaM2, U: h.AreaM2 * h.UAreaRel, Common: true}
	caught := append(h.volumeInputs(), area)
	if h.Stream != experiment.Runoff {
		return appendBudget(nil, result.DrainageDepth, h.Source(), "mm", "(volume + run past at changes) / (1000 area)", depthModel, caught)
	}
	out := appendBudget(nil, result.RunoffDepth, h.Source(), "mm", "(volume + run past at changes) / (1000 area)", depthModel, caught)
	both := append(h.rainInputs(), caught...)
	out = appendBudget(out, result.InfiltrationDepth, MethodRainLess, "mm", "rain depth - (volume + run past at changes) / (1000 area)", lossModel, both)
	out = h.appendLossBudgets(out, both)
	out = h.appendRainToRunoff(out)
	out = appendBudget(out, result.RunoffCoefficient, MethodOverRain, "1", "(volume + run past at changes) / (1000 area) / rain depth", shareModel, both)
	if h.Status == Dry || !(h.VolumeML > 0) {
		return out
	}
	if in, minutes := h.finalInputs(); len(in) > 0 {
		first, last := h.finalIntervals()
		out = appendBudget(out, result.FinalRunoffRate, MethodLastBlock, "mm/h", "(sum(rate length) / sum(length) + missed at changes) stated area / area", h.finalModel(minutes), append(in, area, h.missedAtChanges(first, last)))
	}
	if at := h.peak(); at >= 0 {
		peak := &h.Intervals[at]
		out = appendBudget(out, result.PeakRunoffRate, MethodLargest, "mm/h", "(rate + missed at changes) stated area / area", h.finalModel([]float64{peak.Minutes()}),
			[]gum.Input{{Name: span("rate", peak.StartMin, peak.EndMin), Unit: "mm/h", Value: peak.RateMMH, U: peak.URateMMH}, area, h.missedAtChanges(at, at)})
	}
	return h.appendCurveBudgets(out)
}

// appendLossBudgets appends those of the loss indices of a rain that varied.
func (h *Hydrograph) appendLossBudgets(dst []gum.Budget, both []gum.Input) []gum.Budget {
	steps := h.rain.steps()
	if steps == nil {
		return dst
	}
	hours := h.rain.DurationMin / 60
	dst = appendBudget(dst, result.WIndex, MethodW, "mm/h", "(rain depth - (volume + run past at changes) / (1000 area)) / hours",
		func(x []float64) (float64, bool) {
			f, ok := lossModel(x)
			w, fine := WIndex(f, 0, 0, hours)
			return w, ok && fine
		}, both)
	e := h.phi(steps)
	n := len(dst)
	if h.VolumeML > 0 && e.Value.OK {
		dst = appendBudget(dst, result.PhiIndex, MethodPhi, "mm/h", "phi with sum(max(rain step - phi length, 0)) = runoff caught / area", h.phiModel(steps), h.curveInputs(h.depthMM(h.VolumeML)))
	}
	if len(dst) > n {
		dst[n].U, dst[n].Simulated = e.U.V, e.Flags.Has("simulated")
	}
	return dst
}

// appendRainToRunoff appends that of the rain until the time to runoff of the headline method, where
// there was any.
func (h *Hydrograph) appendRainToRunoff(dst []gum.Budget) []gum.Budget {
	method := h.HeadlineMethod()
	t := h.TimeToRunoff(method)
	if !t.Value.OK || t.Censored == result.Right || !(h.rain.DepthMM > 0) {
		return dst
	}
	model := func(x []float64) (float64, bool) { return h.rain.until(x[2]) * (x[0] + x[1]) / h.rain.DepthMM, true }
	return appendBudget(dst, result.RainDepthToRunoff, method, "mm", "rain until the time to runoff, of the rain depth", model,
		append(h.rainInputs(), gum.Input{Name: "time to runoff", Unit: "min", Value: t.Value.V, U: t.U.Or(0)}))
}

// appendBudget appends the budget of a model that has a value.
func appendBudget(dst []gum.Budget, m result.Metric, method, unit, equation string, f gum.Model, in []gum.Input) []gum.Budget {
	b, ok := gum.NewBudget(f, in)
	if !ok {
		return dst
	}
	b.Quantity, b.Method, b.Unit, b.Model = string(m), method, unit, equation
	return append(dst, b)
}

func (h *Hydrograph) appendCurveBudgets(dst []gum.Budget) []gum.Budget {
	for _, c := range [...]struct {
		ratio  float64
		method string
	}{{Abstraction020, MethodAbstraction020}, {Abstraction005, MethodAbstraction005}} {
		e := h.CurveNumber(c.ratio)
		if !e.Value.OK {
			continue
		}
		n := len(dst)
		dst = appendBudget(dst, result.CurveNumber, c.method, "1", "25400 / (254 + S), S of the rain and of runoff caught / area",
			curveModel(c.ratio), h.curveInputs(h.depthMM(h.VolumeML)))
		if len(dst) > n {
			dst[n].U, dst[n].Simulated = e.U.V, e.Flags.Has("simulated")
		}
	}
	return dst
}

// depthModel takes the volume, what may have run past, and the area.
func depthModel(x []float64) (float64, bool) { return (x[0] + x[1]) / (1000 * x[2]), x[2] > 0 }

// lossModel takes the rain, the plot's own part of it, and the inputs of depthModel.
func lossModel(x []float64) (float64, bool) {
	q, ok := depthModel(x[2:])
	return x[0] + x[1] - q, ok
}

// shareModel takes the inputs of lossModel.
func shareModel(x []float64) (float64, bool) {
	q, ok := depthModel(x[2:])
	return q / (x[0] + x[1]), ok && x[0]+x[1] > 0
}

// missedAtChanges is the rate that all bottle changes miss alike.
func (h *Hydrograph) missedAtChanges(first, last int) gum.Input {
	return gum.Input{Name: "missed at changes", Unit: "mm/h", U: h.uChanges(first, last), Common: true}
}

// finalModel takes the rates of the final intervals, the area, and what bottle changes miss.
func (h *Hydrograph) finalModel(minutes []float64) gum.Model {
	return func(x []float64) (float64, bool) {
		var sum, length float64
		for i, d := range minutes {
			sum, length = sum+x[i]*d, length+d
		}
		area := x[len(minutes)]
		return (sum/length + x[len(minutes)+1]) * h.AreaM2 / area, area > 0 && length > 0
	}
}

// rainInputs are the rain with the error that the run shares, and the plot's own.
func (h *Hydrograph) rainInputs() []gum.Input {
	return append(make([]gum.Input, 0, 5),
		gum.Input{Name: "rain depth", Unit: "mm", Value: h.rain.DepthMM, U: h.rain.UDepthShared, DF: h.rain.DFShared, Common: true},
		gum.Input{Name: "rain at the plot's place", Unit: "mm", U: h.rain.UDepth, DF: h.rain.DF})
}

// volumeInputs are the volume as it was caught and filled in, and what may have run past at
// bottle changes, which every change misses alike.
func (h *Hydrograph) volumeInputs() []gum.Input {
	read := max(0, h.UVolumeML*h.UVolumeML-h.UChangeML*h.UChangeML)
	return append(make([]gum.Input, 0, 3),
		gum.Input{Name: "volume", Unit: "mL", Value: h.VolumeML, U: math.Sqrt(read)},
		gum.Input{Name: "run past at changes", Unit: "mL", U: h.UChangeML, Common: true})
}

// finalInputs are the rates of the final intervals, with their lengths.
func (h *Hydrograph) finalInputs() (in []gum.Input, minutes []float64) {
	first, last := h.finalIntervals()
	for i := first; i <= last; i++ {
		if iv := &h.Intervals[i]; iv.Kind == Measured {
			in = append(in, gum.Input{Name: span("rate", iv.StartMin, iv.EndMin), Unit: "mm/h", Value: iv.RateMMH, U: iv.URateMMH})
			minutes = append(minutes, iv.Minutes())
		}
	}
	return in, minutes
}
