package erosion_test

import (
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"sheetwash/analysis/erosion"
	"sheetwash/analysis/experiment"
)

// The study in docs/coverage.md is this test with more draws.
var (
	draws = flag.Int("draws", 200, "datasets per condition of the coverage test")
	seed  = flag.Uint64("seed", 11, "seed of the coverage test")
)

// Datasets whose concentration is a power of turbidity, within 10 and 30 %, with n bottles of
// both and a plot of 6 to 30 bottles of turbidity alone: the 95 % interval of its load, and
// that of the prediction of one bottle, have to hold the truth in 93 to 97 of 100, within four
// standard errors. A plot whose turbidity leaves the range of the pairs is left out and counted.
func TestRatingCoverage(t *testing.T) {
	for _, scatter := range []float64{0.1, 0.3} {
		for _, pairs := range []int{6, 12, 30} {
			for _, bottles := range []int{6, 12, 30} {
				r := rand.New(rand.NewPCG(*seed, uint64(1000*pairs+bottles)))
				load, single, n, declined := 0, 0, 0, 0
				for range *draws {
					heldLoad, heldOne, ok := ratedDraw(r, scatter, pairs, bottles)
					if !ok {
						declined++
						continue
					}
					n++
					load, single = load+heldLoad, single+heldOne
				}
				t.Logf("| %.0f %% | %d | %d | %d | %.1f | %.1f | %d |", 100*scatter, pairs, bottles, n, 100*float64(load)/float64(n), 100*float64(single)/float64(n), declined)
				se := math.Sqrt(0.95 * 0.05 / float64(n))
				for name, held := range map[string]int{"load": load, "one bottle": single} {
					if share := float64(held) / float64(n); share < 0.93-4*se || share > 0.97+4*se {
						t.Errorf("scatter %v, %d pairs, %d bottles: %s in %.3f of %d", scatter, pairs, bottles, name, share, n)
					}
				}
			}
		}
	}
}

// ratedDraw returns whether the intervals of the load and of one bottle held the truth.
func ratedDraw(r *rand.Rand, scatter float64, pairs, bottles int) (load, single int, ok bool) {
	truth := func(ntu float64) float64 { return 0.01 * math.Pow(ntu, 1.1) * math.Exp(scatter*r.NormFloat64()) }
	var both []erosion.Pair
	for range pairs {
		ntu := 100 * math.Exp(3*r.Float64())
		both = append(both, erosion.Pair{NTU: ntu, GL: truth(ntu)})
	}
	rating := erosion.FitRating(both)
	plot := experiment.Plot{AreaM2: 1}
	in := erosion.Input{Run: &experiment.Run{RainMin: 30}, Plot: &plot, RunoffMin: 30, Rating: rating, Errors: def, Level: 0.95}
	var grams float64
	for i := range bottles {
		ntu := rating.LowNTU * math.Pow(rating.HighNTU/rating.LowNTU, 0.02+0.96*r.Float64())
		c, ml := truth(ntu), 300+700*r.Float64()
		from, to := 30*float64(i)/float64(bottles), 30*float64(i+1)/float64(bottles)
		grams += c * ml / 1000
		u := math.Hypot(0.005*ml, 2)
		plot.Samples = append(plot.Samples, turbid(from, to, ntu))
		in.Flow = append(in.Flow, erosion.Flow{StartMin: from, EndMin: to, VolumeML: ml + u*r.NormFloat64(), UVolumeML: u, Collected: true})
		if _, low, high, flag := rating.Concentration(ntu, 0.95); i == 0 && flag == "" && low <= c && c <= high {
			single = 1
		}
	}
	s := erosion.Of(in)
	if !s.Mass.Value.OK {
		return 0, 0, false
	}
	if s.Mass.Low.V <= grams && grams <= s.Mass.High.V {
		load = 1
	}
	return load, single, true
}

// Six bottles with both rate a turbidity of the same dataset.
func ExampleFitRating() {
	var pairs []erosion.Pair
	for _, ntu := range []float64{200, 400, 800, 1600, 3200, 6400} {
		pairs = append(pairs, erosion.Pair{NTU: ntu, GL: 0.005 * ntu})
	}
	c, _, _, _ := erosion.FitRating(pairs).Concentration(1000, 0.95)
	fmt.Printf("%.2f g/L\n", c)
	// Output: 5.00 g/L
}
