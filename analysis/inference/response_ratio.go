package inference

import (
	"math"

	"sheetwash/analysis/quantity"
)

// ResponseRatio is the logarithm of a ratio of means.
type ResponseRatio struct {
	Interval                         // of the logarithm, normal
	Variance       quantity.Optional // large-sample
	Delta          quantity.Optional // with the small-sample correction
	DeltaVariance  quantity.Optional
	GearyX, GearyY quantity.Optional // below 3 the normal approximation is doubtful
}

// LogResponseRatio returns ln(mean x/mean y) as used to pool studies.
//
//	v = s1²/(n1 m1²) + s2²/(n2 m2²),  limits ± z sqrt(v)
//	delta = lrr + (s1²/(n1 m1²) - s2²/(n2 m2²))/2,  v_delta = v + (s1⁴/(n1² m1⁴) + s2⁴/(n2² m2⁴))/2
//	geary = m sqrt(n)/s
//
// Source: Hedges, Gurevitch & Curtis (1999), Ecology 80:1150-1156; Lajeunesse
// (2015), Ecology 96:2056-2063. Its z interval covers too little for few plots and is no default here. Means that
// are not positive: flag not_defined. Errors: ErrInput for NaN or the level.
func LogResponseRatio(x, y []float64, level float64) (ResponseRatio, error) {
	a, err := MeanT(x, level)
	if err != nil {
		return ResponseRatio{}, err
	}
	b, err := MeanT(y, level)
	if err != nil {
		return ResponseRatio{}, err
	}
	r := ResponseRatio{Interval: Interval{Level: level, N: a.N + b.N}}
	switch {
	case a.N == 0 || b.N == 0:
		r.Flags.Add(FlagNoData)
		return r, nil
	case !(a.Value.V > 0 && b.Value.V > 0):
		r.Flags.Add(FlagNotDefined)
		return r, nil
	}
	lrr := math.Log(a.Value.V / b.Value.V)
	r.Value = quantity.Some(lrr)
	if a.N < 2 || b.N < 2 {
		r.Flags.Add(FlagOneValue)
		return r, nil
	}
	v1, v2 := a.SE.V*a.SE.V/(a.Value.V*a.Value.V), b.SE.V*b.SE.V/(b.Value.V*b.Value.V)
	if a.Flags.Has(FlagNoSpread) && b.Flags.Has(FlagNoSpread) {
		r.Flags.Add(FlagNoSpread)
		return r, nil
	}
	r.Variance = quantity.Some(v1 + v2)
	r.SE = quantity.Some(math.Sqrt(v1 + v2))
	h := criticalNormal(level) * r.SE.V
	r.Low, r.High = quantity.Some(lrr-h), quantity.Some(lrr+h)
	r.Delta = quantity.Some(lrr + (v1-v2)/2)
	r.DeltaVariance = quantity.Some(v1 + v2 + (v1*v1+v2*v2)/2)
	geary := func(m, sd float64, n int) quantity.Optional {
		if sd == 0 {
			return quantity.None()
		}
		return quantity.Some(m / sd * math.Sqrt(float64(n)))
	}
	r.GearyX, r.GearyY = geary(a.Value.V, a.SD.V, a.N), geary(b.Value.V, b.SD.V, b.N)
	return r, nil
}
