package inference

import (
	"math"
	"slices"
)

// rankSumCounts returns, for each sum of doubled midranks, in how many ways m of
// the ranked values have it. Without ties the sums are twice those of whole ranks.
// Counts are float64: exact below 2^53 and rounded above.
//
// Source: the shift algorithm of Streitberg & Röhmel (1986), Statistical Software
// Newsletter 12:10-17.
func rankSumCounts(doubled []int, m int) []float64 {
	total := 0
	for _, r := range doubled {
		total += r
	}
	ways, all := make([][]float64, m+1), make([]float64, (m+1)*(total+1))
	for k := range ways {
		ways[k] = all[k*(total+1) : (k+1)*(total+1)]
	}
	ways[0][0] = 1
	sum := 0
	for _, r := range doubled {
		sum += r
		for k := m; k >= 1; k-- {
			for s := sum; s >= r; s-- {
				ways[k][s] += ways[k-1][s-r]
			}
		}
	}
	return ways[m]
}

// signedCounts returns, for each sum of doubled midranks, how many choices of
// signs have it.
func signedCounts(doubled []int) []float64 {
	total := 0
	for _, r := range doubled {
		total += r
	}
	ways := make([]float64, total+1)
	ways[0] = 1
	sum := 0
	for _, r := range doubled {
		sum += r
		for s := sum; s >= r; s-- {
			ways[s] += ways[s-r]
		}
	}
	return ways
}

// tails returns the shares of counts at most and at least at a place.
func tails(counts []float64, at int) (lower, upper float64) {
	var all float64
	for s, c := range counts {
		all += c
		if s <= at {
			lower += c
		}
		if s >= at {
			upper += c
		}
	}
	return lower / all, upper / all
}

// MannWhitneyCDF returns P(U <= u) for samples of m and n without ties.
// Source: Mann & Whitney (1947), Annals of Mathematical Statistics 18:50-60, by counting.
// Errors: ErrInput for sizes below 1.
func MannWhitneyCDF(u float64, m, n int) (float64, error) {
	if m < 1 || n < 1 || math.IsNaN(u) {
		return 0, orInput(nil, "u", u)
	}
	counts := rankSumCounts(untied(m+n), m)
	return cdfAt(counts, int(math.Floor(u))*2+m*(m+1)), nil
}

// SignedRankCDF returns P(V <= v) for n differences without ties.
// Source: Wilcoxon (1945), Biometrics Bulletin 1:80-83, by counting. Errors: ErrInput for n < 1.
func SignedRankCDF(v float64, n int) (float64, error) {
	if n < 1 || math.IsNaN(v) {
		return 0, orInput(nil, "v", v)
	}
	return cdfAt(signedCounts(untied(n)), int(math.Floor(v))*2), nil
}

func cdfAt(counts []float64, at int) float64 {
	switch {
	case at < 0:
		return 0
	case at >= len(counts):
		return 1
	}
	lower, _ := tails(counts, at)
	return lower
}

func untied(n int) []int {
	r := make([]int, n)
	for i := range r {
		r[i] = 2 * (i + 1)
	}
	return r
}

// midranks returns the ranks of values, ties sharing the mean of theirs, each
// doubled so that it is whole; and the sum of t³ - t over the ties.
func midranks(y []float64) (doubled []int, ties float64) {
	order := byTime(y)
	doubled = make([]int, len(y))
	for i := 0; i < len(order); {
		j := i
		for j < len(order) && y[order[j]] == y[order[i]] {
			j++
		}
		for _, k := range order[i:j] {
			doubled[k] = i + j + 1
		}
		t := float64(j - i)
		ties += t*t*t - t
		i = j
	}
	return doubled, ties
}

func halves(doubled []int) []float64 {
	r := make([]float64, len(doubled))
	for i, d := range doubled {
		r[i] = float64(d) / 2
	}
	return r
}

// rounded returns values rounded to ten decimals of the largest, so that
// differences which are equal but for rounding tie.
func rounded(y []float64) []float64 {
	largest := 0.0
	for _, v := range y {
		largest = max(largest, math.Abs(v))
	}
	if largest == 0 {
		return slices.Clone(y)
	}
	unit := math.Pow(10, math.Ceil(math.Log10(largest))-12)
	out := make([]float64, len(y))
	for i, v := range y {
		out[i] = math.Round(v/unit) * unit
	}
	return out
}
