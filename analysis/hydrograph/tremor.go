package hydrograph

import (
	"math"
	"slices"

	"sheetwash/analysis/experiment"
)

// leastContrasts is how many contrasts a scatter needs.
const leastContrasts = 8

// tremor returns the standard deviation of single readings of a running total
// about a smooth course, in their unit; 0 where there are too few.
//
//	s = median |sum c_i v_i| / (0.6745 sqrt(sum c_i^2)),  c_i = 1 / prod (t_i - t_j)
//
// over every four neighbours. The contrast (third divided difference) is zero for
// a parabola, so a rate that rises or falls steadily adds nothing; the median
// passes over onset and end of rain. Neighbours between which the total falls (the
// second of each pair is in falls, in order) are left out. 0.6745 is the upper
// quartile of the normal distribution.
// Source: differences as estimates of scatter [GasserSrokaJennen1986], here of
// third order and with the median in place of the mean square.
func tremor(bins []experiment.Bin, binMin float64, falls []int) float64 {
	found := make([]float64, 0, len(bins))
	for i := 3; i < len(bins); i++ {
		for len(falls) > 0 && falls[0] <= i-3 {
			falls = falls[1:]
		}
		if len(falls) > 0 && falls[0] <= i {
			continue
		}
		four := bins[i-3 : i+1]
		var sum, squares float64
		base := four[0].SumV / float64(four[0].N)
		for k := range four {
			c := 1.0
			for j := range four {
				if j != k {
					c /= binMean(four[k], binMin) - binMean(four[j], binMin)
				}
			}
			sum += c * (four[k].SumV/float64(four[k].N) - base)
			squares += c * c
		}
		found = append(found, math.Abs(sum)/math.Sqrt(squares))
	}
	if len(found) < leastContrasts {
		return 0
	}
	slices.Sort(found)
	m := len(found) / 2
	median := found[m]
	if len(found)%2 == 0 {
		median = (found[m-1] + found[m]) / 2
	}
	return median / 0.6745
}
