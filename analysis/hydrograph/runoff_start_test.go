package hydrograph_test

import (
	"math"
	"testing"

	"sheetwash/analysis/experiment"
	"sheetwash/analysis/hydrograph"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// Bottles of 5 min under 60 mm/h: 0, 0, 6, 30, 54, 54 mm/h.
func rising() []experiment.Sample {
	return []experiment.Sample{bottle(0, 5, 0), bottle(5, 10, 0), bottle(10, 15, 500), bottle(15, 20, 2500), bottle(20, 25, 4500), bottle(25, 30, 4500)}
}

func TestTimeToRunoff(t *testing.T) {
	noted := plotOf(rising()...)
	noted.Onset, noted.OnsetMin = experiment.OnsetNoted, 12
	none := plotOf()
	none.Onset = experiment.OnsetNone
	late := plotOf(bottle(0, 30, 0), bottle(30, 40, 100))
	late.Onset, late.OnsetMin = experiment.OnsetNoted, 31
	type want struct {
		value, low, high float64 // NaN: none
		censored         result.Censored
		flag             string
	}
	no := math.NaN()
	for _, tt := range []struct {
		name     string
		plot     *experiment.Plot
		method   string
		headline bool
		want     want
	}{
		// u = 5 s; 12 +- 1.96 x 0.0833
		{"as noted", noted, hydrograph.MethodObserved, true, want{12, 12 - 1.959964/12, 12 + 1.959964/12, result.Observed, ""}},
		{"between the last dry bottle and the end of the first wet one", plotOf(rising()...), hydrograph.MethodFirstBottle, true, want{12.5, 10, 15, result.Interval, ""}},
		{"not noted", plotOf(rising()...), hydrograph.MethodObserved, false, want{no, no, no, "", "not_noted"}},
		// 3 mm/h on the line from 0 at 10 min to 6 at 12.5 min
		{"the threshold of 5 %", plotOf(rising()...), hydrograph.MethodThreshold, false, want{11.25, 10, 15, result.Interval, ""}},
		// after a split at 12 min the bottle runs at 10 mm/h: from 0 at 12 to 10 at 13.5
		{"the threshold after a noted onset", noted, hydrograph.MethodThreshold, false, want{12.45, 12, 15, result.Interval, ""}},
		// the diluted bottle left out: 30 at 17.5 and 54 at 22.5 min: 4.8 mm/h per min
		{"the rising limb", plotOf(rising()...), hydrograph.MethodBackExtrapolated, false, want{11.25, no, no, result.Observed, ""}},
		{"one bottle is no limb", plotOf(bottle(0, 10, 0), bottle(10, 30, 100)), hydrograph.MethodBackExtrapolated, false, want{no, no, no, "", "rising_limb_too_short"}},
		{"none by the end of rain", none, hydrograph.MethodObserved, true, want{30, 30, no, result.Right, "no_runoff"}},
		{"and no bottles", none, hydrograph.MethodFirstBottle, false, want{no, no, no, "", "no_bottles"}},
		{"every bottle dry", plotOf(bottle(0, 15, 0), bottle(15, 30, 0)), hydrograph.MethodFirstBottle, true, want{30, 30, no, result.Right, "no_runoff"}},
		{"dry, and no threshold", plotOf(bottle(0, 15, 0), bottle(15, 30, 0)), hydrograph.MethodThreshold, false, want{30, 30, no, result.Right, "below_threshold"}},
		{"dry, and no limb", plotOf(bottle(0, 15, 0), bottle(15, 30, 0)), hydrograph.MethodBackExtrapolated, false, want{30, 30, no, result.Right, "no_runoff"}},
		{"dry as long as anybody looked", plotOf(bottle(0, 15, 0)), hydrograph.MethodFirstBottle, true, want{15, 15, no, result.Right, "collection_ended_early"}},
		{"no bottles and nothing noted", plotOf(), hydrograph.MethodFirstBottle, true, want{no, no, no, "", "no_bottles"}},
		{"noted after the rain", late, hydrograph.MethodObserved, true, want{30, 30, no, result.Right, "onset_after_rain"}},
		{"first water after the rain", plotOf(bottle(0, 30, 0), bottle(30, 40, 100)), hydrograph.MethodFirstBottle, true, want{30, 30, no, result.Right, "runoff_after_rain"}},
		{"a threshold passed after the rain", plotOf(bottle(0, 30, 0), bottle(30, 40, 9000)), hydrograph.MethodThreshold, false, want{30, 30, no, result.Right, "below_threshold"}},
		{"a bottle put up when flow began", plotOf(bottle(12.4, 17.4, 1000), bottle(17.4, 30, 2520)), hydrograph.MethodFirstBottle, true, want{14.9, 0, 17.4, result.Interval, "start_assumed"}},
		{"a word that is no method", plotOf(), "guessed", false, want{no, no, no, "", "unknown_method"}},
	} {
		h := runoff(tt.plot, def)
		e := h.TimeToRunoff(tt.method)
		check := func(part string, got quantity.Optional, want float64) {
			if got.OK == math.IsNaN(want) && !(part == "low" && tt.method == hydrograph.MethodBackExtrapolated) && !(part == "high" && tt.method == hydrograph.MethodBackExtrapolated) {
				t.Errorf("%s: %s = %+v, want %v", tt.name, part, got, want)
			} else if got.OK && !math.IsNaN(want) {
				near(t, tt.name+": "+part, got.V, want, 1e-6)
			}
		}
		check("value", e.Value, tt.want.value)
		check("low", e.Low, tt.want.low)
		check("high", e.High, tt.want.high)
		if e.Censored != tt.want.censored || tt.want.flag != "" && !e.Flags.Has(tt.want.flag) || (h.HeadlineMethod() == tt.method) != tt.headline {
			t.Errorf("%s: %+v, headline %s", tt.name, e, h.HeadlineMethod())
		}
	}
}

// Onset at 8 min and a rate that rises by 6 mm/h per min to 48 mm/h at 16 min:
// bottles from the onset on give the line exactly, so the intercept is 8 min.
func TestBackExtrapolation(t *testing.T) {
	ml := func(mmh float64) float64 { return mmh * 2 / 0.06 }
	p := plotOf(bottle(0, 8, 0), bottle(8, 10, ml(6)), bottle(10, 12, ml(18)), bottle(12, 14, ml(30)), bottle(14, 16, ml(42)), bottle(16, 30, 48*14/0.06))
	p.Onset, p.OnsetMin = experiment.OnsetNoted, 8
	h := runoff(p, def)
	e := h.TimeToRunoff(hydrograph.MethodBackExtrapolated)
	near(t, "intercept", e.Value.V, 8, 1e-9)
	if e.N != 4 || !(e.U.V > 0 && e.U.V < 0.5) {
		t.Errorf("limb %+v", e)
	}
}

func TestTimeToPonding(t *testing.T) {
	p := plotOf(rising()...)
	h := runoff(p, def)
	if e := h.TimeToPonding(); e.Value.OK || !e.Flags.Has("not_noted") {
		t.Errorf("not noted: %+v", e)
	}
	p.PondingMin = quantity.Some(4)
	h = runoff(p, def)
	e := h.TimeToPonding()
	near(t, "ponding", e.Value.V, 4, 0)
	near(t, "u", e.U.V, 5.0/60, 1e-15)
}
