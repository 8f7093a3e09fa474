package inference

import (
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"sheetwash/analysis/quantity"
)

// OrderMedian is a median whose interval runs between two order statistics.
type OrderMedian struct {
	Interval
	RankLow, RankHigh int               // counted from 1; 0: no interval
	MaxAttained       quantity.Optional // confidence of the whole range, the most that n values can give
}

// MedianOrder returns the median with the interval between the k-th smallest and
// the k-th largest value, k the largest for which the binomial tails leave the
// level. No assumption but independence.
//
//	coverage = 1 - 2 P(B <= k-1),  B ~ Binomial(n, 1/2)
//
// Source: Thompson (1936), Annals of Mathematical Statistics 7:122-128.
// Too few values for the level (fewer than 6 for 0.95): no interval, flag
// n_small, never a narrower one. Errors: ErrInput for NaN or the level.
func MedianOrder(y []float64, level float64) (OrderMedian, error) {
	if err := checkFinite("y", y); err != nil {
		return OrderMedian{}, err
	}
	if err := checkLevel(level); err != nil {
		return OrderMedian{}, err
	}
	n := len(y)
	r := OrderMedian{Interval: Interval{Level: level, N: n}}
	if n == 0 {
		r.Flags.Add(FlagNoData)
		return r, nil
	}
	s := slices.Sorted(slices.Values(y))
	r.Value = quantity.Some((s[(n-1)/2] + s[n/2]) / 2)
	b := distuv.Binomial{N: float64(n), P: 0.5}
	r.MaxAttained = quantity.Some(1 - 2*b.Prob(0))
	tail, k := 0.0, 0
	for k < n/2 && 2*(tail+b.Prob(float64(k))) <= (1-level)*(1+1e-12) {
		tail += b.Prob(float64(k))
		k++
	}
	switch {
	case k == 0:
		r.Flags.Add(FlagNSmall)
	case s[k-1] == s[n-k]:
		r.Flags.Add(FlagNoSpread)
	default:
		r.RankLow, r.RankHigh = k, n+1-k
		r.Low, r.High = quantity.Some(s[k-1]), quantity.Some(s[n-k])
		r.Attained = quantity.Some(1 - 2*tail)
	}
	return r, nil
}
