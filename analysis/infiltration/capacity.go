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
	// slope, where it is not nil, with the derivatives by each parameter.
	depths func(p fit.Point, r rain, t, depth []float64, slope *slopes)
	// last returns the capacity at the end of rain, at most the intensity.
	last func(p fit.Point, r rain) float64
	// ponding returns the time of ponding, h; a negative one is that of a curve
	// below the intensity from the start.
	ponding func(p fit.Point, r rain) float64
	// pondingAt changes the parameters so that it is another one.
	pondingAt func(tp float64, p fit.Point, r rain) fit.Point
	rows      []reported
}

// slopes are derivatives by each parameter, time by time.
type slopes [fit.MostCoordinates][]float64

// scale is how a parameter follows from a coordinate of the fit.
type scale uint8

const (
	// logarithmic: unit exp(u). What must be positive and has no largest value.
	logarithmic scale = iota
	// linear: unit u. What may be as low as 0: a logarithm never reaches it.
	linear
)

// coordinate is a parameter of a model.
type coordinate struct {
	scale     scale
	unit      func(rain) float64
	low, high float64   // of u
	starts    []float64 // of u, from which the fit begins; none where that follows from a time of ponding
}

// reach is how far a logarithm goes: 10^-6 of a unit is nothing, and 10^6 without
// bound.
const reach = 14.0

// A rate of a model lies between nothing and all of the rain, but for shares
// that nobody could tell from these.
const leastShare, mostShare = 1e-5, 1 - 1e-6

func positive(unit func(rain) float64, starts ...float64) coordinate {
	return coordinate{logarithmic, unit, -reach, reach, starts}
}

func shareOfRain(low float64) coordinate {
	return coordinate{linear, intensity, low, mostShare, []float64{0.03, 0.2, 0.45, 0.75}}
}

// at returns the parameter at a coordinate, and its derivative.
func (c *coordinate) at(u float64, r rain) (p, slope float64) {
	unit := c.unit(r)
	if c.scale == linear {
		return unit * u, unit
	}
	p = unit * math.Exp(u)
	return p, p
}

// of returns the coordinate of a parameter, within its range.
func (c *coordinate) of(p float64, r rain) float64 {
	u := p / c.unit(r)
	if c.scale == logarithmic {
		u = math.Log(u)
	}
	return min(max(u, c.low), c.high)
}

// reported is a row of the fits table: a function of the parameters.
type reported struct {
	name, unit  string
	of          func(p fit.Point, r rain) float64
	coordinate  int  // which it is alone, or none
	logarithm   bool // its limits are looked for on a scale of logarithms
	unboundedAt int  // linear coordinate at whose end it has no bound, or none
	// what it can be at least and at most, where that is the model's and not the
	// intervals' doing
	least, most func(rain) float64
}

const none = -1

// alone reports the parameter of a coordinate.
func (c *capacity) alone(name, unit string, n int) reported {
	row := reported{name: name, unit: unit, coordinate: n, unboundedAt: none, of: func(p fit.Point, _ rain) float64 { return p[n] }}
	if c.coordinates[n].scale == logarithmic {
		row.logarithm = true
		return row
	}
	row.least, row.most = nothing, c.coordinates[n].unit
	return row
}

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

// Units of the coordinates.
func intensity(r rain) float64    { return r.i }
func perRain(r rain) float64      { return 1 / r.end }
func rainLength(r rain) float64   { return r.end }
func rootSorption(r rain) float64 { return r.i * math.Sqrt(r.end) }
func one(rain) float64            { return 1 }
func nothing(rain) float64        { return 0 }

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
