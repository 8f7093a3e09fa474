package erosion

import (
	"math"

	"sheetwash/analysis/internal/gum"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// MethodExponent is the method of the cover exponent.
const MethodExponent = "log_ratio_over_cover"

// CoverRatio returns the soil loss under cover over that of bare soil.
//
//	SLR = exp(-b c)
//
// with cover c in percent and b in 1/%, 0.025 to 0.05 and typically 0.035 for
// mulch. Source: [RUSLE703].
func CoverRatio(bPerPct, coverPct float64) float64 { return math.Exp(-bPerPct * coverPct) }

// LeastContrast is the difference in cover, %, below which an exponent says nothing.
const LeastContrast = 10

// CoverExponent returns the exponent of cover, 1/%, from a soil loss ratio and the
// covers that stand behind it: that of the plot and the mean one of the bare plots.
//
//	b = -ln SLR / (c - c_bare),  u(b)^2 = (u(SLR)/(SLR dc))^2 + (b/dc)^2 (u(c)^2 + u(c_bare)^2)
//
// u(c) = 100 sqrt(p (1 - p) / n) of a count at n points, 0 of an exact cover (points is 0). A ratio of zero has no
// logarithm (flag non_detect or no_runoff), one that is only bounded bounds the exponent, and covers less than 10 % apart say nothing (flag
// no_cover_contrast). Source: logarithm of CoverRatio; [GUM2008] 5.1.2; binomial count.
func CoverExponent(ratio result.Estimate, coverPct, bareCoverPct, points, level float64) result.Estimate {
	d := coverPct - bareCoverPct
	switch {
	case !ratio.Value.OK:
		return result.Estimate{Flags: ratio.Flags}
	case d < LeastContrast:
		return missing("no_cover_contrast")
	case !(ratio.Value.V > 0):
		e := missing("not_defined")
		e.Flags.Add(ratio.Flags...)
		return e
	}
	b := -math.Log(ratio.Value.V) / d
	own := ratio.U.V / ratio.Value.V / d
	u := gum.Combined(own, b/d*uCover(coverPct, points), b/d*uCover(bareCoverPct, points))
	low, high := gum.Within(b, u, 0, level, gum.Unbounded())
	e := result.Estimate{Value: quantity.Some(b), U: quantity.Some(u), UShared: quantity.Some(ratio.UShared.V / ratio.Value.V / d),
		Low: quantity.Some(low), High: quantity.Some(high), Censored: result.Observed, N: ratio.N, Flags: ratio.Flags}
	switch ratio.Censored {
	case result.Left:
		e.Censored, e.High = result.Right, quantity.None()
	case result.Right:
		e.Censored, e.Low = result.Left, quantity.None()
	}
	return e
}

// uCover is the standard uncertainty of a cover that was counted at points, %.
func uCover(pct, points float64) float64 {
	if !(points > 0) {
		return 0
	}
	p := min(1, max(0, pct/100))
	return 100 * math.Sqrt(p*(1-p)/points)
}
