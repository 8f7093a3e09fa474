package inference

import (
	"math"

	"sheetwash/analysis/quantity"
)

// VarianceRatio is a ratio of two variances with its F test.
type VarianceRatio struct {
	Interval
	DF1, DF2 float64
	P        quantity.Optional
}

// FRatio returns s1²/s2² with the interval and test of the F distribution, for
// normal values only. Source: Snedecor (1934). Fewer than two values: flag one_value; no variance in y: no_spread.
// Errors: ErrInput for NaN or the level.
func FRatio(x, y []float64, level float64) (VarianceRatio, error) {
	a, err := MeanT(x, level)
	if err != nil {
		return VarianceRatio{}, err
	}
	b, err := MeanT(y, level)
	if err != nil {
		return VarianceRatio{}, err
	}
	r := VarianceRatio{Interval: Interval{Level: level, N: a.N + b.N}, DF1: float64(a.N - 1), DF2: float64(b.N - 1)}
	switch {
	case a.N < 2 || b.N < 2:
		r.Flags.Add(FlagOneValue)
		return r, nil
	case a.Flags.Has(FlagNoSpread) || b.Flags.Has(FlagNoSpread):
		r.Flags.Add(FlagNoSpread)
		return r, nil
	}
	f := a.SD.V / b.SD.V * (a.SD.V / b.SD.V)
	r.Value = quantity.Some(f)
	upper, err := FUpper(f, r.DF1, r.DF2)
	if err != nil {
		return r, err
	}
	lower, err := FUpper(1/f, r.DF2, r.DF1)
	if err != nil {
		return r, err
	}
	r.P = quantity.Some(math.Min(1, 2*math.Min(upper, lower)))
	hi, err := FQuantile((1+level)/2, r.DF1, r.DF2)
	if err != nil {
		return r, err
	}
	lo, err := FQuantile((1+level)/2, r.DF2, r.DF1) // F(1-p; d1, d2) = 1/F(p; d2, d1)
	if err != nil {
		return r, err
	}
	r.Low, r.High = quantity.Some(f/hi), quantity.Some(f*lo)
	return r, nil
}
