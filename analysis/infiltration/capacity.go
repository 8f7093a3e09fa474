package infiltration

import (
	"math"

	"sheetwash/analysis/internal/fit"
)

// rain is constant rain: the intensity, mm/h, and how long it lasts, h.
type rain struct{ i, end float64 }

// capacity is a model of infiltration capacity with what a fit needs of it.
// Depths are mm, times h since the start of rain. A surface takes in the rain
// until the depth is reached at which the capacity has fallen to the
// intensity, and then what the capacity curve gives for that depth (time
// compression): the curve's own time is then not the time since the start of rain.
type capacity struct {
	name        string
	coordinates []coordinate // the model's parameters in the order of fit.Point
	// depths fills depth with the depth taken in by every time, which rise, and
	// slope, where it is not nil, with the derivatives by each parameter. It
	// returns the time of ponding.
	depths func(p fit.Point, r rain, t, depth []float64, slope *slopes) (pondingH float64)
	// last returns the capacity at the end of rain, at most the intensity.
	last func(p fit.Point, r rain) float64
	rows []reported
}

// slopes are derivatives by each parameter, time by time.
type slopes [fit.MostCoordinates][]float64

// bounds of a parameter, which a transformation moves out of reach.
type bounds uint8

const (
	positive bounds = iota // above 0: scale exp(u)
	share                  // between 0 and the intensity: i/(1 + exp(-u))
	fraction               // between 0 and 1: 1/(1 + exp(-u))
)

// coordinate is a parameter of a model.
type coordinate struct {
	bounds bounds
	scale  func(rain) float64 // of a positive one
	starts []float64          // of u, from which the fit begins
}

// reach is how far a coordinate goes: 10^-6 of a scale, or of a range, is
// nothing, and 10^6 without bound.
const reach = 14.0

// at returns the parameter at a coordinate, and its derivative.
func (c *coordinate) at(u float64, r rain) (p, slope float64) {
	switch c.bounds {
	case share:
		s := 1 / (1 + math.Exp(-u))
		return r.i * s, r.i * s * (1 - s)
	case fraction:
		s := 1 / (1 + math.Exp(-u))
		return s, s * (1 - s)
	default:
		p = c.scale(r) * math.Exp(u)
		return p, p
	}
}

// reported is a row of the fits table: a function of the parameters.
type reported struct {
	name, unit string
	of         func(p fit.Point, r rain) float64
	coordinate int  // which it is alone, or none
	logarithm  bool // its limits are looked for on a scale of logarithms
}

const none = -1

// parameters returns the model's parameters at a point.
func (c *capacity) parameters(u fit.Point, r rain) (p, slope fit.Point) {
	for n := range c.coordinates {
		p[n], slope[n] = c.coordinates[n].at(u[n], r)
	}
	return p, slope
}

// capacities returns the models in the order of the fits table. Mezencev's (1948)
// f = fc + b t^-c is the rate of Kostiakov-Lewis and not another model.
func capacities() []capacity {
	return []capacity{
		constantCapacity(), hortonCapacity(), philipCapacity(), greenAmptCapacity(),
		kostiakovCapacity(), kostiakovLewisCapacity(), smithParlangeCapacity(),
	}
}

// itself reports a parameter.
func itself(n int) func(fit.Point, rain) float64 {
	return func(p fit.Point, _ rain) float64 { return p[n] }
}

func intensity(r rain) float64 { return r.i }
func perRain(r rain) float64   { return 1 / r.end }
func rainDepth(r rain) float64 { return r.i * r.end }

// untilPonding fills depth and slope with what is taken in before ponding, all
// of the rain, and returns the first time after it.
func untilPonding(pondingH float64, r rain, t, depth []float64, slope *slopes) int {
	n := 0
	for n < len(t) && t[n] <= pondingH {
		depth[n] = r.i * t[n]
		n++
	}
	if slope != nil {
		for _, s := range slope {
			clear(s[:min(n, len(s))])
		}
	}
	return n
}
