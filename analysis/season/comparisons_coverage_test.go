package season_test

import (
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"strings"
	"testing"

	"sheetwash/analysis/result"
	"sheetwash/analysis/season"
)

// The study of docs/coverage.md, comparisons of treatments:
//
//	go test ./analysis/season -run TestComparisonStudy -v -timeout 60m -study.draws 5000 -study.seed 20 -study.table comparisons.csv
var (
	studyDraws = flag.Int("study.draws", 40, "simulated seasons per cell of the study of comparisons")
	studySeed  = flag.Uint64("study.seed", 20, "seed of the study of comparisons")
	studyFrom  = flag.Int("study.from", 0, "first cell of the study: cells have seeds of their own, so that it can be taken up again")
	studyTable = flag.String("study.table", "", "file for the cells of the study as CSV")
)

// contest is one cell: seasons of treatments with a known truth.
type contest struct {
	what     string
	metric   result.Metric
	n        int // plots per treatment and event
	events   int
	censored float64 // share of plots of the first treatment
	sigma    float64 // between plots, of the logarithm or of the value
	between  float64 // deviation of the effect between events, as a share of sigma
	plain    bool    // differences, of normal values about 10
	weibull  bool    // times with proportional hazards, of which the hazard ratio is judged
}

const (
	trueRatio      = 2.0
	trueDifference = 3.0
	weibullShape   = 2.0
)

// trueHazards is the ratio of hazards of Weibull times whose medians have trueRatio.
var trueHazards = math.Pow(trueRatio, -weibullShape)

// contests returns the cells, in an ordinary test some of them.
func contests(some bool) []contest {
	var all []contest
	cv1 := math.Sqrt(math.Log(2)) // sigma of a coefficient of variation of 1
	counts, plots := []int{1, 2, 3, 6, 12}, []int{2, 3, 4, 6}
	if some {
		counts, plots = []int{1, 3}, []int{2, 4}
	}
	for _, events := range counts {
		for _, n := range plots {
			all = append(all,
				contest{what: "log-normal, CV 1", metric: result.SoilLoss, n: n, events: events, sigma: cv1},
				contest{what: "normal, CV 0.3", metric: result.RunoffDepth, n: n, events: events, sigma: 3, plain: true})
			if events > 1 {
				all = append(all,
					contest{what: "log-normal, CV 1, effect varies", metric: result.SoilLoss, n: n, events: events, sigma: cv1, between: 0.5})
			}
			for _, c := range []float64{0.2, 0.4, 0.6} {
				all = append(all, contest{what: "times, sigma 0.5", metric: result.TimeToRunoff, n: n, events: events, censored: c, sigma: sigmaTime},
					contest{what: "Weibull times, shape 2", metric: result.TimeToRunoff, n: n, events: events, censored: c, sigma: sigmaTime, weibull: true})
			}
			all = append(all, contest{what: "rates at a bound, CV 0.3", metric: result.SteadyInfiltrationRate, n: n, events: events, censored: 0.3, sigma: 3, plain: true})
		}
	}
	return all
}

// season simulates one season: every treatment in every event, events that
// differ by as much as plots do, and the effect of the first treatment.
func (c contest) season(r *rand.Rand, treatments int, effect bool) []result.PlotRow {
	limit := 0.0
	if c.censored > 0 { // for the first treatment, over all events
		spread := c.sigma * math.Sqrt(2+c.between*c.between)
		if c.events == 1 {
			spread = c.sigma
		}
		limit = spread * quantileOf(1-c.censored)
		if c.weibull { // within an event at its median
			limit = math.Log(-math.Log(c.censored)) / weibullShape
		}
	}
	var rows []result.PlotRow
	for e := range c.events {
		event := 0.0
		if c.events > 1 {
			event = c.sigma * r.NormFloat64()
		}
		for k := range treatments {
			own := c.between * c.sigma * r.NormFloat64() / math.Sqrt2
			shift := 0.0
			if k > 0 && effect {
				shift = -math.Log(trueRatio)
				if c.plain {
					shift = -trueDifference
				}
			}
			for p := range c.n {
				v := event + own + shift + c.sigma*r.NormFloat64()
				end := limit
				if c.weibull {
					v, end = event+shift+math.Log(r.ExpFloat64())/weibullShape, limit+event
				}
				censored := result.Observed
				if c.censored > 0 && v > end {
					v, censored = end, result.Right
				}
				if c.plain {
					v += 20
				} else {
					v = math.Exp(v)
				}
				row := plot(fmt.Sprint("e", e), "r1", fmt.Sprint(k, ".", p), c.metric, v)
				row.Treatment, row.Censored = string(rune('a'+k)), censored
				rows = append(rows, row)
			}
		}
	}
	return rows
}

// tally is what a cell showed.
type tally struct {
	draws, answers, held       int
	tests, rejected, anyFamily int
	mixed                      rate // of the mixed model beside
}

