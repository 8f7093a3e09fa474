package analysis

import (
	"strings"

	"sheetwash/analysis/balance"
	"sheetwash/analysis/erosion"
	"sheetwash/analysis/hydrograph"
	"sheetwash/analysis/rainfall"
	"sheetwash/analysis/water"
)

// balanceOf draws the water balance of the plot. Runoff counts as water, without the grains
// in it.
func (s site) balanceOf(rain *rainfall.Rain, runoff, drainage *hydrograph.Hydrograph, sediment *erosion.Sediment, plan Plan) balance.Balance {
	errs := s.dataset.Errors()
	in := balance.Input{
		Rain:     balance.Rain{DepthMM: rain.DepthMM, UShared: rain.UDepthShared, DFShared: rain.DFDepthShared, U: rain.UDepth, DF: rain.DF},
		UAreaRel: errs.AreaRel, RunBefore: laterRun(s.run.Sequence), Level: plan.Level,
	}
	grams := sediment.Mass.Value.Or(0)
	in.Runoff.DepthMM, in.Runoff.UMM, in.Runoff.Known = runoff.Caught()
	in.Runoff.DepthMM -= grams / water.ParticleDensity / (1000 * s.plot.AreaM2)
	in.Runoff.LowerBound = runoff.LowerBound
	if drainage.NMeasured > 0 {
		in.Drainage.DepthMM, in.Drainage.UMM, in.Drainage.Known = drainage.Caught()
		in.Drainage.LowerBound, in.Drainage.Truncated = drainage.LowerBound, drainage.Flags.Has("collection_ended_early")
	}
	in.Splash, in.Edge = balance.Losses(s.plot, errs)
	in.Gains = balance.Gains(s.plot, grams, s.waterKgM3(), errs)
	return balance.Of(in)
}

// waterKgM3 is the density of the run's water, at 20 Cel where its temperature is not
// known or out of range.
func (s site) waterKgM3() float64 {
	if s.run.WaterTempC.OK {
		if rho, err := water.Density(s.run.WaterTempC.V); err == nil {
			return rho
		}
	}
	rho, _ := water.Density(water.ReferenceC)
	return rho
}

// laterRun reports whether a sequence says that the soil was rained on before.
func laterRun(sequence string) bool {
	switch strings.ToLower(strings.TrimSpace(sequence)) {
	case "", "dry", "1", "first":
		return false
	}
	return true
}
