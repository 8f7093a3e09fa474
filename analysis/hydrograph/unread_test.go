package hydrograph_test

import (
	"testing"

	"sheetwash/analysis/experiment"
	"sheetwash/analysis/hydrograph"
	"sheetwash/analysis/quantity"
)

// A dry bottle and then bottles that nobody could read are no observation of a
// plot that never ran off: there is no depth, and the start is only known to be
// later than the dry bottle, or to lie within the bottle that held water.
func TestDryAsFarAsRead(t *testing.T) {
	dry := bottle(0, 10, 0)
	over := experiment.Sample{StartMin: 10, EndMin: 20, Flag: experiment.FlagOverflow}
	blank := experiment.Sample{StartMin: 10, EndMin: 30}
	pending := experiment.Sample{StartMin: 10, EndMin: 30, SedimentPending: true}
	aside := bottle(10, 30, 900)
	aside.Exclude = true
	dish := experiment.Sample{StartMin: 10, EndMin: 30, SedimentG: quantity.Some(5)}
	for _, tt := range []struct {
		name      string
		samples   []experiment.Sample
		low, high float64 // of the first bottle; high 0: open
		flag      string
	}{
		{"lost", []experiment.Sample{dry, lost(10, 30)}, 10, 0, "lost"},
		{"ran over, volume unknown", []experiment.Sample{dry, over, lost(20, 30)}, 10, 20, "overflow"},
		{"ran over between dry bottles", []experiment.Sample{dry, over, bottle(20, 30, 0)}, 10, 20, "overflow"},
		{"not read", []experiment.Sample{dry, blank}, 10, 0, "volume_missing"},
		{"not read, sediment not yet weighed", []experiment.Sample{dry, pending}, 10, 0, "volume_missing"},
		{"set aside", []experiment.Sample{dry, aside}, 10, 0, "excluded"},
		{"only its sediment weighed", []experiment.Sample{dry, dish}, 10, 0, "sediment_without_water"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			h := runoff(plotOf(tt.samples...), def)
			if h.Status != hydrograph.NoData {
				t.Fatalf("status %v, want no data", h.Status)
			}
			for name, e := range map[string]bool{"depth": h.Depth().Value.OK, "coefficient": h.Coefficient().Value.OK,
				"infiltration": h.InfiltrationDepth().Value.OK, "final rate": h.FinalRate().Value.OK, "peak": h.PeakRate().Value.OK} {
				if e {
					t.Errorf("%s has a value", name)
				}
			}
			if f := h.Depth().Flags; !f.Has(tt.flag) || f.Has("no_runoff") {
				t.Errorf("flags %v, want %s", f, tt.flag)
			}
			e := h.TimeToRunoff(hydrograph.MethodFirstBottle)
			if e.Low.V != tt.low || e.High.OK != (tt.high > 0) || e.High.V != tt.high {
				t.Errorf("first bottle between %v and %v, want %v and %v", e.Low, e.High, tt.low, tt.high)
			}
			for _, m := range []string{hydrograph.MethodThreshold, hydrograph.MethodBackExtrapolated} {
				if e := h.TimeToRunoff(m); e.Value.OK && e.Value.V > 20 && tt.flag != "overflow" {
					t.Errorf("%s censored at %v, though nobody looked after 10 min", m, e.Value.V)
				}
			}
		})
	}
}

// Where the crew noted that there was none, or the dry bottles reach the end of
// rain, what was lost afterwards changes nothing.
func TestDryAndSeenToBe(t *testing.T) {
	noted := plotOf(bottle(0, 10, 0), lost(10, 30))
	noted.Onset = experiment.OnsetNone
	for name, p := range map[string]*experiment.Plot{
		"noted as none":        noted,
		"lost after the rain":  plotOf(bottle(0, 30, 0), lost(30, 35)),
		"nothing was put up":   plotOf(bottle(0, 20, 0)),
		"lost between the dry": plotOf(bottle(0, 10, 0), lost(10, 20), bottle(20, 30, 0)),
	} {
		if h := runoff(p, def); h.Status != hydrograph.Dry || h.Depth().Value.V != 0 || !h.Depth().Value.OK {
			t.Errorf("%s: status %v, depth %v", name, h.Status, h.Depth())
		}
	}
}

// A dry bottle that was the last says nothing of the time after it, by any method.
func TestDryStartsAgree(t *testing.T) {
	h := runoff(plotOf(bottle(0, 15, 0)), def)
	for _, m := range []string{hydrograph.MethodFirstBottle, hydrograph.MethodThreshold, hydrograph.MethodBackExtrapolated} {
		if e := h.TimeToRunoff(m); e.Value.V != 15 || !e.Flags.Has("collection_ended_early") {
			t.Errorf("%s: %v, want censored at 15 min", m, e)
		}
	}
}
