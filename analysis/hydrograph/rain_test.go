package hydrograph_test

import (
	"testing"

	"pgregory.net/rapid"

	"sheetwash/analysis/experiment"
	"sheetwash/analysis/hydrograph"
	"sheetwash/analysis/quantity"
)

// Rain of 30, 60, 60, 60, 60, 90 mm/h for 10 min each: the first 20 min have 45,
// the last bottle of 10 min has rain for half its time: 45.
func TestBetween(t *testing.T) {
	course := hydrograph.Rain{IntensityMMH: 60, DurationMin: 60, EdgesMin: []float64{0, 10, 20, 30, 40, 50, 60}, RatesMMH: []float64{30, 60, 60, 60, 60, 90}}
	near(t, "first third", course.Between(0, 20), 45, 1e-12)
	near(t, "last bottle beyond the rain", course.Between(55, 65), 45, 1e-12)
	near(t, "after the rain", course.Between(60, 70), 0, 0)
	near(t, "no time", course.Between(5, 5), 0, 0)
	constant := hydrograph.Rain{IntensityMMH: 60, DurationMin: 60}
	near(t, "constant, beyond the rain", constant.Between(55, 65), 30, 1e-12)
	rapid.Check(t, func(t *rapid.T) {
		cut := rapid.Float64Range(0, 60).Draw(t, "cut")
		same(t, "parts", course.Between(0, cut)*cut+course.Between(cut, 65)*(65-cut), 3600)
	})
}

// The temperature of the run comes from a channel where none is stated, the
// plot's before the run's: 30 Cel (995.6488 kg/m3, Tanaka et al. 2001).
func TestLoggedTemperature(t *testing.T) {
	channel := func(c float64) []experiment.Series {
		return []experiment.Series{{Channel: experiment.WaterTemperature, BinMin: 1, Bins: []experiment.Bin{{N: 2, SumV: 2*c - 2}, {Index: 1, N: 2, SumV: 2*c + 2}}}}
	}
	weighed := experiment.Sample{EndMin: 30, GrossG: quantity.Some(1100), TareG: quantity.Some(100)}
	run := experiment.Run{RainMin: 30, Series: channel(10)}
	p := plotOf(weighed)
	p.Series = channel(30)
	h := hydrograph.Of(&run, p, rain, def, hydrograph.DefaultSettings())
	near(t, "the plot's channel", h.VolumeML, 1000/0.9956488, 1e-3)
	p.Series = nil
	h = hydrograph.Of(&run, p, rain, def, hydrograph.DefaultSettings())
	near(t, "the run's channel, 10 Cel", h.VolumeML, 1000/0.9997026, 1e-3)
	if h.Flags.Has("temperature_assumed") {
		t.Errorf("flags %v", h.Flags)
	}
}

// Without an observed or first-bottle time the duration runs from the first flow.
func TestRunoffMinutesWithoutOnset(t *testing.T) {
	p := plotOf(bottle(10, 30, 500))
	p.Onset = experiment.OnsetNone
	h := runoff(p, def)
	d, _, ok := h.RunoffMinutes()
	if near(t, "duration", d, 20, 1e-12); !ok {
		t.Error("no duration")
	}
}
