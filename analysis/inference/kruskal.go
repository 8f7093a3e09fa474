package inference

import (
	"math"

	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// RankGroups is a comparison of groups by ranks with all pairs by Dunn's test.
type RankGroups struct {
	H, P      quantity.Optional
	DF        int
	MeanRanks []quantity.Optional
	Pairs     []Pair // T is z; P is not adjusted, Difference that of mean ranks
	Flags     result.Flags
}

// KruskalWallis compares groups by the ranks of their values.
//
//	H = (12/(n(n+1)) sum R_g²/n_g - 3(n+1)) / (1 - sum(t³-t)/(n³-n))
//	z = (r_i - r_j)/sqrt((n(n+1)/12 - sum(t³-t)/(12(n-1))) (1/n_i + 1/n_j))
//
// Source: Kruskal & Wallis (1952), Journal of the American Statistical Association
// 47:583-621; Dunn (1964), Technometrics 6:241-252. Errors: ErrInput for NaN.
func KruskalWallis(groups [][]float64) (RankGroups, error) {
	var r RankGroups
	live, err := nonEmpty(groups, &r.Flags)
	if err != nil {
		return r, err
	}
	if len(live) < 2 {
		r.Flags.Add(FlagOneGroup)
		return r, nil
	}
	var all []float64
	for _, g := range groups {
		all = append(all, g...)
	}
	doubled, ties := midranks(all)
	rank := halves(doubled)
	n := float64(len(all))
	at, sum := 0, 0.0
	for _, g := range groups {
		if len(g) == 0 {
			r.MeanRanks = append(r.MeanRanks, quantity.None())
			continue
		}
		s := 0.0
		for _, v := range rank[at : at+len(g)] {
			s += v
		}
		at += len(g)
		r.MeanRanks = append(r.MeanRanks, quantity.Some(s/float64(len(g))))
		d := s/float64(len(g)) - (n+1)/2
		sum += float64(len(g)) * d * d
	}
	variance := n*(n+1)/12 - ties/(12*(n-1))
	if !(variance > 1e-12*n*n) {
		r.Flags.Add(FlagNoSpread)
		return r, nil
	}
	h := chiTest(sum/variance, len(live)-1)
	r.H, r.P, r.DF = h.ChiSquared, h.P, h.DF
	for i := range groups {
		for j := i + 1; j < len(groups); j++ {
			if len(groups[i]) == 0 || len(groups[j]) == 0 {
				continue
			}
			d := r.MeanRanks[i].V - r.MeanRanks[j].V
			se := math.Sqrt(variance * (1/float64(len(groups[i])) + 1/float64(len(groups[j]))))
			r.Pairs = append(r.Pairs, Pair{
				First: i, Second: j, Difference: quantity.Some(d), SE: quantity.Some(se),
				T: quantity.Some(d / se), P: quantity.Some(2 * NormalCDF(-math.Abs(d/se))),
			})
		}
	}
	return r, nil
}
