package season_test

import (
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"strings"
	"testing"

	"sheetwash/analysis/inference"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
	"sheetwash/analysis/season"
)

// The study of docs/methods/inference.md:
//
//	go test ./analysis/season -run TestCoverage -v -timeout 60m -coverage.draws 10000 -coverage.table treatments.csv
var (
	coverageDraws = flag.Int("coverage.draws", 200, "simulated treatments per cell of the coverage study")
	coverageFrom  = flag.Int("coverage.from", 0, "first cell of the coverage study: cells have seeds of their own, so that it can be taken up again")
	coverageTable = flag.String("coverage.table", "", "file for the cells of the coverage study as CSV")
)

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
	sigmaTime  = 0.5 // of ln time to runoff between plots
	cvRate     = 0.3 // of steady rates and depths between plots
	eventShare = 0.5 // standard deviation of events, as a share of that of plots
)

// sigmaSediment is that of ln concentration and soil loss between plots: a
// coefficient of variation of 1.
var sigmaSediment = math.Sqrt(math.Ln2)

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

// studies returns the cells, in an ordinary test some of them.
func studies(some bool) []study {
	counts, plots := []int{1, 2, 3, 6, 12}, []int{2, 3, 4, 5, 6}
	if some {
		counts, plots = []int{1, 3}, []int{2, 3, 6}
	}
	var s []study
	for _, events := range counts {
		for _, n := range plots {
			s = append(s, cells(n, events)...)
			if events == 1 {
				s = append(s,
					study{what: "normal, CV 0.3, all plots of a run share an error of 15 %", metric: result.RunoffDepth, statistic: "mean", n: n, events: 1, truth: 1, u: 0.15, shared: 0.15,
						value: func(r *rand.Rand, _, run float64) float64 { return 1 + cvRate*r.NormFloat64() + 0.15*run }},
					study{what: "the same error, a run for each plot", metric: result.RunoffDepth, statistic: "mean", n: n, events: 1, truth: 1, u: 0.15, shared: 0.15, singleRuns: true,
						value: func(r *rand.Rand, _, _ float64) float64 { return 1 + cvRate*r.NormFloat64() + 0.15*r.NormFloat64() }})
			}
		}
	}
	return s
}

// cells returns those of n plots in each of some events, which differ where there are several.
func cells(n, events int) []study {
	total := 1.0 // variance of a value of any event, in that of plots
	if events > 1 {
		total += eventShare * eventShare
	}
	time, spread := sigmaTime*math.Sqrt(total), math.Sqrt(total)
	s := []study{
		{what: "normal, CV 0.3", metric: result.RunoffDepth, statistic: "mean", truth: 1, value: normal},
		{what: "log-normal, CV 1", metric: result.SoilLoss, statistic: "geometric_mean", truth: 1, value: lognormal(sigmaSediment)},
		{what: "log-normal, CV 1", metric: result.SoilLoss, statistic: "mean", truth: math.Exp(sigmaSediment * sigmaSediment * total / 2), value: lognormal(sigmaSediment)},
	}
	for _, c := range []float64{0, 0.2, 0.4, 0.6} {
		limit, restricted := 0.0, math.Exp(time*time/2)
		if c > 0 {
			z := quantileOf(1 - c)
			limit = math.Exp(time * z)
			// E min(X, L) = exp(s²/2) Phi(z - s) + L (1 - Phi(z)), L = exp(s z)
			restricted = restricted*inference.NormalCDF(z-time) + limit*c
			s = append(s, study{what: "normal, CV 0.3", metric: result.SteadyInfiltrationRate, statistic: "mean", censored: c, truth: 1, value: normal, limit: 1 + cvRate*spread*z})
		}
		for _, stat := range []string{"restricted_mean", "geometric_mean"} {
			truth := map[string]float64{"restricted_mean": restricted, "geometric_mean": 1}[stat]
			s = append(s, study{what: "log-normal, sigma 0.5", metric: result.TimeToRunoff, statistic: stat, censored: c, truth: truth, value: lognormal(sigmaTime), limit: limit})
		}
	}
	for i := range s {
		s[i].n, s[i].events = n, events
	}
	return s
}

// run simulates the cell and returns how many intervals there were and how many
// held the truth.
func (s study) run(t *testing.T, draws int) (answers, held int) {
	t.Helper()
	r := rand.New(rand.NewPCG(20251, uint64(s.n)+uint64(100*s.censored)+1000*uint64(s.events)))
	const together = 500
	for from := 0; from < draws; from += together {
		out, err := season.Treatments(s.rows(r, min(together, draws-from)), 0.95)
		if err != nil {
			t.Fatal(err)
		}
		for _, row := range out {
			if row.Scope != "all" || row.Statistic != s.statistic || !row.Low.OK && !row.High.OK {
				continue
			}
			answers++
			if (!row.Low.OK || row.Low.V <= s.truth) && (!row.High.OK || s.truth <= row.High.V) {
				held++
			}
		}
	}
	return answers, held
}

// rows simulates treatments.
func (s study) rows(r *rand.Rand, treatments int) []result.PlotRow {
	var rows []result.PlotRow
	for d := range treatments {
		for e := range s.events {
			event, run := r.NormFloat64(), r.NormFloat64()
			if s.events == 1 {
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
	return rows
}

// Intervals of 95 % hold the truth at least 93 times of 100, within the error of
// the simulation. Draws without an interval are counted.
func TestCoverage(t *testing.T) {
	const least = 0.93
	var table strings.Builder
	table.WriteString("metric,statistic,data,plots,events,censored,draws,declined,coverage\n")
	for _, s := range studies(*coverageTable == "")[*coverageFrom:] {
		answers, held := s.run(t, *coverageDraws)
		coverage := float64(held) / float64(max(1, answers))
		fmt.Fprintf(&table, "%s,%s,%q,%d,%d,%.0f %%,%d,%.3f,%.3f\n", s.metric, s.statistic, s.what, s.n, s.events, 100*s.censored, *coverageDraws, 1-float64(answers)/float64(*coverageDraws), coverage)
		if *coverageTable != "" { // as it grows
			if err := os.WriteFile(*coverageTable, []byte(table.String()), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		if slack := 3.5 * math.Sqrt(least*(1-least)/float64(max(1, answers))); answers > 0 && coverage < least-slack {
			t.Errorf("%s %s (%s) n=%d events=%d censored=%.0f %%: covers %.3f of %d", s.metric, s.statistic, s.what, s.n, s.events, 100*s.censored, coverage, answers)
		}
	}
	t.Logf("coverage of 95 %% intervals, %d draws a cell\n%s", *coverageDraws, table.String())
}
