package season_test

import (
	"fmt"
	"math"
	"testing"

	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
	"sheetwash/analysis/season"
)

// Wanted: survfit of survival 3.5-3 on the same times, stopped at 60 min: median
// 16.5 in [7.8, 30.1], restricted mean to 60 min 22.78 with standard error 4.1671.
func TestTimeToRunoff(t *testing.T) {
	times := []float64{4.2, 6.1, 3.5, 7.8, 5, 22.4, 60, 41.7, 60, 33.9, 18.3, 25.6, 12.9, 60, 30.1, 9.4, 14.7, 11.2, 8.3, 20.5}
	var rows []result.PlotRow
	for i, v := range times {
		r := plot("e", "r1", fmt.Sprint("p", i), result.TimeToRunoff, v)
		if v == 60 {
			r.Censored = result.Right
		}
		rows = append(rows, r)
	}
	out := treatments(t, rows)
	m := find(t, out, "event:e", "bare", "median")
	near(t, "median", m.Value, 16.5, 1e-12)
	near(t, "low", m.Low, 7.8, 0)
	near(t, "high", m.High, 30.1, 0)
	r := find(t, out, "event:e", "bare", "restricted_mean")
	near(t, "restricted mean", r.Value, 22.78, 1e-12)
	if !r.Headline || r.Method != "kaplan_meier:to_60_min:observed" || r.NCensored != 3 || r.NPlots != 20 {
		t.Errorf("row %+v", r)
	}
	// logit(p) ± t(19) SE sqrt(20/19)/(60 p (1-p)), p = 22.78/60
	p := 22.78 / 60
	h := 2.093024054408263 * 4.167112909437419 * math.Sqrt(20.0/19) / (60 * p * (1 - p))
	near(t, "low", r.Low, 60/(1+math.Exp(h)*(1-p)/p), 1e-9)
	near(t, "high", r.High, 60/(1+math.Exp(-h)*(1-p)/p), 1e-9)
	g := find(t, out, "event:e", "bare", "geometric_mean")
	if g.Headline || !(g.Low.V < g.Value.V && g.Value.V < g.High.V) {
		t.Errorf("row %+v", g)
	}
}

// No plot ran off: a bound, no interval, never a time that was not seen.
func TestNoPlotRanOff(t *testing.T) {
	rows := plots("e", result.TimeToRunoff, 30, 30, 30)
	for i := range rows {
		rows[i].Censored = result.Right
	}
	for _, scope := range []string{"event:e", "season:2025", "all"} {
		for _, s := range []string{"restricted_mean", "median"} {
			r := find(t, treatments(t, rows), scope, "bare", s)
			near(t, s, r.Value, 30, 0)
			none(t, "low", r.Low)
			none(t, "high", r.High)
			flagged(t, r, season.FlagLowerBound, season.FlagNotReached)
			if r.NCensored != 3 {
				t.Errorf("%d censored", r.NCensored)
			}
		}
		g := find(t, treatments(t, rows), scope, "bare", "geometric_mean")
		none(t, "geometric mean", g.Value)
		flagged(t, g, "all_censored")
	}
}

// All treatments of a scope are restricted to one time, the shortest follow-up of
// those that have a censored longest time.
func TestCommonTime(t *testing.T) {
	mulch := func(r *result.PlotRow) { r.Treatment = "mulch" }
	rows := []result.PlotRow{
		plot("e", "r1", "p1", result.TimeToRunoff, 10), plot("e", "r1", "p2", result.TimeToRunoff, 50), plot("e", "r1", "p3", result.TimeToRunoff, 60, right),
		plot("e", "r2", "p4", result.TimeToRunoff, 20, mulch), plot("e", "r2", "p5", result.TimeToRunoff, 40, right, mulch),
	}
	out := treatments(t, rows)
	near(t, "bare to 40", find(t, out, "event:e", "bare", "").Value, (10+40+40)/3.0, 1e-12)
	near(t, "mulch to 40", find(t, out, "event:e", "mulch", "").Value, (20+40)/2.0, 1e-12)

	// Rain that ended as it began tells nothing of a mean to the common time.
	ley := func(r *result.PlotRow) { r.Treatment = "ley" }
	dry := find(t, treatments(t, append(rows, plot("e", "r3", "p6", result.TimeToRunoff, 0, right, ley))), "event:e", "ley", "")
	none(t, "ley", dry.Value)
	flagged(t, dry, "all_censored")

	// Nothing censored: nothing to restrict, the mean with a skewed interval.
	r := find(t, treatments(t, plots("e", result.TimeToRunoff, 2, 4, 12)), "event:e", "bare", "")
	near(t, "mean", r.Value, 6, 1e-12)
	if r.Method != "kaplan_meier:observed" || !(r.High.V > 12) {
		t.Errorf("row %+v", r)
	}
}

