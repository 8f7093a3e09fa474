package analysis_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"sheetwash/analysis"
)

func pair(run string, contrast, y float64) analysis.CoverPair {
	return analysis.CoverPair{Dataset: "d", Run: run, Contrast: contrast, Ratio: math.Exp(-y)}
}

// Worked by hand. Run 1: b = (40 1.6 + 80 2.4)/(1600 + 6400) = 0.032, residuals 0.32 and -0.16, their squares 0.128. Run 2:
// b = (40 1.2 + 80 2.4)/8000 = 0.03 without residuals. s^2 = 0.128/2 = 0.064, v = 0.064/8000 = 8e-6 for both. The
// slopes differ by less than that: their variance is 2e-6, so tau^2 = 0, b = 0.031, SE = sqrt(8e-6/2) = 0.002 with the floor, and
// the limits are b -+ 12.7062 0.002 (t with one degree of freedom, NIST/SEMATECH handbook 1.3.6.7.2). A plot that lost nothing and one whose jar ran over
// have no logarithm; one with 5 % of cover more than its bare plots says nothing.
func TestPooledCover(t *testing.T) {
	pairs := []analysis.CoverPair{pair("1", 40, 1.6), pair("1", 80, 2.4), pair("2", 40, 1.2), pair("2", 80, 2.4),
		{Dataset: "d", Run: "2", Contrast: 90}, {Dataset: "d", Run: "1", Contrast: 80, Ratio: 0.1, Bounded: true}, pair("2", 5, 3)}
	row := analysis.PooledCover(pairs, 0.95)
	for _, tt := range []struct {
		name      string
		got, want float64
	}{{"b", row.Value.V, 0.031}, {"low", row.Low.V, 0.031 - 12.706205*0.002}, {"high", row.High.V, 0.031 + 12.706205*0.002}, {"tau", row.SDBetween.V, 0}} {
		if math.Abs(tt.got-tt.want) > 1e-8 {
			t.Errorf("%s = %v, want %v", tt.name, tt.got, tt.want)
		}
	}
	if row.NPlots != 4 || row.NRuns != 2 || !row.Flags.Has("left_out=2") || !row.Flags.Has("hartung_knapp_floor") {
		t.Errorf("%d plots, %d runs, %v", row.NPlots, row.NRuns, row.Flags)
	}

	// One run: t(0.975; 1) sqrt(0.128/8000) = 12.7062 0.004.
	one := analysis.PooledCover(pairs[:2], 0.95)
	if math.Abs(one.High.V-(0.032+12.706205*0.004)) > 1e-8 || !one.Flags.Has("one_run") {
		t.Errorf("of one run: %+v", one)
	}
	// Runs with a pair each: slopes 0.04 and 0.03, whose mean has t(0.975; 1) 0.005.
	two := analysis.PooledCover([]analysis.CoverPair{pair("1", 40, 1.6), pair("2", 80, 2.4)}, 0.95)
	if math.Abs(two.Value.V-0.035) > 1e-12 || math.Abs(two.Low.V-(0.035-12.706205*0.005)) > 1e-8 {
		t.Errorf("of two pairs: %+v", two)
	}
	if none := analysis.PooledCover(pairs[4:], 0.95); none.Value.OK || !none.Flags.Has("no_cover_contrast") {
		t.Errorf("of none: %+v", none)
	}
	if single := analysis.PooledCover(pairs[:1], 0.95); !single.Value.OK || single.Low.OK || !single.Flags.Has("n_small") {
		t.Errorf("of one pair: %+v", single)
	}
}

// The 95 % interval of a true exponent of 0.035 in 3 to 12 runs of four covered plots, whose runs have exponents
// that scatter by 0.004 and whose logarithms scatter by 0.25, some of them shared by the run through its bare plots.
func TestPooledCoverCoverage(t *testing.T) {
	n := 10 * *draws
	for _, runs := range []int{3, 6, 12} {
		r := rand.New(rand.NewPCG(*seed, uint64(runs)))
		held := 0
		for range n {
			var pairs []analysis.CoverPair
			for k := range runs {
				b, bare := 0.035+0.004*r.NormFloat64(), 0.1*r.NormFloat64()
				for _, cover := range []float64{20, 40, 60, 85} {
					pairs = append(pairs, pair(string(rune('a'+k)), cover, b*cover+bare+0.25*r.NormFloat64()))
				}
			}
			if row := analysis.PooledCover(pairs, 0.95); row.Low.V <= 0.035 && 0.035 <= row.High.V {
				held++
			}
		}
		share := float64(held) / float64(n)
		t.Logf("| %d | %d | %.1f |", runs, n, 100*share)
		if se := math.Sqrt(0.95 * 0.05 / float64(n)); share < 0.93-4*se || share > 0.99 {
			t.Errorf("%d runs: %.3f", runs, share)
		}
	}
}
