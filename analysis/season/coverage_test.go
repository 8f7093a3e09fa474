package season_test

import (
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"sheetwash/analysis/inference"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
	"sheetwash/analysis/season"
)

// The study of docs/methods/inference.md:
//
//	go test ./analysis/season -run TestCoverage -v -coverage.draws 20000
var coverageDraws = flag.Int("coverage.draws", 200, "simulated treatments per cell of the coverage study")

// study is one cell: many simulated treatments with a known truth.
type study struct {
	what       string
	metric     result.Metric
	statistic  string
	n, events  int
	censored   float64 // share
	truth      float64
	value      func(r *rand.Rand, event, run float64) float64 // event and run: standard normal, shared
	limit      float64                                        // values above are right-censored there; 0: none
	u, shared  float64
	singleRuns bool // every plot under its own run
}

const (
	sigmaSediment = 0.7 // of ln concentration and soil loss between plots
	sigmaTime     = 0.5 // of ln time to runoff between plots
	cvRate        = 0.3 // of steady rates and depths between plots
	eventShare    = 0.5 // standard deviation of events, as a share of that of plots
)

func lognormal(sigma float64) func(*rand.Rand, float64, float64) float64 {
	return func(r *rand.Rand, event, _ float64) float64 {
		return math.Exp(sigma * (r.NormFloat64() + eventShare*event))
	}
}

func normal(r *rand.Rand, event, _ float64) float64 {
	return 1 + cvRate*(r.NormFloat64()+eventShare*event)
}

// quantileOf returns the standard normal quantile.
func quantileOf(p float64) float64 {
	z, err := inference.NormalQuantile(p)
	if err != nil {
		panic(err)
	}
	return z
}

// studies returns the cells.
func studies() []study {
	var s []study
	for _, n := range []int{2, 3, 4, 5, 6} {
		s = append(s,
			study{what: "normal, CV 0.3", metric: result.RunoffDepth, statistic: "mean", n: n, truth: 1, value: normal},
			study{what: "log-normal, sigma 0.7", metric: result.SoilLoss, statistic: "geometric_mean", n: n, truth: 1, value: lognormal(sigmaSediment)},
			study{what: "log-normal, sigma 0.7", metric: result.SoilLoss, statistic: "mean", n: n, truth: math.Exp(sigmaSediment * sigmaSediment / 2), value: lognormal(sigmaSediment)},
			study{what: "normal, CV 0.3, shared u 0.15", metric: result.RunoffDepth, statistic: "mean", n: n, truth: 1, u: 0.15, shared: 0.15,
				value: func(r *rand.Rand, _, run float64) float64 { return 1 + cvRate*r.NormFloat64() + 0.15*run }},
			study{what: "the same, a run for each plot", metric: result.RunoffDepth, statistic: "mean", n: n, truth: 1, u: 0.15, shared: 0.15, singleRuns: true,
				value: func(r *rand.Rand, _, _ float64) float64 { return 1 + cvRate*r.NormFloat64() + 0.15*r.NormFloat64() }})
		for _, c := range []float64{0, 0.2, 0.4, 0.6} {
			limit, restricted := 0.0, math.Exp(sigmaTime*sigmaTime/2)
			if c > 0 {
				z := quantileOf(1 - c)
				limit = math.Exp(sigmaTime * z)
				// E min(X, L) = exp(s²/2) Phi(z - s) + L (1 - Phi(z)), L = exp(s z)
				restricted = restricted*inference.NormalCDF(z-sigmaTime) + limit*c
				s = append(s, study{what: "normal, CV 0.3", metric: result.SteadyInfiltrationRate, statistic: "mean", n: n, censored: c, truth: 1, value: normal, limit: 1 + cvRate*z})
			}
			for _, stat := range []string{"restricted_mean", "geometric_mean"} {
				truth := map[string]float64{"restricted_mean": restricted, "geometric_mean": 1}[stat]
				s = append(s, study{what: "log-normal, sigma 0.5", metric: result.TimeToRunoff, statistic: stat, n: n, censored: c, truth: truth, value: lognormal(sigmaTime), limit: limit})
			}
		}
	}
	// Over events the logarithm has the deviations of plots and events together.
	total := sigmaTime * math.Sqrt(1+eventShare*eventShare)
	z := quantileOf(0.7)
	limit := math.Exp(total * z)
	restricted := math.Exp(total*total/2)*inference.NormalCDF(z-total) + limit*0.3
	for _, e := range []int{2, 3, 6, 12} {
		s = append(s,
			study{what: "normal, CV 0.3, events", metric: result.RunoffDepth, statistic: "mean", n: 3, events: e, truth: 1, value: normal},
			study{what: "log-normal, sigma 0.7, events", metric: result.SoilLoss, statistic: "geometric_mean", n: 3, events: e, truth: 1, value: lognormal(sigmaSediment)},
			study{what: "log-normal, sigma 0.5, events", metric: result.TimeToRunoff, statistic: "restricted_mean", n: 3, events: e, censored: 0.3, truth: restricted, value: lognormal(sigmaTime), limit: limit})
	}
	return s
}

