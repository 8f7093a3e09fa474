package erosion

import (
	"math"

	"sheetwash/analysis/internal/gum"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// MethodFlux is the method of the exponent of sediment flux against flow.
const MethodFlux = "least_squares_of_logarithms"

const (
	leastFluxes  = 4   // intervals below which no exponent is fitted
	leastFlowing = 1.2 // ratio of the largest to the least runoff rate below which there is nothing to fit
)

// fluxExponent returns the exponent b of the sediment flux g of the intervals
// against their runoff rate q,
//
//	ln g = ln a + b ln q,  g = C q
//
// by least squares over the intervals by the end of rain that were caught and have a pool of their own:
// 1 where concentration does not depend on flow, above it where more flow carries more.
// Its u is that of the scatter about the line. Fewer than four intervals, and rates less than 1.2
// apart, tell no exponent (flag not_identifiable).
// Source: power law between sediment and water discharge, straight line by least squares.
func (l *load) fluxExponent() result.Estimate {
	var n, mx, my float64
	least, most := math.Inf(1), 0.0
	each := func(use func(x, y float64)) {
		for i := range l.pieces {
			q := &l.pieces[i]
			f := &l.in.Flow[q.flow]
			if !l.ownFlux(q) || f.EndMin > l.in.Run.RainMin+2*math.Sqrt2*l.in.Errors.BottleChange+sameMin {
				continue
			}
			rate := q.ml / (f.EndMin - f.StartMin) // the logarithm's offset is the same for all
			use(math.Log(rate), math.Log(rate*q.conc))
			least, most = min(least, rate), max(most, rate)
		}
	}
	each(func(x, y float64) { n, mx, my = n+1, mx+x, my+y })
	if n < leastFluxes || most < leastFlowing*least {
		return missing("not_identifiable")
	}
	mx, my = mx/n, my/n
	var sxx, sxy, syy float64
	each(func(x, y float64) { sxx, sxy, syy = sxx+(x-mx)*(x-mx), sxy+(x-mx)*(y-my), syy+(y-my)*(y-my) })
	b := sxy / sxx
	u := math.Sqrt(max(0, syy-b*sxy) / (n - 2) / sxx)
	low, high := gum.Within(b, u, n-2, l.in.Level, gum.Unbounded())
	return result.Estimate{Value: quantity.Some(b), U: quantity.Some(u), Low: quantity.Some(low), High: quantity.Some(high),
		Censored: result.Observed, N: int(n)}
}

// ownFlux reports whether a piece of flow is a whole interval with a pool of its own.
func (l *load) ownFlux(q *piece) bool {
	if q.pool < 0 || !q.collected || !(q.ml > 0) || !(q.conc > 0) {
		return false
	}
	return l.pools[q.pool].flows == 1 && q.ml > (1-sameMin)*l.in.Flow[q.flow].VolumeML
}