// rate is how often a statement held and how often a test found what is not there.
type rate struct{ answers, held, tests, rejected int }

func (y *rate) interval(row result.ComparisonRow, truth float64) {
	if row.Low.OK || row.High.OK {
		y.answers++
		if (!row.Low.OK || row.Low.V <= truth) && (!row.High.OK || truth <= row.High.V) {
			y.held++
		}
	}
}

func (y *rate) test(row result.ComparisonRow) {
	if row.P.OK {
		y.tests++
		if row.P.V < 0.05 {
			y.rejected++
		}
	}
}

// judged reports whether the row is what the cell is about.
func (c contest) judged(row result.ComparisonRow) bool {
	if c.weibull {
		return row.Effect == "hazard_ratio"
	}
	return !row.Beside()
}

func (c contest) run(t *testing.T, draws int, seed uint64) tally {
	t.Helper()
	r := rand.New(rand.NewPCG(seed, uint64(c.n)+100*uint64(c.events)+10000*uint64(100*c.censored)))
	scope := "all"
	if c.events == 1 {
		scope = "event:e0"
	}
	truth := trueRatio
	switch {
	case c.plain:
		truth = trueDifference
	case c.weibull:
		truth = trueHazards
	}
	var y tally
	for range draws {
		y.draws++
		out, err := season.CompareIn(scope, c.season(r, 2, true), season.Settings{Level: 0.95, Reference: "b"})
		if err != nil {
			t.Fatal(err)
		}
		for _, row := range out {
			if row.Flags.Has(season.FlagSecondModel) {
				y.mixed.interval(row, truth)
			}
			if c.judged(row) {
				var one rate
				one.interval(row, truth)
				y.answers, y.held = y.answers+one.answers, y.held+one.held
			}
		}
		treatments := 4 // six pairs; of censored plots one, which takes a hundred times as long
		if c.censored > 0 {
			treatments = 2
		}
		out, err = season.CompareIn(scope, c.season(r, treatments, false), season.Settings{Level: 0.95})
		if err != nil {
			t.Fatal(err)
		}
		any := false
		for _, row := range out {
			if row.Flags.Has(season.FlagSecondModel) {
				y.mixed.test(row)
			}
			if !c.judged(row) || !row.P.OK {
				continue
			}
			y.tests++
			if row.P.V < 0.05 {
				y.rejected++
			}
			any = any || row.PAdjusted.V < 0.05
		}
		if any {
			y.anyFamily++
		}
	}
	return y
}

// Intervals of default comparisons hold the truth at least 93 times of 100 and
// their tests find what is not there at most 6 times of 100, within the error of the
// simulation. Draws without an interval are counted.
func TestComparisonStudy(t *testing.T) {
	var table strings.Builder
	table.WriteString("data,metric,plots,events,censored,draws,declined,coverage,false_interval,false_positive,any_of_family,mixed_coverage,mixed_false_positive\n")
	for _, c := range contests(*studyTable == "")[*studyFrom:] {
		y := c.run(t, *studyDraws, *studySeed)
		coverage := float64(y.held) / math.Max(1, float64(y.answers))
		wrong := float64(y.answers-y.held) / float64(y.draws)
		rejected := float64(y.rejected) / math.Max(1, float64(y.tests))
		fmt.Fprintf(&table, "%q,%s,%d,%d,%.0f %%,%d,%.3f,%.3f,%.3f,%.3f,%.3f,%.3f,%.3f\n", c.what, c.metric, c.n, c.events, 100*c.censored, y.draws,
			1-float64(y.answers)/float64(y.draws), coverage, wrong, rejected, float64(y.anyFamily)/float64(y.draws),
			float64(y.mixed.held)/math.Max(1, float64(y.mixed.answers)), float64(y.mixed.rejected)/math.Max(1, float64(y.mixed.tests)))
		if *studyTable != "" { // as it grows
			if err := os.WriteFile(*studyTable, []byte(table.String()), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		name := fmt.Sprintf("%s, %s, %d plots, %d events, %.0f %% censored", c.what, c.metric, c.n, c.events, 100*c.censored)
		if slack := 3.5 * math.Sqrt(0.93*0.07/math.Max(1, float64(y.answers))); coverage < 0.93-slack && y.answers > 0 {
			t.Errorf("%s: covers %.3f", name, coverage)
		}
		// Six tests of one season depend on each other: its draws count, not its tests.
		if slack := 3.5 * math.Sqrt(0.06*0.94/float64(y.draws)); rejected > 0.06+slack || float64(y.anyFamily)/float64(y.draws) > 0.06+slack {
			t.Errorf("%s: rejects %.3f, any of a family %.3f", name, rejected, float64(y.anyFamily)/float64(y.draws))
		}
	}
	t.Logf("%d draws a cell, seed %d\n%s", *studyDraws, *studySeed, table.String())
}