// run simulates the cell and returns the share of intervals that hold the truth
// and the share of draws without an interval.
func (s study) run(t *testing.T, draws int) (coverage, declined float64) {
	t.Helper()
	r := rand.New(rand.NewPCG(20251, uint64(s.n)+uint64(100*s.censored)+1000*uint64(s.events)))
	events := max(1, s.events)
	var rows []result.PlotRow
	for d := range draws {
		for e := range events {
			event, run := r.NormFloat64(), r.NormFloat64()
			if s.events == 0 {
				event = 0
			}
			for p := range s.n {
				row := plot(fmt.Sprint("e", e), fmt.Sprint("r", d), fmt.Sprint(d, ".", p), s.metric, s.value(r, event, run))
				row.Treatment = fmt.Sprint("t", d)
				if s.singleRuns {
					row.Run = fmt.Sprint("r", d, ".", p)
				}
				if s.u > 0 {
					row.U, row.UShared = quantity.Some(s.u), quantity.Some(s.shared)
				}
				if s.limit > 0 && row.Value.V > s.limit {
					row.Value.V, row.Censored = s.limit, result.Right
				}
				rows = append(rows, row)
			}
		}
	}
	out, err := season.Treatments(rows, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	answers, held := 0, 0
	for _, row := range out {
		if row.Scope != "all" || row.Statistic != s.statistic {
			continue
		}
		if !row.Low.OK || !row.High.OK {
			continue
		}
		answers++
		if row.Low.V <= s.truth && s.truth <= row.High.V {
			held++
		}
	}
	return float64(held) / float64(max(1, answers)), 1 - float64(answers)/float64(draws)
}

// Intervals of 95 % hold the truth at least 93 times of 100, within the error of
// the simulation. Where more than half of the draws are declined, what is left is
// a selection by outcome: such cells are shown and not judged.
func TestCoverage(t *testing.T) {
	const least = 0.93
	var table strings.Builder
	for _, s := range studies() {
		coverage, declined := s.run(t, *coverageDraws)
		fmt.Fprintf(&table, "| %s | %s | %s | %d | %d | %.0f %% | %.3f | %.3f |\n", s.metric, s.statistic, s.what, s.n, max(1, s.events), 100*s.censored, coverage, declined)
		answers := float64(*coverageDraws) * (1 - declined)
		if slack := 3.5 * math.Sqrt(least*(1-least)/max(1, answers)); declined <= 0.5 && coverage < least-slack {
			t.Errorf("%s %s (%s) n=%d events=%d censored=%.0f %%: covers %.3f", s.metric, s.statistic, s.what, s.n, s.events, 100*s.censored, coverage)
		}
	}
	t.Logf("coverage of 95 %% intervals, %d draws a cell\n| metric | statistic | data | n | events | censored | coverage | declined |\n| --- | --- | --- | --- | --- | --- | --- | --- |\n%s", *coverageDraws, table.String())
}
