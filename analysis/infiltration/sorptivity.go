package infiltration

import (
	"math"
	"slices"

	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// sorptivity returns that of Philip's model. To the errors of the intervals come
// those that all of them share: the fit is repeated with the intensity, and the area
// (or what bottle changes miss), one standard uncertainty larger.
func (in *Input) sorptivity(fits []ModelFit, data *seen) result.Estimate {
	for n := range fits {
		f := &fits[n]
		if f.Model != PhilipTwoTerm {
			continue
		}
		s := f.row("S")
		e := result.Estimate{Value: s.Value, U: s.U, Low: s.Low, High: s.High, N: s.N, Flags: s.Flags}
		if !e.Value.OK {
			return e
		}
		if f.Flags.Has(FlagFormExcluded) {
			return result.Estimate{N: s.N, Flags: s.Flags}
		}
		intensity := in.sorptivityWith(data, in.UIntensity, 0, e.Value.V) - e.Value.V
		area := in.sorptivityWith(data, 0, in.uRatesRel(), e.Value.V) - e.Value.V
		shared := math.Hypot(intensity, area)
		wide := math.Hypot(in.kIntensity()*intensity, in.z()*area)
		e.UShared = quantity.Some(math.Abs(intensity))
		if e.U.OK {
			e.U = quantity.Some(math.Hypot(e.U.V, shared))
		}
		if e.Low.OK {
			e.Low = quantity.Some(max(0, e.Value.V-math.Hypot(e.Value.V-e.Low.V, wide)))
		}
		if e.High.OK {
			e.High = quantity.Some(e.Value.V + math.Hypot(e.High.V-e.Value.V, wide))
		}
		return e
	}
	return result.Estimate{}
}

// sorptivityWith returns the sorptivity with another intensity, mm/h, and a plot whose
// area is larger by a share; the one that it is without where these have no fit.
func (in *Input) sorptivityWith(data *seen, more, share, without float64) float64 {
	if more == 0 && share == 0 {
		return without
	}
	r := rain{i: in.IntensityMMH + more, end: in.RainMin / 60}
	other := seen{data: slices.Clone(data.data), rise: data.rise}
	for n := range other.data {
		m := &other.data[n]
		m.Value = r.i - (in.IntensityMMH-m.Value)/(1+share)
	}
	philip := philipCapacity()
	best := philip.minimum(&other, r)
	if best.refused != nil {
		return without
	}
	p, _ := philip.parameters(best.least.At, r)
	return p[0]
}
