package cli

import (
	"encoding/json"
	"math"
	"slices"
	"testing"

	"sheetwash/analysis/quantity"
	"sheetwash/cmd/internal/demo"
)

// found is a headline row of plot_results.json.
type found struct {
	Run, Plot, Metric, Method, Censored string
	Headline                            bool
	Value, U, Low, High                 *float64
	Flags                               *string
}

func (f found) holds(truth float64) bool {
	return f.Low != nil && f.High != nil && *f.Low <= truth && truth <= *f.High
}

// The main job finds the true parameters of the demo season again: rain, runoff
// and coefficient within 2 %, concentration within 3 % (or within three standard
// uncertainties, where there is so little sediment that the 0.01 g of a balance
// are more than that), the observed time
// to runoff within 0.02 min, the steady rate with a median error under the
// larger of 6 % and 2 % of the intensity and its interval holding the truth at
// least 90 times in 100. A plot that never ran off is censored.
func TestDemoSeasonFindsTheTruth(t *testing.T) {
	inSeason(t)
	if got := run(t, "analyze", "testdata/demo-season", "--out", "results", "--format", "json"); got.code != exitDone {
		t.Fatal(got.err)
	}
	var rows []found
	if err := json.Unmarshal([]byte(files(t, "results")["plot_results.json"]), &rows); err != nil {
		t.Fatal(err)
	}
	plots := map[[2]string]map[string]found{}
	for _, r := range rows {
		if !r.Headline {
			continue
		}
		key := [2]string{r.Run, r.Plot}
		if plots[key] == nil {
			plots[key] = map[string]found{}
		}
		plots[key][r.Metric] = r
	}
	var steady steadyRates
	for _, truth := range demo.Truth() {
		p := plots[[2]string{truth.Run, truth.Plot}]
		c := comparison{t, truth, p}
		c.within("rain_depth", truth.RainMM, 0.02)
		if truth.OnsetMin.OK {
			c.ranOff()
		} else {
			c.stayedDry()
		}
		if truth.DrainageMM.OK {
			c.closes()
		}
		steady.add(t, truth, p["steady_infiltration_rate"])
	}
	steady.judge(t)
}

// comparison is one plot with what was found of it.
type comparison struct {
	t     *testing.T
	truth demo.TruthRow
	found map[string]found
}

func (c comparison) within(metric string, truth, share float64) {
	c.t.Helper()
	f := c.found[metric]
	if f.Value == nil || math.Abs(*f.Value-truth) > share*truth {
		c.t.Errorf("%s plot %s: %s is %s, truth %v", c.truth.Run, c.truth.Plot, metric, text(f.Value), truth)
	}
}

func text(v *float64) string {
	data, err := json.Marshal(v)
	if err != nil {
		return err.Error()
	}
	return string(data)
}

func (c comparison) ranOff() {
	c.t.Helper()
	if c.truth.Note == "a jar of one litre ran over" {
		if f := c.found["runoff_depth"]; f.Flags == nil || f.Value == nil || *f.Value > c.truth.RunoffMM {
			c.t.Errorf("%s plot %s: the runoff of a jar that ran over is no flagged lower bound", c.truth.Run, c.truth.Plot)
		}
	} else {
		c.within("runoff_depth", c.truth.RunoffMM, 0.02)
		c.within("runoff_coefficient", c.truth.RunoffCoefficient, 0.02)
	}
	if f := c.found["sediment_concentration"]; f.Value != nil {
		truth := c.truth.SedimentConcentrationGL.V
		c.within("sediment_concentration", truth, max(0.03, 3**f.U/truth))
	}
	if f := c.found["time_to_runoff"]; f.Method == "observed" {
		if f.Censored != "none" || f.Value == nil || math.Abs(*f.Value-c.truth.OnsetMin.V) > 0.02 {
			c.t.Errorf("%s plot %s: time to runoff is %s min (%s), truth %v", c.truth.Run, c.truth.Plot, text(f.Value), f.Censored, c.truth.OnsetMin.V)
		}
	}
}

// closes compares a water balance of which every term was measured.
func (c comparison) closes() {
	c.t.Helper()
	c.within("drainage_depth", c.truth.DrainageMM.V, 0.03)
	c.within("storage_depth", c.truth.StorageMM.V, 0.03)
	if f := c.found["balance_closure"]; !f.holds(0) || f.Flags != nil {
		c.t.Errorf("%s plot %s: closure is %s mm, from %s to %s", c.truth.Run, c.truth.Plot, text(f.Value), text(f.Low), text(f.High))
	}
}

func (c comparison) stayedDry() {
	c.t.Helper()
	duration := 60 * c.truth.RainMM / c.truth.IntensityMMH
	if f := c.found["time_to_runoff"]; f.Censored != "right" || f.Value == nil || math.Abs(*f.Value-duration) > 0.02 { // a last bottle's end is a stopwatch reading
		c.t.Errorf("%s plot %s never ran off; its time to runoff is %s min, censored %s", c.truth.Run, c.truth.Plot, text(f.Value), f.Censored)
	}
	f := c.found["steady_infiltration_rate"]
	if f.Censored != "right" || f.Value == nil || math.Abs(*f.Value-c.truth.IntensityMMH) > 0.02*c.truth.IntensityMMH || f.Flags == nil || *f.Flags != "lower_bound" {
		c.t.Errorf("%s plot %s never ran off; its steady rate is %s mm/h, censored %s", c.truth.Run, c.truth.Plot, text(f.Value), f.Censored)
	}
}

// steadyRates gathers how well the steady rates were found.
type steadyRates struct {
	errors  []float64 // over the larger of 6 % and 2 % of the intensity
	holding int
}

func (s *steadyRates) add(t *testing.T, truth demo.TruthRow, f found) {
	t.Helper()
	if f.Censored != "none" || f.Value == nil {
		if (f.Censored == "right") != (truth.OnsetMin == quantity.Optional{}) {
			t.Errorf("%s plot %s: steady rate is %s, censored %s", truth.Run, truth.Plot, text(f.Value), f.Censored)
		}
		return
	}
	s.errors = append(s.errors, math.Abs(*f.Value-truth.CapacityMMH)/max(0.06*truth.CapacityMMH, 0.02*truth.IntensityMMH))
	if f.holds(truth.CapacityMMH) {
		s.holding++
	}
}

func (s *steadyRates) judge(t *testing.T) {
	t.Helper()
	slices.Sort(s.errors)
	n := len(s.errors)
	if n < 40 {
		t.Fatalf("only %d steady rates were found", n)
	}
	if median := s.errors[n/2]; median > 1 {
		t.Errorf("the median error of the steady rate is %.2f of what is allowed", median)
	}
	if share := float64(s.holding) / float64(n); share < 0.90 {
		t.Errorf("%d of %d intervals of the steady rate hold the truth", s.holding, n)
	}
}
