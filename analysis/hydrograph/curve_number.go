package hydrograph

import (
	"math"

	"sheetwash/analysis/internal/gum"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// The methods of the curve number: by the ratio of the initial abstraction to
// the retention. The two scales never mix.
const (
	MethodAbstraction020 = "initial_abstraction_0.20"
	MethodAbstraction005 = "initial_abstraction_0.05"
)

// The ratios of initial abstraction to retention: that of the handbook, and the
// one that fits plots better but needs curve numbers of its own scale [Hawkins2002].
const (
	Abstraction020 = 0.20
	Abstraction005 = 0.05
)

// Retention returns the potential maximum retention of a curve number.
//
//	S = 25400 / CN - 254
//
// Units: mm. Source: [NEH630] eq. 10-13, S = 1000/CN - 10 in inches. A curve
// number outside (0, 100] has none: 0, false.
func Retention(cn float64) (mm float64, ok bool) {
	if !(cn > 0 && cn <= 100) {
		return 0, false
	}
	return 25400/cn - 254, true
}

// CurveNumberOf returns the curve number of a potential maximum retention.
//
//	CN = 25400 / (254 + S)
//
// Units: mm. Source: [NEH630] eq. 10-13. A negative retention has none: 0, false.
func CurveNumberOf(retentionMM float64) (cn float64, ok bool) {
	if !(retentionMM >= 0) {
		return 0, false
	}
	return 25400 / (254 + retentionMM), true
}

// InitialAbstraction returns the rain before runoff begins.
//
//	Ia = L S
//
// Units: mm. Source: [NEH630] eq. 10-9. A curve number outside (0, 100] has
// none: 0, false.
func InitialAbstraction(cn, ratio float64) (mm float64, ok bool) {
	s, ok := Retention(cn)
	return ratio * s, ok
}

// DirectRunoff returns the runoff of a rain by a curve number.
//
//	Q = (P - L S)^2 / (P + (1 - L) S)  for P > L S, else 0
//
// Units: mm. Source: [NEH630] eq. 10-10 and 10-11. A curve number outside (0, 100]
// or a negative rain has none: 0, false.
func DirectRunoff(rainMM, cn, ratio float64) (mm float64, ok bool) {
	s, ok := Retention(cn)
	if !ok || !(rainMM >= 0) {
		return 0, false
	}
	excess := rainMM - ratio*s
	if excess <= 0 {
		return 0, true
	}
	return excess * excess / (rainMM + (1-ratio)*s), true
}

// RetentionOf returns the retention that makes a rain leave a runoff.
//
//	S = (2 L P + (1 - L) Q - sqrt((1 - L)^2 Q^2 + 4 L P Q)) / (2 L^2)
//
// which for L = 0.2 is S = 5 (P + 2 Q - sqrt(4 Q^2 + 5 P Q)).
// Units: mm. Source: the lesser root of the equation of DirectRunoff, derived; for L = 0.2
// it is the form in which [Hawkins2002] use it. Without runoff, with more runoff than rain, or
// with a ratio outside (0, 1) there is none: 0, false.
func RetentionOf(rainMM, runoffMM, ratio float64) (mm float64, ok bool) {
	if !(runoffMM > 0 && runoffMM <= rainMM && ratio > 0 && ratio < 1) {
		return 0, false
	}
	part := (1 - ratio) * runoffMM
	root := math.Sqrt(part*part + 4*ratio*rainMM*runoffMM)
	return max(0, (2*ratio*rainMM+part-root)/(2*ratio*ratio)), true
}

// CurveNumber005 turns a curve number on the scale of L = 0.20 into one on
// that of L = 0.05.
//
//	S_0.05 = 1.33 S_0.20^1.15
//
// with S in inches, which the equation needs. Source: [Hawkins2002], a fit to
// small watersheds. A curve number outside (0, 100] has none: 0, false.
func CurveNumber005(cn020 float64) (cn float64, ok bool) {
	s, ok := Retention(cn020)
	if !ok {
		return 0, false
	}
	return CurveNumberOf(25.4 * 1.33 * math.Pow(s/25.4, 1.15))
}

// CurveNumber returns the curve number of the plot's rain and runoff at a ratio of
// initial abstraction, by RetentionOf and CurveNumberOf.
//
// Without runoff only a limit is known, P <= L S, so that
//
//	CN <= 25400 / (254 + P / L)
//
// (left-censored, flag upper_bound). More runoff than rain has no curve number
// (flag above_one). The error is propagated through the model with rain, runoff and
// area apart, by draws where little ran off (flag simulated); the rain's part is shared by the run. It falls
// as rain rises on most plots: compare equal depths only, and read it as a number of this
// rain, not of the soil.
// Source: see RetentionOf; [GUM2008] 5.1.2, [JCGM101].
func (h *Hydrograph) CurveNumber(ratio float64) result.Estimate {
	if h.Status == NoData {
		return h.none()
	}
	p := h.rain.DepthMM
	if !(p > 0) {
		return missing("no_rain")
	}
	q := h.depthMM(h.VolumeML)
	switch {
	case q <= 0:
		return h.dryCurveNumber(ratio)
	case q > p:
		e := missing("above_one")
		e.N = h.NMeasured
		return e
	}
	r, ok := gum.Propagate(curveModel(ratio), h.curveInputs(q), h.set.Level, gum.Bounds{Low: 0, High: 100})
	if !ok {
		return missing("not_defined")
	}
	e := estimateOf(r)
	h.finish(&e)
	return e
}

// curveModel is the curve number of rain and runoff with their errors apart.
func curveModel(ratio float64) gum.Model {
	return func(x []float64) (float64, bool) {
		s, ok := RetentionOf(x[0]+x[1], x[2]/x[3], ratio)
		if !ok {
			return 0, false
		}
		return CurveNumberOf(s)
	}
}

// curveInputs are the rain with the error that the run shares, the plot's own
// error of it, the runoff as it was caught, and the area over what it was taken for.
func (h *Hydrograph) curveInputs(q float64) []gum.Input {
	return append(h.rainInputs(),
		gum.Input{Name: "runoff caught", Unit: "mm", Value: q, U: h.depthMM(h.UVolumeML)},
		gum.Input{Name: "area over stated area", Unit: "1", Value: 1, U: h.UAreaRel})
}

// dryCurveNumber is the limit of a plot that did not run off.
func (h *Hydrograph) dryCurveNumber(ratio float64) result.Estimate {
	limit := func(p float64) float64 { return 25400 / (254 + p/ratio) }
	p := h.rain.DepthMM
	slope := (limit(1.001*p) - limit(0.999*p)) / (0.002 * p)
	u := math.Abs(slope) * gum.Combined(h.rain.UDepth, h.rain.UDepthShared)
	e := result.Estimate{Value: quantity.Some(limit(p)), U: quantity.Some(u), UShared: quantity.Some(math.Abs(slope) * h.rain.UDepthShared),
		High: quantity.Some(min(100, limit(p)+gum.Coverage(h.set.Level, h.rain.df(u, math.Abs(slope)))*u)), Censored: result.Left, N: h.NMeasured}
	e.Flags.Add("no_runoff", "upper_bound")
	return e
}

// estimateOf is a propagated value as an estimate.
func estimateOf(r gum.Result) result.Estimate {
	e := result.Estimate{Value: quantity.Some(r.Value), U: quantity.Some(r.U), UShared: quantity.Some(r.UCommon),
		Low: quantity.Some(r.Low), High: quantity.Some(r.High), Censored: result.Observed}
	if r.Simulated {
		e.Flags.Add("simulated")
	}
	return e
}
