package erosion

import (
	"strings"

	"sheetwash/analysis/experiment"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// Flow is one interval of the runoff of a plot.
type Flow struct {
	StartMin, EndMin    float64
	VolumeML, UVolumeML float64 // of the suspension; u: reading only
	Collected           bool    // caught and read, not interpolated or held
	LowerBound          bool    // overflow, spilled or leak
}

// Input is what the sediment of one plot is computed from.
type Input struct {
	Run  *experiment.Run
	Plot *experiment.Plot
	// Flow is the runoff in order of time; nil where it is not known.
	Flow []Flow
	// Metered says that Flow comes from a logger: a bottle is then a subsample
	// of its interval, and its concentration is taken over its own volume.
	Metered  bool
	NoRunoff bool // the plot is known not to have run off
	// RunoffMin is how long runoff lasted and URunoffMin its standard
	// uncertainty; 0 where it is not known.
	RunoffMin, URunoffMin float64
	// UChangeRel is the share of the volume that may have run past at bottle
	// changes, with its sediment: a standard uncertainty common to all bottles.
	UChangeRel float64
	WaterKgM3  float64 // density of the water, for the mass basis; 0: at 20 Cel
	// Rating is the dataset's relation of concentration to turbidity, or nil.
	Rating *Rating
	// DissolvedGL is what the supply water leaves when it is evaporated, g/L.
	DissolvedGL quantity.Optional
	Late        Late // the end of rain, for interrill erodibility
	Errors      experiment.ErrorModel
	Level       float64
}

// Sediment is the sediment of one plot.
type Sediment struct {
	// Concentration is the flow-weighted mean, g per L of suspension;
	// WaterBasis the same per L of water, and MassBasis in g per kg of suspension.
	Concentration, WaterBasis, MassBasis result.Estimate
	Mass                                 result.Estimate // g
	SoilLoss                             result.Estimate // g/m2
	Rate                                 result.Estimate // g/(m2 h)
	// ErodibilityOfRain is the interrill erodibility by intensity squared,
	// ErodibilityOfFlow that by intensity and runoff rate, kg s/m4.
	ErodibilityOfRain, ErodibilityOfFlow result.Estimate
	// FluxExponent is that of sediment flux against runoff rate.
	FluxExponent result.Estimate
	// ByFlow holds the concentration of each interval of Input.Flow, g/L; none
	// where there was no runoff or nothing is known.
	ByFlow []quantity.Optional

	slope bool // the slope was noted
}

// Of returns the sediment of a plot.
//
//	M = sum m_k + sum C(V) dV over what was not caught or not weighed
//	C = 1000 M / V,  L = M / A,  D = 60 L / d
//
// with dry masses m_k in g, volume V of the suspension in mL, concentration C in
// g/L, area A in m2, loss L in g/m2, duration of runoff d in min and rate D in
// g/(m2 h). The concentration of a pool is its mass over the volume caught in
// its interval; of water without a pool of its own it runs straight, over
// volume, between the pools before and after, and holds beyond the first and
// the last (flag interpolated, and the share of the mass).
//
// A plot that did not run off has the mass 0 and no concentration (flag
// no_runoff). Where nothing is dried yet the values are missing with the flag
// pending, where nothing was weighed at all with no_sediment_data. The bottles
// of the stream runoff count alone: never splash, blanks or remainders.
// Source: flow-weighted mean and gaps by concentration on volume, [Guy1969];
// uncertainties [GUM2008] 5.1.2.
func Of(in Input) Sediment {
	s := of(in)
	s.slope = in.Plot.Slope.OK
	return s
}

func of(in Input) Sediment {
	if in.NoRunoff {
		return noRunoff(&in)
	}
	l := load{in: &in}
	switch known := l.gather(); {
	case len(l.pools) > 0 && in.Flow == nil:
		return l.withoutFlow()
	case !known:
		return l.unknown()
	}
	return l.result()
}

// noRunoff is the sediment of a plot that did not run off.
func noRunoff(in *Input) Sediment {
	zero := quantity.Some(0)
	e := result.Estimate{Value: zero, U: zero, Low: zero, High: zero, Censored: result.Observed, Flags: result.Flags{"no_runoff"}}
	none := missing("no_runoff")
	return Sediment{Concentration: none, WaterBasis: none, MassBasis: none, Mass: e, SoilLoss: e, Rate: none, FluxExponent: none,
		ErodibilityOfRain: dryErodibility(in, e), ErodibilityOfFlow: none, ByFlow: make([]quantity.Optional, len(in.Flow))}
}

func missing(words ...string) result.Estimate {
	return result.Estimate{Flags: words}
}

// unknown is the sediment of a plot of which nothing was weighed.
func (l *load) unknown() Sediment {
	word := "no_sediment_data"
	if l.pending {
		word = "pending"
	}
	e := missing(word)
	for _, w := range l.flags {
		if strings.HasPrefix(w, "rating_") {
			e.Flags.Add(w)
		}
	}
	return Sediment{Concentration: e, WaterBasis: e, MassBasis: e, Mass: e, SoilLoss: e, Rate: e, FluxExponent: e,
		ErodibilityOfRain: e, ErodibilityOfFlow: e, ByFlow: make([]quantity.Optional, len(l.in.Flow))}
}