// A median that only just is not reached is a bound: half the plots ran off.
func TestMedianAtTheEndOfTheCurve(t *testing.T) {
	rows := []result.PlotRow{
		plot("e", "r", "p1", result.TimeToRunoff, 10), plot("e", "r", "p2", result.TimeToRunoff, 20),
		plot("e", "r", "p3", result.TimeToRunoff, 60, right), plot("e", "r", "p4", result.TimeToRunoff, 60, right),
	}
	r := find(t, treatments(t, rows), "event:e", "bare", "median")
	near(t, "bound", r.Value, 20, 0)
	flagged(t, r, season.FlagNotReached, season.FlagLowerBound)
}

// Values by unlike methods never stand in one estimate; a plot that did not run
// off counts with each.
func TestMethodsAreKeptApart(t *testing.T) {
	rows := []result.PlotRow{
		plot("e", "r", "p1", result.TimeToRunoff, 10), plot("e", "r", "p2", result.TimeToRunoff, 20),
		plot("e", "r", "p3", result.TimeToRunoff, 30, method("first_bottle"), func(r *result.PlotRow) {
			r.Censored, r.Low, r.High = result.Interval, quantity.Some(28), quantity.Some(32)
		}),
		plot("e", "r", "p4", result.TimeToRunoff, 60, right, method("threshold")),
	}
	var heads, others int
	for _, r := range treatments(t, rows) {
		if r.Scope != "all" || r.Statistic != "restricted_mean" {
			continue
		}
		flagged(t, r, season.FlagMethodsDiffer)
		switch r.Method {
		case "kaplan_meier:to_60_min:observed":
			heads++
			near(t, "observed", r.Value, 30, 1e-12)
			if !r.Headline || r.NPlots != 3 || r.NCensored != 1 {
				t.Errorf("row %+v", r)
			}
		case "kaplan_meier:to_60_min:first_bottle":
			others++
			near(t, "first bottle", r.Value, 45, 1e-12)
			flagged(t, r, season.FlagIntervalAsMiddle)
			if r.Headline {
				t.Error("two headlines")
			}
		default:
			t.Errorf("method %s", r.Method)
		}
	}
	if heads != 1 || others != 1 {
		t.Errorf("%d headline rows, %d others", heads, others)
	}
}

// Over events: the mean of the events' restricted means; the median has no interval.
func TestTimeOverEvents(t *testing.T) {
	rows := append(plots("a", result.TimeToRunoff, 10, 20), plots("b", result.TimeToRunoff, 30, 40)...)
	rows = append(rows, plots("c", result.TimeToRunoff, 50)...)
	out := treatments(t, rows)
	r := find(t, out, "season:2025", "bare", "")
	near(t, "mean of 15, 35, 50", r.Value, 100.0/3, 1e-12)
	near(t, "sd of events", r.SDBetween, math.Sqrt(925.0/3), 1e-10)
	if r.NPlots != 5 || r.NEvents != 3 {
		t.Errorf("row %+v", r)
	}
	m := find(t, out, "season:2025", "bare", "median")
	near(t, "median", m.Value, 30, 0)
	none(t, "low", m.Low)
	flagged(t, m, season.FlagPooledPlots)
}
