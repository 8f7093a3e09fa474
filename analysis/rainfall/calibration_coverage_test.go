package rainfall_test

import (
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"testing"

	"sheetwash/analysis/analysistest"
	"sheetwash/analysis/experiment"
	"sheetwash/analysis/rainfall"
	"sheetwash/analysis/result"
)

var (
	calibrationDraws = flag.Int("calibration-draws", 300, "draws per cell of the coverage of calibrations")
	calibrationSeed  = flag.Uint64("calibration-seed", 31, "seed of the coverage of calibrations")
	picture          = flag.String("picture", "", "file that the coverage of calibrations draws its results in, as SVG")
)

// pattern is a table of rain: intensities of places drawn at random, with a
// coefficient of variation of about cv.
type pattern struct {
	name string
	at   func(r *rand.Rand, cv float64) float64
}

var patterns = []pattern{
	{"normal", func(r *rand.Rand, cv float64) float64 { return 1 + cv*r.NormFloat64() }},
	{"even spread", func(r *rand.Rand, cv float64) float64 { return 1 + cv*math.Sqrt(12)*(r.Float64()-0.5) }},
	{"log-normal", func(r *rand.Rand, cv float64) float64 {
		s := math.Sqrt(math.Log(1 + cv*cv))
		return math.Exp(s * r.NormFloat64())
	}},
	// A spray that falls off to the edges of the table, with 2 % from can to can.
	{"dome", func(r *rand.Rand, cv float64) float64 {
		u, v := math.Pi*(r.Float64()-0.5), math.Pi*(r.Float64()-0.5)
		return 1 + 2.74*cv*(math.Cos(u)*math.Cos(v)-4/(math.Pi*math.Pi)) + 0.02*r.NormFloat64()
	}},
}

// uniformityOfTable returns mean, CU, DUlq and CV of a table by 400 000 of its places.
func uniformityOfTable(p pattern, cv float64) map[result.Metric]float64 {
	r := rand.New(rand.NewPCG(1, 1))
	x := make([]float64, 400_000)
	for i := range x {
		x[i] = p.at(r, cv)
	}
	slices.Sort(x)
	var mean, dev, low, squares float64
	for _, v := range x {
		mean += v / float64(len(x))
	}
	for i, v := range x {
		dev += math.Abs(v - mean)
		squares += (v - mean) * (v - mean)
		if i < len(x)/4 {
			low += v
		}
	}
	n := float64(len(x))
	return map[result.Metric]float64{
		result.Intensity: mean, result.UniformityChristiansen: 100 * (1 - dev/(n*mean)),
		result.UniformityLowQuarter: 100 * low / (n / 4) / mean, result.CoefficientOfVariation: math.Sqrt(squares/n) / mean,
	}
}

var covered = []result.Metric{result.Intensity, result.UniformityChristiansen, result.UniformityLowQuarter, result.CoefficientOfVariation}

// TestCalibrationCoverage asks how often the 95 % intervals of a calibration
// hold the truth of its table, over tables of four kinds, two spreads and 6 to 48
// cans. The bounds are 92 and 98.5 %, and four standard errors of so many draws.
func TestCalibrationCoverage(t *testing.T) {
	draws := *calibrationDraws
	points := map[result.Metric][]analysistest.Covered{}
	slack := 4 * 100 * math.Sqrt(0.95*0.05/float64(draws))
	for _, p := range patterns {
		for _, cv := range []float64{0.08, 0.25} {
			truth := uniformityOfTable(p, cv)
			for _, n := range []int{6, 9, 12, 16, 25, 48} {
				share := coverCans(p, cv, n, draws, truth)
				line := fmt.Sprintf("| %s | %.2f | %d |", p.name, cv, n)
				for k, m := range covered {
					line += fmt.Sprintf(" %.1f |", share[k])
					row := fmt.Sprintf("%s, %s, CV %.2f", m, p.name, cv)
					points[m] = append(points[m], analysistest.Covered{Row: row, Size: n, Percent: share[k]})
					if share[k] < 92-slack || share[k] > 98.5+slack {
						t.Errorf("%s, cv %v, %d cans: %s held in %.1f %%", p.name, cv, n, m, share[k])
					}
				}
				t.Log(line)
			}
		}
	}
	if *picture != "" {
		var all []analysistest.Covered
		for _, m := range covered {
			all = append(all, points[m]...)
		}
		if err := os.WriteFile(*picture, analysistest.CoveragePicture("6, 9, 12, 16, 25, 48 cans", all), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

// coverCans returns in how many of 100 draws the interval of each metric holds the truth.
func coverCans(p pattern, cv float64, n, draws int, truth map[result.Metric]float64) []float64 {
	r := rand.New(rand.NewPCG(*calibrationSeed, uint64(n)))
	held := make([]float64, len(covered))
	for range draws {
		cans := make([]experiment.Can, n)
		for i := range cans {
			cans[i] = experiment.Can{Calibration: "c", DepthMM: p.at(r, cv), DurationMin: 60}
		}
		rows := rainfall.CalibrationRows(rainfall.Calibrations("d", cans), nil, nil, rainfall.DefaultSettings())
		for k, m := range covered {
			if row := rows[k]; row.Low.OK && row.Low.V <= truth[m] && truth[m] <= row.High.V {
				held[k] += 100 / float64(draws)
			}
		}
	}
	return held
}
