package season_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"sheetwash/analysis/inference"
	"sheetwash/analysis/result"
	"sheetwash/analysis/season"
)

// Within one event the plots are those of the t test: reference cases pow-t2-n of R's pwr 1.3-0
// (d = 1.2 and power 0.80 need 11.94, d = 2 and 0.90 need 6.39).
func TestPlanWithinEventIsTTest(t *testing.T) {
	for _, c := range []struct{ d, power float64 }{{1.2, 0.8}, {2, 0.9}, {0.8, 0.8}} {
		p := season.Past{Plots: 1, PlotsCareful: 1}
		needs, err := p.Plan(season.Question{Effect: c.d, Power: c.power, Level: 0.95}, []int{1})
		if err != nil {
			t.Fatal(err)
		}
		want, err := inference.TSampleSize(c.d, c.power, 0.05)
		if err != nil {
			t.Fatal(err)
		}
		if got := needs[0].Plots.V; got != math.Ceil(want.V) {
			t.Errorf("d = %v: %v plots, not %v", c.d, got, want.V)
		}
	}
}

// Events are sites: the noncentrality sqrt(J) delta / sqrt(tau² + 4 sigma²/n) of
// Raudenbush and Liu (2000) with tau² = 2 omega² and n = 2 plots, worked for ten events of
// two plots: delta 1, omega² 0.125, s² 1: lambda = sqrt(10)/sqrt(0.25 + 1) = 2.828427; half width t(9) / lambda = 2.262157 / 2.828427 = 0.799793.
func TestPlanOverEvents(t *testing.T) {
	p := season.Past{Plots: 1, PlotsCareful: 1.2, Effects: math.Sqrt(0.125), EffectsKnown: true}
	needs, err := p.Plan(season.Question{Width: 0.7999, Level: 0.95}, []int{10})
	if err != nil {
		t.Fatal(err)
	}
	if needs[0].Plots.V != 2 || math.Abs(needs[0].Reached.V-0.799793) > 5e-6 {
		t.Errorf("%+v", needs[0])
	}
	if needs[0].Careful.V != 3 { // 2 (0.125 + 1.44/3)/10: half width 0.787
		t.Errorf("careful %+v", needs[0])
	}
	needs, err = p.Plan(season.Question{Width: 0.2, Level: 0.95}, []int{3})
	if err != nil || needs[0].Plots.OK {
		t.Errorf("the effect differs too much between three events: %+v, %v", needs, err)
	}
}

// What is planned is found by the default path: simulated seasons of the scatter and
// the effect that were planned for, power 0.80 within the error of the simulation and what
// the floor of the default interval costs.
func TestPlanIsFound(t *testing.T) {
	const s, omega, effect, events, draws = 0.8, 0.5, 2.5, 8, 400
	p := season.Past{Ratio: true, Plots: s, PlotsCareful: s, Effects: omega, EffectsKnown: true}
	needs, err := p.Plan(season.Question{Effect: effect, Power: 0.8, Level: 0.95}, []int{events})
	if err != nil || !needs[0].Plots.OK {
		t.Fatalf("%+v %v", needs, err)
	}
	c := contest{metric: result.SoilLoss, n: int(needs[0].Plots.V), events: events, sigma: s, between: omega * math.Sqrt2 / s}
	r := rand.New(rand.NewPCG(20, 7))
	found := 0
	for range draws {
		rows := c.season(r, 2, false)
		for i := range rows {
			if rows[i].Treatment == "a" {
				rows[i].Value.V *= effect
			}
		}
		out, err := season.CompareIn("all", rows, season.Settings{Level: 0.95, Reference: "b"})
		if err != nil {
			t.Fatal(err)
		}
		for _, row := range out {
			if !row.Beside() && row.P.OK && row.P.V < 0.05 {
				found++
			}
		}
	}
	power := float64(found) / draws
	t.Logf("%d plots in %d events: planned %.3f, found %.3f", c.n, events, needs[0].Reached.V, power)
	if power < needs[0].Reached.V-0.08 || power > needs[0].Reached.V+0.06 {
		t.Errorf("planned %.3f, found %.3f", needs[0].Reached.V, power)
	}
}

// The scatter of simulated past events is that of their making.
func TestScatterOfThePast(t *testing.T) {
	c := contest{metric: result.SoilLoss, n: 4, events: 60, sigma: 0.8, between: 0.5 * math.Sqrt2 / 0.8}
	rows := c.season(rand.New(rand.NewPCG(3, 4)), 3, true)
	p, err := season.Scatter(rows, result.SoilLoss)
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(p.Plots-0.8) > 0.05 || math.Abs(p.Effects-0.5) > 0.1 || !p.Ratio || p.Events != 60 || p.PlotsDF != 540 || !(p.PlotsCareful > p.Plots) {
		t.Errorf("%+v", p)
	}
	for _, bad := range []result.Metric{"none", result.RunoffDepth} {
		if _, err := season.Scatter(rows, bad); !errors.Is(err, season.ErrPlanning) {
			t.Errorf("%s: %v", bad, err)
		}
	}
	if _, err := season.Scatter(nil, result.SoilLoss); !errors.Is(err, season.ErrPlanning) {
		t.Error(err)
	}
	for _, q := range []season.Question{{}, {Effect: 1, Power: 0.8, Level: 0.95}, {Effect: 2, Width: 2, Level: 0.95}, {Effect: 2, Power: 2, Level: 0.95}, {Effect: 2, Power: 0.8, Level: 1}, {Effect: math.NaN(), Power: 0.8, Level: 0.95}} {
		if _, err := p.Plan(q, []int{3}); !errors.Is(err, season.ErrPlanning) {
			t.Errorf("%+v: %v", q, err)
		}
	}
}
