package inference

import (
	"fmt"
	"math"

	"sheetwash/analysis/quantity"
)

// Wilson returns a proportion x/n with the score interval.
//
//	(p + z²/2n ± z sqrt(p(1-p)/n + z²/4n²)) / (1 + z²/n)
//
// Source: Wilson (1927), Journal of the American Statistical Association
// 22:209-212, without continuity correction. No trials: flag no_data.
// Errors: ErrInput unless 0 <= x <= n.
func Wilson(x, n int, level float64) (Interval, error) {
	r, err := proportion(x, n, level)
	if err != nil || n == 0 {
		return r, err
	}
	z, p, m := criticalNormal(level), r.Value.V, float64(n)
	centre := (p + z*z/(2*m)) / (1 + z*z/m)
	half := z * math.Sqrt(p*(1-p)/m+z*z/(4*m*m)) / (1 + z*z/m)
	r.Low, r.High = quantity.Some(max(0, centre-half)), quantity.Some(min(1, centre+half))
	if x == 0 {
		r.Low = quantity.Some(0)
	}
	if x == n {
		r.High = quantity.Some(1)
	}
	return r, nil
}

// ClopperPearson returns a proportion x/n with the interval that covers at least
// at the level for any true proportion.
//
// Source: Clopper & Pearson (1934), Biometrika 26:404-413, by beta quantiles.
// Errors: ErrInput unless 0 <= x <= n.
func ClopperPearson(x, n int, level float64) (Interval, error) {
	r, err := proportion(x, n, level)
	if err != nil || n == 0 {
		return r, err
	}
	a := (1 - level) / 2
	r.Low, r.High = quantity.Some(0), quantity.Some(1)
	if x > 0 {
		b, err := BetaQuantile(a, float64(x), float64(n-x+1))
		if err != nil {
			return Interval{}, err
		}
		r.Low = quantity.Some(b)
	}
	if x < n {
		b, err := BetaQuantile(1-a, float64(x+1), float64(n-x))
		if err != nil {
			return Interval{}, err
		}
		r.High = quantity.Some(b)
	}
	return r, nil
}

func proportion(x, n int, level float64) (Interval, error) {
	if err := checkLevel(level); err != nil {
		return Interval{}, err
	}
	if n < 0 || x < 0 || x > n {
		return Interval{}, fmt.Errorf("%w: %d of %d", ErrInput, x, n)
	}
	r := Interval{Level: level, N: n}
	if n == 0 {
		r.Flags.Add(FlagNoData)
		return r, nil
	}
	r.Value = quantity.Some(float64(x) / float64(n))
	return r, nil
}
