package balance

import (
	"math"

	"sheetwash/analysis/experiment"
)

// The methods of a measured storage, the best first.
const (
	MethodWeighed     = "soil_weighed"
	MethodGravimetric = "gravimetric_water_content"
	MethodVolumetric  = "volumetric_water_content"
	MethodSensor      = "soil_water_readings"
)

// Gain is a gain of water in the soil, mm.
type Gain struct {
	Method       string
	DepthMM, UMM float64
	Weighed      bool // a mass over the plot's area
}

// StorageGravimetric returns the water that a depth of soil gained.
//
//	S = (rho_d / rho_w) h (w2 - w1)
//
// with the dry density of soil rho_d and that of water rho_w in one unit (unit weights do as well), the
// depth h, and the water contents w1 and w2 by mass of dry soil. Units: S in
// that of h. Source: definition. Water without density makes none: 0, false.
func StorageGravimetric(dryDensity, waterDensity, depth, before, after float64) (float64, bool) {
	if !(waterDensity > 0) {
		return 0, false
	}
	return dryDensity / waterDensity * depth * (after - before), true
}

// StorageVolumetric returns the water that a depth of soil gained.
//
//	S = h (theta2 - theta1)
//
// Units: S in that of h. Source: definition.
func StorageVolumetric(depth, before, after float64) float64 { return depth * (after - before) }

// Gains returns what was measured of the water that the plot's soil gained, the best method
// first: the tray weighed before and after, water contents by mass, by volume, by a sensor.
//
//	S = (m2 - m1 + M) / (1000 rho A)  for a tray, M the sediment that left it
//
// Units: m and M in g, rho in g/mL, A in m2, S in mm. The uncertainties of these measurements, which no column
// states, are those of the error model. Source: definitions above; [GUM2008] 5.1.2 for u.
func Gains(plot *experiment.Plot, sedimentG, waterKgM3 float64, errs experiment.ErrorModel) []Gain {
	var out []Gain
	st := plot.Storage
	if st != nil && st.SoilBeforeG.OK && st.SoilAfterG.OK {
		perMM := waterKgM3 * plot.AreaM2 // g of water in 1 mm on the plot
		out = append(out, Gain{MethodWeighed, (st.SoilAfterG.V - st.SoilBeforeG.V + sedimentG) / perMM, math.Sqrt2 * errs.SoilMassG / perMM, true})
	}
	if st != nil && !(st.SoilDepthMM.V > 0) { // nothing to stand for
		return out
	}
	if st != nil && st.SoilDepthMM.OK && st.BulkDensityGCM3.V > 0 && st.GravimetricBeforePct.OK && st.GravimetricAfterPct.OK {
		if d, ok := StorageGravimetric(1000*st.BulkDensityGCM3.V, waterKgM3, st.SoilDepthMM.V/100, st.GravimetricBeforePct.V, st.GravimetricAfterPct.V); ok {
			perPct := 10 * st.BulkDensityGCM3.V / waterKgM3 * st.SoilDepthMM.V
			u := math.Hypot(perPct*math.Sqrt2*errs.GravimetricPct, d*math.Hypot(errs.BulkDensityRel, errs.SoilDepthRel))
			out = append(out, Gain{MethodGravimetric, d, u, false})
		}
	}
	if st != nil && st.SoilDepthMM.OK && plot.InitialWaterPct.OK && st.FinalWaterPct.OK {
		out = append(out, volumetric(MethodVolumetric, st.SoilDepthMM.V, plot.InitialWaterPct.V, st.FinalWaterPct.V, errs.VolumetricPct, errs.SoilDepthRel))
	}
	if before, after, ok := sensor(plot); ok && st != nil && st.SoilDepthMM.OK {
		out = append(out, volumetric(MethodSensor, st.SoilDepthMM.V, before, after, errs.SoilWaterPct/math.Sqrt2, errs.SoilDepthRel))
	}
	return out
}

func volumetric(method string, depthMM, beforePct, afterPct, uPct, uDepthRel float64) Gain {
	d := StorageVolumetric(depthMM/100, beforePct, afterPct)
	return Gain{method, d, math.Hypot(depthMM/100*math.Sqrt2*uPct, d*uDepthRel), false}
}

// sensor returns the first and the last reading of the plot's soil water channel, %.
func sensor(plot *experiment.Plot) (before, after float64, ok bool) {
	for i := range plot.Series {
		if s := &plot.Series[i]; s.Channel == experiment.SoilWater && s.N > 1 {
			return s.First, s.Last, true
		}
	}
	return 0, 0, false
}

// Losses returns the splash that was caught beside the plot and the water that
// left over its edges, mm. What was not measured is not known.
func Losses(plot *experiment.Plot, errs experiment.ErrorModel) (splash, edge Water) {
	perMM := 1000 * plot.AreaM2 // mL in 1 mm on the plot
	var squares float64
	for i := range plot.Samples {
		b := &plot.Samples[i]
		if b.Stream != experiment.Splash || b.Exclude || !b.VolumeML.OK {
			continue
		}
		splash.Known = true
		splash.DepthMM += b.VolumeML.V / perMM
		u := math.Hypot(errs.VolumeRel*b.VolumeML.V, errs.VolumeML) / perMM
		squares += u * u
		splash.LowerBound = splash.LowerBound || b.Flag.LowerBound()
	}
	splash.UMM = math.Hypot(math.Sqrt(squares), errs.SplashRel*splash.DepthMM)
	if plot.Storage != nil && plot.Storage.EdgeLossML.OK {
		edge = Water{DepthMM: plot.Storage.EdgeLossML.V / perMM, Known: true}
		edge.UMM = errs.EdgeLossRel * math.Abs(edge.DepthMM)
	}
	return splash, edge
}
