package infiltration_test

import (
	"math"
	"math/rand/v2"

	"sheetwash/analysis/infiltration"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/simulate"
)

// draw is a random plot, what was read of it and what is true of it.
type draw struct {
	in    infiltration.Input
	truth simulate.Truth

	soil                string
	routed, noted, gaps bool
	declines            float64 // k T of a Horton soil
	perBottle           float64 // k times the length of a bottle
	flat                bool
	sorptivity          float64 // of a Philip soil, mm/h^0.5
}

// The soils of the draws, the last of which comes only where it is asked for.
const (
	greenAmptSoil     = "Green-Ampt soil"
	hortonSoil        = "Horton soil"
	philipSoil        = "Philip soil"
	smithParlangeSoil = "Smith-Parlange soil"
)

// soils returns what a draw is drawn from.
func soils() [5]string {
	return [5]string{greenAmptSoil, greenAmptSoil, philipSoil, hortonSoil, hortonSoil}
}

// conditions of a draw that are not random.
type conditions struct {
	instruments  simulate.Instruments
	intensityRel float64 // standard deviation of the recorded intensity about the true one
	soil         string  // of all draws; empty: as they come
	bottles      int     // of all draws; 0: as they come
	loggerU      float64 // mm/h; above 0: rates of whole minutes with this error in place of bottles
}

func uniform(r *rand.Rand, a, b float64) float64 { return a + (b-a)*r.Float64() }

func logUniform(r *rand.Rand, a, b float64) float64 { return a * math.Exp(r.Float64()*math.Log(b/a)) }

// newDraw makes rain of 40 to 120 mm/h for 20 to 60 min on 0.1 to 1 m2 with
// 0.5 to 3 mm of depressions, half of the plots with up to a minute of flow on
// them (linear or as the power 5/3), two in five Green-Ampt, two in five Horton
// soils with k from 3 to 20 /h and one in five Philip soils, and 6 to 30 bottles, half of
// the time 6 to 8, from the start of rain or from first flow, half of the
// schedules with 6 s lost at each change, the onset noted to 5 s or not at all.
func newDraw(r *rand.Rand, c conditions) draw {
	var d draw
	intensity, minutes := uniform(r, 40, 120), uniform(r, 20, 60)
	bottles := 6 + r.IntN(25)
	if r.IntN(2) == 1 {
		bottles = 6 + r.IntN(3)
	}
	if c.bottles > 0 {
		bottles = c.bottles
	}
	p := simulate.Plot{
		AreaM2: logUniform(r, 0.1, 1), Rain: simulate.ConstantRain(intensity, minutes),
		DepressionMM: uniform(r, 0.5, 3), RecessionMin: 5,
		ConcentrationGL: uniform(r, 1, 20), ConcentrationEndGL: uniform(r, 1, 5), DeclinePerH: uniform(r, 1, 6),
	}
	d.soil = soils()[r.IntN(5)]
	if c.soil != "" {
		d.soil = c.soil
	}
	switch d.soil {
	case greenAmptSoil:
		p.Soil = simulate.GreenAmpt{K: intensity * uniform(r, 0.05, 0.6), PsiTheta: logUniform(r, 5, 60)}
	case smithParlangeSoil:
		p.Soil = simulate.SmithParlange{K: intensity * uniform(r, 0.05, 0.6), G: logUniform(r, 5, 60)}
	case philipSoil:
		philip := simulate.Philip{S: math.Sqrt(intensity) * uniform(r, 0.5, 4), A: intensity * uniform(r, 0.02, 0.4)}
		d.sorptivity, p.Soil = philip.S, philip
	default:
		h := simulate.Horton{Fc: intensity * uniform(r, 0.05, 0.7), K: logUniform(r, 3, 20), ByClock: r.IntN(2) == 1}
		h.F0 = intensity * uniform(r, 1.05, 4)
		if d.flat = r.IntN(8) == 0; d.flat {
			h.F0 = h.Fc * uniform(r, 1, 1.05)
		}
		p.Soil = h
		d.declines = h.K * minutes / 60
		d.perBottle = d.declines / float64(bottles)
	}
	if d.routed = r.IntN(2) == 1; d.routed {
		p.ReservoirMin = uniform(r, 0.1, 1)
		p.FlowExponent = []float64{1, 5.0 / 3}[r.IntN(2)]
	}
	d.truth = p.Simulate()
	s := simulate.Schedule{N: bottles, AtOnset: r.IntN(2) == 1}
	if d.gaps = r.IntN(2) == 1; d.gaps {
		s.GapMin = 0.1
	}
	d.in = infiltration.Input{
		IntensityMMH: intensity * (1 + c.intensityRel*r.NormFloat64()), UIntensity: c.intensityRel * intensity,
		RainMin: minutes, RanOff: d.truth.OnsetMin.OK, UOnsetMin: 5.0 / 60,
	}
	if d.noted = d.truth.OnsetMin.OK && (r.IntN(2) == 1 || c.loggerU > 0); d.noted {
		d.in.OnsetMin = quantity.Some(math.Max(0, d.truth.OnsetMin.V+d.in.UOnsetMin*r.NormFloat64()))
	}
	if c.loggerU > 0 {
		s = simulate.Schedule{N: int(minutes)}
		d.in.Intervals = rates(d.truth.Collect(s, simulate.Instruments{}, r), p.AreaM2)
		for n := range d.in.Intervals {
			d.in.Intervals[n].RateMMH += c.loggerU * r.NormFloat64()
			d.in.Intervals[n].U = c.loggerU
		}
		return d
	}
	d.in.Intervals = rates(d.truth.Collect(s, c.instruments, r), p.AreaM2)
	return d
}

// rates turns bottles into mean rates of water with the default errors of
// readings: 0.5 % and 2 mL of a volume, 1 s at each end of an interval.
func rates(bottles []simulate.Bottle, areaM2 float64) []infiltration.Interval {
	var out []infiltration.Interval
	for _, b := range bottles {
		length := b.EndMin - b.StartMin
		if b.Recession || length < 0.02 {
			continue
		}
		perML := 60 / (1000 * areaM2 * length) // mm/h
		q := (b.VolumeML - b.SedimentG/2.65) * perML
		u := math.Hypot(math.Hypot(0.005*b.VolumeML, 2)*perML, q*math.Sqrt2/60/length)
		out = append(out, infiltration.Interval{StartMin: b.StartMin, EndMin: b.EndMin, RateMMH: q, U: u})
	}
	return out
}
