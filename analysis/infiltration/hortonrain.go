package infiltration

import (
	"math"

	"sheetwash/analysis/internal/fit"
)

// HortonPonding is the Horton curve under rain by time compression, the one
// that is compared with the other models. HortonCurve is the one of the
// headline, which starts at the onset of runoff and knows of water on the way.
const HortonPonding = "horton_ponding"

// hortonCapacity has the coordinates fc, f0 - fc and k.
//
// The curve ponds at tp (see Horton.PondingDepth); then f = i, and with m = t -
// tp the depth is
//
//	F = i tp + fc m + g (1 - exp(-k m))/k,  g = min(i, f0) - fc.
func hortonCapacity() capacity {
	return capacity{
		name: HortonPonding,
		coordinates: []coordinate{
			{bounds: share, starts: []float64{-3, -1, 0, 1.4}},
			{bounds: positive, scale: intensity, starts: []float64{-1.5, 0, 1}},
			{bounds: positive, scale: perRain, starts: []float64{0, 1, 2, 3}},
		},
		depths: hortonDepths,
		last: func(p fit.Point, r rain) float64 {
			tp, g, _ := hortonPonding(p, r)
			return p[0] + g*math.Exp(-p[2]*max(r.end-tp, 0))
		},
		rows: []reported{
			{name: "f0", unit: "mm/h", of: func(p fit.Point, _ rain) float64 { return p[0] + p[1] }, coordinate: none, logarithm: true},
			{name: "fc", unit: "mm/h", of: itself(0), coordinate: 0},
			{name: "k", unit: "1/h", of: itself(2), coordinate: 2, logarithm: true},
		},
	}
}

// hortonPonding returns the time of ponding, the fall from then on, and whether
// the curve starts above the intensity.
func hortonPonding(p fit.Point, r rain) (tp, g float64, above bool) {
	fc, fall, k := p[0], p[1], p[2]
	g = r.i - fc
	if fall <= g {
		return 0, fall, false
	}
	return (fall - g + fc*math.Log(fall/g)) / (k * r.i), g, true
}

func hortonDepths(p fit.Point, r rain, t, depth []float64, slope *slopes) float64 {
	fc, fall, k := p[0], p[1], p[2]
	tp, g, above := hortonPonding(p, r)
	n := untilPonding(tp, r, t, depth, slope)
	// derivatives of tp by fc, f0 - fc and k
	var tpBy fit.Point
	if above {
		tpBy = fit.Point{(1 + math.Log(fall/g) + fc/g) / (k * r.i), (1 + fc/fall) / (k * r.i), -tp / k}
	}
	for ; n < len(t); n++ {
		m := t[n] - tp
		gone := -math.Expm1(-k * m)
		per := gone / k
		depth[n] = r.i*tp + fc*m + g*per
		if slope == nil {
			continue
		}
		byK := (m*(1-gone) - per) / k
		if k*m < 1e-4 { // the difference would lose its digits
			byK = -m * m / 2 * (1 - 2*k*m/3)
		}
		byTp := g * gone
		if above {
			slope[0][n] = m - per + byTp*tpBy[0]
			slope[1][n] = byTp * tpBy[1]
		} else {
			slope[0][n], slope[1][n] = m, per
		}
		slope[2][n] = g*byK + byTp*tpBy[2]
	}
	return tp
}
