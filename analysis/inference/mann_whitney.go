package inference

import (
	"math"
	"slices"

	"sheetwash/analysis/quantity"
)

// RankTest is a test by ranks with the shift that goes with it.
type RankTest struct {
	Interval                      // Hodges-Lehmann shift; Attained is the exact confidence
	Statistic   quantity.Optional // U of the first sample, or V of positive differences
	P           quantity.Optional // exact without ties, else normal with continuity and tie correction
	Conditional quantity.Optional // exact given the ties
	LeastP      quantity.Optional // smallest two-sided p that these sizes can give
	Used        int               // pairs that differ
	Tied        bool
}

// MannWhitney compares two samples by ranks.
//
//	U = pairs x > y, ties counting half;  shift: median of the differences x_i - y_j
//
// The interval runs between order statistics of the differences; with ties there
// is none. Where the sizes allow no interval of the level (3 against 3), the widest
// one is given, Attained says its confidence and n_small is flagged.
// Source: Mann & Whitney (1947); Hodges & Lehmann (1963), Annals of Mathematical Statistics 34:598-611;
// Lehmann (1975), Nonparametrics, for the tie correction. Errors: ErrInput for NaN or the level.
func MannWhitney(x, y []float64, level float64) (RankTest, error) {
	if err := checkFinite("x", x); err != nil {
		return RankTest{}, err
	}
	if err := checkFinite("y", y); err != nil {
		return RankTest{}, err
	}
	if err := checkLevel(level); err != nil {
		return RankTest{}, err
	}
	m, n := len(x), len(y)
	r := RankTest{Interval: Interval{Level: level, N: m + n}}
	if m == 0 || n == 0 {
		r.Flags.Add(FlagNoData)
		return r, nil
	}
	doubled, ties := midranks(append(slices.Clone(x), y...))
	sum := 0
	for _, d := range doubled[:m] {
		sum += d
	}
	u := float64(sum-m*(m+1)) / 2
	r.Statistic, r.LeastP, r.Tied = quantity.Some(u), quantity.Some(leastP(m, n)), ties > 0
	shifts := make([]float64, 0, m*n)
	for _, a := range x {
		for _, b := range y {
			shifts = append(shifts, a-b)
		}
	}
	slices.Sort(shifts)
	r.Value = quantity.Some((shifts[(m*n-1)/2] + shifts[m*n/2]) / 2)
	if slices.Min(doubled) == slices.Max(doubled) {
		r.Flags.Add(FlagNoSpread)
		r.P, r.Conditional = quantity.Some(1), quantity.Some(1)
		return r, nil
	}
	small := m+n <= 60
	if small {
		counts := rankSumCounts(doubled, m)
		lower, upper := tails(counts, sum)
		r.Conditional = quantity.Some(math.Min(1, 2*math.Min(lower, upper)))
		if !r.Tied {
			r.P = r.Conditional
			r.between(shifts, counts, m*(m+1))
			return r, nil
		}
	}
	mu, k := float64(m*n)/2, float64(m+n)
	sigma := math.Sqrt(float64(m*n) / 12 * (k + 1 - ties/(k*(k-1))))
	r.P = quantity.Some(normalContinuity(u-mu, sigma))
	return r, nil
}

// normalContinuity is the two-sided normal p with continuity correction.
func normalContinuity(d, sigma float64) float64 {
	z := (math.Abs(d) - 0.5) / sigma
	return math.Min(1, 2*NormalCDF(-z))
}

// between takes the limits between order statistics of values whose count below
// the truth has the given law, on doubled scale from offset on.
func (r *RankTest) between(values, counts []float64, offset int) {
	all, cum := 0.0, 0.0
	for _, c := range counts {
		all += c
	}
	alpha := (1 - r.Level) / 2
	k := 0 // largest with P(count <= k-1) <= alpha
	tail := 0.0
	for at := offset; at < len(counts); at += 2 {
		cum += counts[at]
		if cum/all > alpha*(1+1e-12) {
			break
		}
		tail = cum / all
		k++
	}
	if k == 0 {
		r.Flags.Add(FlagNSmall)
		k, tail = 1, counts[offset]/all
	}
	if n := len(values); k <= n/2 || n == 1 && k <= 1 {
		if values[k-1] == values[n-k] {
			r.Flags.Add(FlagNoSpread)
			return
		}
		r.Low, r.High = quantity.Some(values[k-1]), quantity.Some(values[n-k])
		r.Attained = quantity.Some(1 - 2*tail)
	}
}

// SignedRank compares pairs by the ranks of their differences, zeros left out.
//
//	V = sum of the ranks of |d| with d > 0;  shift: median of the means of all two differences
//
// Differences are rounded to twelve digits of the largest first, so that equal ones tie. Zeros or ties: no
// interval, P is normal. Source: Wilcoxon (1945), Biometrics Bulletin 1:80-83; Hodges & Lehmann (1963); Pratt (1959) on zeros.
// Errors: ErrInput for NaN, unlike lengths or the level.
func SignedRank(before, after []float64, level float64) (RankTest, error) {
	if err := checkLengths("before", "after", len(before), len(after)); err != nil {
		return RankTest{}, err
	}
	if err := checkLevel(level); err != nil {
		return RankTest{}, err
	}
	all := make([]float64, len(before))
	for i := range all {
		all[i] = before[i] - after[i]
	}
	if err := checkFinite("differences", all); err != nil {
		return RankTest{}, err
	}
	r := RankTest{Interval: Interval{Level: level, N: len(all)}}
	var d, size []float64
	for _, v := range rounded(all) {
		if v != 0 {
			d, size = append(d, v), append(size, math.Abs(v))
		}
	}
	n := len(d)
	r.Used = n
	if n == 0 {
		r.Flags.Add(FlagNoSpread)
		if len(all) == 0 {
			r.Flags = nil
			r.Flags.Add(FlagNoData)
		}
		return r, nil
	}
	doubled, ties := midranks(rounded(size))
	r.Tied = ties > 0 || n < len(all)
	sum := 0
	for i, v := range d {
		if v > 0 {
			sum += doubled[i]
		}
	}
	r.Statistic = quantity.Some(float64(sum) / 2)
	r.LeastP = quantity.Some(math.Min(1, 2*math.Pow(0.5, float64(n))))
	all = rounded(all)
	walsh := make([]float64, 0, len(all)*(len(all)+1)/2)
	for i := range all { // zeros are differences too
		for j := i; j < len(all); j++ {
			walsh = append(walsh, (all[i]+all[j])/2)
		}
	}
	slices.Sort(walsh)
	r.Value = quantity.Some((walsh[(len(walsh)-1)/2] + walsh[len(walsh)/2]) / 2)
	if n <= 50 {
		lower, upper := tails(signedCounts(doubled), sum)
		r.Conditional = quantity.Some(math.Min(1, 2*math.Min(lower, upper)))
	}
	if !r.Tied && n < 50 {
		r.P = r.Conditional
		r.between(walsh, signedCounts(untied(n)), 0)
		return r, nil
	}
	k := float64(n)
	sigma := math.Sqrt(k*(k+1)*(2*k+1)/24 - ties/48)
	r.P = quantity.Some(normalContinuity(float64(sum)/2-k*(k+1)/4, sigma))
	return r, nil
}
