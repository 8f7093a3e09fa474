package acceptance

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"sheetwash/analysis"
	"sheetwash/analysis/result"
	"sheetwash/analysis/season"
)

const demoSeason = "../../../testdata/demo-season"

// truths are the true values of the plots of the demo season by metric.
func truths(t *testing.T) map[result.Metric]map[[3]string]float64 {
	t.Helper()
	f, err := os.Open(filepath.Join(demoSeason, "truth.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	columns := map[string]result.Metric{
		"true_capacity_at_rain_end": result.SteadyInfiltrationRate, "true_concentration": result.SedimentConcentration,
		"true_onset": result.TimeToRunoff, "true_runoff": result.RunoffDepth,
	}
	out := map[result.Metric]map[[3]string]float64{}
	for j, name := range rows[0] {
		word, _, _ := strings.Cut(name, " ")
		m, ok := columns[word]
		if !ok {
			continue
		}
		out[m] = map[[3]string]float64{}
		for _, r := range rows[1:] {
			if v, err := strconv.ParseFloat(r[j], 64); err == nil {
				out[m][[3]string{r[0], r[2], r[3]}] = v // dataset, run, plot
			}
		}
	}
	return out
}

// trueEffect returns the mean over the events that have both of the differences
// of the true values of their plots, of logarithms for ratios.
func trueEffect(places []season.Place, truth map[[3]string]float64, x, y string, logs bool) (float64, bool) {
	type sums struct{ x, nx, y, ny float64 }
	var events []string
	by := map[string]*sums{}
	for _, p := range places {
		v, ok := truth[[3]string{p.Dataset, p.Run, p.Plot}]
		if !ok || p.Treatment != x && p.Treatment != y {
			continue
		}
		if logs {
			v = math.Log(v)
		}
		s := by[p.Event]
		if s == nil {
			s = &sums{}
			by[p.Event] = s
			events = append(events, p.Event)
		}
		if p.Treatment == x {
			s.x, s.nx = s.x+v, s.nx+1
		} else {
			s.y, s.ny = s.y+v, s.ny+1
		}
	}
	total, n := 0.0, 0.0
	for _, e := range events {
		if s := by[e]; s.nx > 0 && s.ny > 0 {
			total += s.x/s.nx - s.y/s.ny
			n++
		}
	}
	if n < 2 {
		return 0, false
	}
	if logs {
		return math.Exp(total / n), true
	}
	return total / n, true
}

// The comparisons of the demo season recover the true effects of the treatments
// on the plots that were simulated: every difference found has the true sign, and intervals
// hold what is true of the plots nearly always (only the errors of measurement are between).
func TestDemoSeasonRecoversTreatments(t *testing.T) {
	a := analyse(t, demoSeason, analysis.DefaultPlan())
	places := season.Places(a.Plots)
	truth := truths(t)
	found, wrong, held, intervals := 0, 0, 0, 0
	for _, r := range a.Comparisons {
		of, ok := truth[r.Metric]
		if r.Scope != "all" || !ok || !r.Low.OK || !r.High.OK || r.Beside() || r.Flags.Has(season.FlagNoCommonEvent) {
			continue
		}
		want, ok := trueEffect(places, of, r.Treatment, r.Reference, r.Effect == "ratio")
		if !ok {
			continue
		}
		intervals++
		if r.Low.V <= want && want <= r.High.V {
			held++
		} else {
			t.Logf("%s, %s against %s: %.4g to %.4g, true of the plots %.4g (%s)", r.Metric, r.Treatment, r.Reference, r.Low.V, r.High.V, want, r.Method)
		}
		none := 0.0
		if r.Effect == "ratio" {
			none = 1
		}
		if r.PAdjusted.OK && r.PAdjusted.V < 0.05 {
			found++
			if (want > none) != (r.Value.V > none) {
				wrong++
				t.Errorf("%s, %s against %s: found %.4g, true of the plots %.4g", r.Metric, r.Treatment, r.Reference, r.Value.V, want)
			}
		}
	}
	t.Logf("%d intervals, %d hold the true effect; %d differences found, %d with the wrong sign", intervals, held, found, wrong)
	if intervals < 40 || float64(held) < 0.93*float64(intervals) || found < 10 {
		t.Errorf("%d intervals, %d hold the true effect, %d differences found", intervals, held, found)
	}
}

// The order of the treatments by steady infiltration rate and by sediment
// concentration over the season is that of the parameters that the demo season was made from.
func TestDemoSeasonRecoversOrder(t *testing.T) {
	a := analyse(t, demoSeason, analysis.DefaultPlan())
	for metric, order := range map[result.Metric][]string{
		// capacity 9, 12, 17, 30, 38, 52 mm/h; the wood, which hardly ran off, has a bound
		result.SteadyInfiltrationRate: {"potato ridges, bare", "vineyard alley, bare", "barley stubble disked in", "barley stubble left standing", "vineyard alley with straw mulch", "meadow fescue ley"},
		// concentration factors 0.7, 1.3, 3.2, 8.5, 13, 19 g/L
		result.SedimentConcentration: {"meadow fescue ley", "vineyard alley with straw mulch", "barley stubble left standing", "barley stubble disked in"},
	} {
		last, name := math.Inf(-1), ""
		for _, treatment := range order {
			for _, r := range a.Treatments {
				if r.Scope != "all" || r.Metric != metric || r.Treatment != treatment || !r.Headline {
					continue
				}
				if !r.Value.OK || r.Value.V <= last {
					t.Errorf("%s: %s has %v after %s with %.4g", metric, treatment, r.Value, name, last)
				}
				last, name = r.Value.V, treatment
			}
		}
	}
}
