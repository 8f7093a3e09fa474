package inference

import (
	"fmt"

	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// RankBlocks is a test of treatments by their ranks within blocks.
type RankBlocks struct {
	ChiSquared, P quantity.Optional // Friedman's, corrected for ties
	DF            int
	W             quantity.Optional // Kendall's coefficient of concordance, corrected for ties
	WUncorrected  quantity.Optional
	MeanRanks     []float64
	Flags         result.Flags
}

// Friedman ranks the treatments within every block; rows are blocks, columns
// treatments, none missing.
//
//	chi² = 12 sum (R_j - b(k+1)/2)² / (b k (k+1) - sum(t³-t)/(k-1)),  W = chi²/(b(k-1))
//
// Source: Friedman (1937), Journal of the American Statistical Association 32:675-701;
// Kendall & Babington Smith (1939), Annals of Mathematical Statistics 10:275-287. Errors: ErrInput for rows of unlike length or NaN.
func Friedman(blocks [][]float64) (RankBlocks, error) {
	var r RankBlocks
	if len(blocks) == 0 || len(blocks[0]) == 0 {
		r.Flags.Add(FlagNoData)
		return r, nil
	}
	k := len(blocks[0])
	sums := make([]float64, k)
	ties := 0.0
	for i, row := range blocks {
		if len(row) != k {
			return r, fmt.Errorf("%w: block %d has %d of %d treatments", ErrInput, i, len(row), k)
		}
		if err := checkFinite(fmt.Sprintf("block %d", i), row); err != nil {
			return r, err
		}
		d, t := midranks(row)
		ties += t
		for j, rank := range halves(d) {
			sums[j] += rank
		}
	}
	if k < 2 {
		r.Flags.Add(FlagOneGroup)
		return r, nil
	}
	b, t := float64(len(blocks)), float64(k)
	ss := 0.0
	for _, s := range sums {
		d := s - b*(t+1)/2
		ss += d * d
		r.MeanRanks = append(r.MeanRanks, s/b)
	}
	r.DF = k - 1
	r.WUncorrected = quantity.Some(12 * ss / (b * b * t * (t*t - 1)))
	below := b*t*(t+1) - ties/(t-1)
	if !(below > 0) {
		r.Flags.Add(FlagNoSpread)
		return r, nil
	}
	x := 12 * ss / below
	r.ChiSquared, r.W = quantity.Some(x), quantity.Some(x/(b*(t-1)))
	p, err := ChiSquaredUpper(x, t-1)
	if err != nil {
		return r, err
	}
	r.P = quantity.Some(p)
	return r, nil
}
