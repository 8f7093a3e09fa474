package hydrograph

import (
	"sheetwash/analysis/internal/gum"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// RainToRunoff returns the rain that fell before runoff began, mm, by one of the
// four methods of the time to runoff.
//
//	D = integral of i dt from 0 to t0,  u(D)^2 = (i(t0) u(t0))^2 + (D u(P)/P)^2
//
// Time to runoff goes as 1/i^2 where the intensity is far above what the soil takes in,
// so plots under unlike rain are better compared by this depth. It is censored like the time: a plot
// without runoff took in at least the rain that fell by then. Source:
// definition; [GUM2008] 5.1.2.
func (h *Hydrograph) RainToRunoff(method string) result.Estimate {
	t := h.TimeToRunoff(method)
	if !t.Value.OK {
		return t
	}
	if !(h.rain.DepthMM > 0) {
		return missing("no_rain")
	}
	e := result.Estimate{Censored: t.Censored, N: t.N, Flags: t.Flags}
	depth := h.rain.until(t.Value.V)
	rel := gum.Combined(h.rain.UDepth, h.rain.UDepthShared) / h.rain.DepthMM
	shared := depth * h.rain.UDepthShared / h.rain.DepthMM
	u := gum.Combined(h.rain.Between(t.Value.V, t.Value.V+t.U.Or(0))/60*t.U.Or(0), depth*rel)
	e.Value, e.U, e.UShared = quantity.Some(depth), quantity.Some(u), quantity.Some(shared)
	k := gum.Coverage(h.set.Level, h.rain.df(rel, 1/h.rain.DepthMM))
	switch t.Censored {
	case result.Right:
		e.Low = quantity.Some(max(0, depth*(1-k*rel)))
	case result.Interval:
		low, high := h.rain.until(t.Low.V), h.rain.until(t.High.V)
		e.Low, e.High = quantity.Some(max(0, low*(1-k*rel))), quantity.Some(high*(1+k*rel))
	default:
		low, high := gum.Within(depth, u, h.rain.df(u, depth/h.rain.DepthMM), h.set.Level, gum.NonNegative())
		e.Low, e.High = quantity.Some(low), quantity.Some(high)
	}
	return e
}

// until returns the rain that fell by a time, mm.
func (r *Rain) until(min float64) float64 { return r.Between(0, min) * max(0, min) / 60 }
