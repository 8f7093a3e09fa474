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
		// 500 mL by 15 min at the 500 mL/min of the next bottle: one minute
		{"the running total carried back", plotOf(rising()...), hydrograph.MethodBackExtrapolated, false, want{14, no, no, result.Observed, ""}},
		{"the onset noted does not move it", noted, hydrograph.MethodBackExtrapolated, false, want{14, no, no, result.Observed, ""}},
		// 4000 mL by 10 min at 100 mL/min would have begun before the rain
		{"a rate that falls", plotOf(bottle(0, 10, 4000), bottle(10, 30, 2000)), hydrograph.MethodBackExtrapolated, false, want{no, no, no, "", "no_rising_limb"}},
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

// Flow of 300 mL/min set in at 8 min under a bottle that had been waiting since 5:
// 600 mL by 10 min, then 1500 in 5 min. u: 1 s of the watch; sqrt(3^2 + 2^2) mL at
// 300 mL/min are 0.0120185 min; the next rate has sqrt(7.5^2 + 2^2) mL of 1500 and
// sqrt(2) s of 300, 0.0070000 of it in all, and carries back 2 min: 0.0140000.
func TestBackExtrapolation(t *testing.T) {
	h := runoff(plotOf(bottle(0, 5, 0), bottle(5, 10, 600), bottle(10, 15, 1500), bottle(15, 30, 4500)), def)
	e := h.TimeToRunoff(hydrograph.MethodBackExtrapolated)
	near(t, "intercept", e.Value.V, 8, 1e-9)
	near(t, "u", e.U.V, math.Sqrt(1.0/3600+0.0120185*0.0120185+0.0140000*0.0140000), 1e-6)
	if e.N != 2 {
		t.Errorf("limb of %d", e.N)
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
