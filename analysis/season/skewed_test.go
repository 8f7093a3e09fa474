package season_test

import (
	"math"
	"testing"

	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
	"sheetwash/analysis/season"
)

// Wanted: exp of the t interval of logarithms and Olsson's modified Cox, closed
// forms evaluated in R 4.2.2 for c(41.2, 18.6, 27.9, 63.4).
func TestGeometricMean(t *testing.T) {
	out := treatments(t, plots("e", result.SedimentConcentration, 41.2, 18.6, 27.9, 63.4))
	g := find(t, out, "event:e", "bare", "geometric_mean")
	near(t, "geometric mean", g.Value, 34.12132641392241, 1e-10)
	near(t, "low", g.Low, 14.789801497457365, 1e-9)
	near(t, "high", g.High, 78.72079395018234, 1e-9)
	if !g.Headline || g.NCensored != 0 {
		t.Errorf("row %+v", g)
	}
	m := find(t, out, "event:e", "bare", "mean")
	near(t, "mean", m.Value, 39.17076513236055, 1e-10)
	if m.Headline || !(m.Low.V < m.Value.V && m.Value.V < m.High.V) {
		t.Errorf("row %+v", m)
	}
}

// Plots that did not run off: beside the geometric mean, zero in the mean.
func TestPlotsWithoutRunoff(t *testing.T) {
	rows := append(plots("e", result.SoilLoss, 4, 16, 0, 0),
		plot("e", "r1", "p5", result.SoilLoss, 0, missing("no_runoff")))
	out := treatments(t, rows)
	g := find(t, out, "event:e", "bare", "geometric_mean")
	near(t, "geometric mean", g.Value, 8, 1e-12)
	if g.NPlots != 2 || g.NCensored != 3 {
		t.Errorf("n %d, without runoff %d", g.NPlots, g.NCensored)
	}
	flagged(t, g, season.FlagSomeWithoutRunoff, "n_small")
	m := find(t, out, "event:e", "bare", "mean")
	near(t, "mean", m.Value, 5, 0)
	flagged(t, m, season.FlagZerosIncluded)

	dry := treatments(t, plots("e", result.SoilLoss, 0, 0))
	g = find(t, dry, "event:e", "bare", "geometric_mean")
	none(t, "geometric mean", g.Value)
	flagged(t, g, season.FlagNoneRanOff)
	if g.NCensored != 2 {
		t.Errorf("without runoff %d", g.NCensored)
	}
	m = find(t, dry, "event:e", "bare", "mean")
	near(t, "mean", m.Value, 0, 0)
	none(t, "low", m.Low) // equal zeros are no knowledge of width zero
}

// A spilled bottle's mass is a lower bound and does not enter as observed.
func TestLowerBoundOfSedimentIsNotObserved(t *testing.T) {
	rows := plots("e", result.SoilLoss, 10, 20, 40, 60)
	observed := find(t, treatments(t, rows), "event:e", "bare", "geometric_mean")
	rows[3].Censored = result.Right
	bounded := find(t, treatments(t, rows), "event:e", "bare", "geometric_mean")
	if !(bounded.Value.V > observed.Value.V) || bounded.NCensored != 1 || bounded.Method != "censored_lognormal" {
		t.Errorf("observed %+v\nbounded %+v", observed, bounded)
	}
}

// With one value observed there is a bound and no interval: the geometric mean
// of 10 (observed) and 40 (a lower bound) is at least sqrt(10 x 40) = 20, which
// their arithmetic mean, 25, is no bound of. The mean beside it is at least 25.
// The relative errors of 0.02 and 0.04 give u = 20 sqrt(0.02^2 + 0.04^2)/2.
func TestBoundOfGeometricMean(t *testing.T) {
	rows := plots("e", result.SoilLoss, 10, 40)
	rows[0].U, rows[1].U = quantity.Some(0.2), quantity.Some(1.6)
	rows[1].Censored = result.Right
	out := treatments(t, rows)
	g := find(t, out, "event:e", "bare", "geometric_mean")
	near(t, "bound", g.Value, 20, 1e-12)
	near(t, "u", g.UMeasurement, 20*math.Sqrt(0.02*0.02+0.04*0.04)/2, 1e-12)
	none(t, "low", g.Low)
	none(t, "high", g.High)
	flagged(t, g, season.FlagLowerBound, "few_observed")
	near(t, "mean", find(t, out, "event:e", "bare", "mean").Value, 25, 1e-12)
}

// Over events: the geometric mean of event geometric means, closed form.
func TestGeometricMeanOfEvents(t *testing.T) {
	rows := plots("a", result.SoilLoss, 2, 8)                 // 4
	rows = append(rows, plots("b", result.SoilLoss, 16)...)   // 16
	rows = append(rows, plots("c", result.SoilLoss, 0, 0)...) // none ran off
	r := find(t, treatments(t, rows), "all", "bare", "geometric_mean")
	near(t, "value", r.Value, 8, 1e-12)
	// ln 4 and ln 16: s = ln 4/sqrt 2, half width t(1) s/sqrt 2 = 12.7062 ln 4/2
	near(t, "high", r.High, 8*math.Exp(12.706204736174707*math.Log(4)/2), 1e-2)
	if r.NPlots != 3 || r.NEvents != 2 || r.NCensored != 2 {
		t.Errorf("row %+v", r)
	}
	flagged(t, r, season.FlagSomeWithoutRunoff, "n_small")
}
