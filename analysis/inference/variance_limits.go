package inference

import (
	"math"
	"slices"

	"sheetwash/analysis/quantity"
)

// full returns -2 ln restricted likelihood as a function of all variances, the residual last.
func (f *mixedFit) full(variances []float64) float64 {
	k := len(f.ratio)
	s2 := variances[k]
	if !(s2 > 0) {
		return math.Inf(1)
	}
	ratio := make([]float64, k)
	for i := range ratio {
		ratio[i] = math.Max(0, variances[i]) / s2
	}
	at := f.at(ratio)
	if !at.ok {
		return math.Inf(1)
	}
	n, p := float64(len(f.y)), float64(len(f.columns))
	return at.logDetV + at.logDetX + (n-p)*math.Log(s2) + at.rss/s2
}

// profileVariance fills limits of a variance from the profile of the restricted
// likelihood, cut by chi-squared with one degree of freedom. A lower limit of zero
// means that the profile never falls so far.
func (f *mixedFit) profileVariance(k int, i *Interval, at mixedPoint) {
	cut, err := ChiSquaredQuantile(i.Level, 1)
	if err != nil || !at.ok {
		return
	}
	top := make([]float64, len(f.ratio)+1)
	for j, r := range f.ratio {
		top[j] = r * at.sigma2
	}
	top[len(f.ratio)] = at.sigma2
	least := f.full(top)
	rise := func(v float64) float64 {
		t := slices.Clone(top)
		t[k] = v
		return f.minimiseOthers(t, k) - least - cut
	}
	start := math.Max(top[k], 1e-6*at.sigma2)
	for hi, n := 2*start, 0; n < 60; hi, n = 2*hi, n+1 {
		if up := rise(hi); up > 0 {
			if x, ok := bracketedRoot(rise, hi/2, hi, rise(hi/2), up); ok {
				i.High = quantity.Some(x)
			} else {
				i.High = quantity.Some(hi)
			}
			break
		}
	}
	if k < len(f.ratio) && rise(0) <= 0 {
		i.Low = quantity.Some(0)
		return
	}
	for lo, n := start/2, 0; n < 60; lo, n = lo/2, n+1 {
		if down := rise(lo); down > 0 {
			if x, ok := bracketedRoot(func(v float64) float64 { return -rise(v) }, lo, 2*lo, -down, -rise(2*lo)); ok {
				i.Low = quantity.Some(x)
			}
			break
		}
	}
}

// minimiseOthers minimises -2 ln restricted likelihood over all variances but one,
// by cycles of golden sections on their logarithms.
func (f *mixedFit) minimiseOthers(v []float64, held int) float64 {
	best := f.full(v)
	for range 12 {
		before := best
		for j := range v {
			if j == held {
				continue
			}
			w := slices.Clone(v)
			value := func(l float64) float64 { w[j] = math.Exp(l); return f.full(w) }
			centre := math.Log(math.Max(v[j], 1e-10*v[len(v)-1]+1e-300))
			lo, hi := centre-3, centre+3
			lo, hi = golden(value, lo, hi, 30, 0)
			m := (lo + hi) / 2
			if x := value(m); x < best {
				best = x
				v[j] = math.Exp(m)
			}
		}
		if before-best < 1e-7 {
			break
		}
	}
	return best
}
