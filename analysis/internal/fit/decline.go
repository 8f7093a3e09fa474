package fit

import "math"

// Mean is the mean of a quantity over an interval of time, with its standard
// uncertainty (independent of the others').
type Mean struct{ Start, End, Value, U float64 }

// Decline is the problem of fitting a curve that falls by Drop from From to
// To, where its value is End,
//
//	y(t) = End + Drop g((t - From)/(To - From)),
//
// to means over intervals, with Drop >= 0 and End + Drop <= Ceiling. What is
// seen lags behind: water that flows on the surface is stored there in
// proportion to the flow (a linear reservoir of residence time lag), so that
// after the Onset of flow, when the reservoir is empty,
//
//	seen(t) = y(t) + (Ceiling - y(From)) exp(-(t - Onset)/lag)
//
// and the value at To without the lag is y(To) + lag y'(To), exactly so for the
// exponential. The lag is a nuisance with a half-normal prior of scale LagScale.
//
// For a given kappa of g and a given lag all this is linear in End and Drop, so
// the sum of squares is minimised over kappa and lag alone (variable projection,
// Golub & Pereyra 1973, SIAM J. Numer. Anal. 10:413-432), and the region of all
// parameters whose sum of squares is below a limit is a union of cut ellipses,
// whose extremes are exact.
type Decline struct {
	Data            []Mean // by time, between From and To, with U > 0 and End > Start
	From, To, Onset float64
	Ceiling         float64
	LagScale        float64 // same unit as the times; 0: no lag
	Starts          []int   // indices into Data from which a fit may begin, ascending from 0; at most MaxStarts
}

// MaxStarts is the most starts that one problem may have.
const MaxStarts = 6

// The coarse grid of kappa is 0, then equal steps of the logarithm between a
// curve that no reading tells from a line and one that is over before a
// hundredth of the time has passed. That of the lag is in units of its scale.
const kappaLow, kappaHigh = 0.1, 400.0

// coarseKappa returns 24 values for the exponential. The root falls so much
// more evenly that half of them do.
func coarseKappa(shape Shape) []float64 {
	axis := make([]float64, 24)
	if shape == Root {
		axis = axis[:12]
	}
	step := math.Pow(kappaHigh/kappaLow, 1/float64(len(axis)-2))
	kappa := kappaLow
	for k := 1; k < len(axis); k++ {
		axis[k] = kappa
		kappa *= step
	}
	return axis
}

func (d *Decline) coarseLag() []float64 {
	if !(d.LagScale > 0) {
		return []float64{0}
	}
	axis := []float64{0, 0.2, 0.5, 0.9, 1.5, 2.5}
	for l := range axis {
		axis[l] *= d.LagScale
	}
	return axis
}

// from returns the problem without the data before a start.
func (d *Decline) from(start int) *Decline {
	rest := *d
	rest.Data, rest.Starts = d.Data[d.Starts[start]:], []int{0}
	return &rest
}

// Seen returns the mean over an interval of what a curve shows, the transient
// after the onset included.
func (d *Decline) Seen(o Optimum, shape Shape, start, end float64) float64 {
	one := *d
	one.Data, one.Starts = []Mean{{Start: start, End: end, U: 1}}, nil
	p, c := newProblem(&one), shape.curve(o.Kappa)
	p.curveMeans(&c, p.means, nil)
	p.transient(o.Lag, p.h, nil)
	return o.End*(1-p.h[0]) + o.Drop*(p.means[0]-p.h[0]) + d.Ceiling*p.h[0]
}

// SeenAt is Seen at a time after the Onset.
func (d *Decline) SeenAt(o Optimum, shape Shape, at float64) float64 {
	c, h := shape.curve(o.Kappa), 0.0
	if o.Lag > 0 {
		h = math.Exp(-max(at-d.Onset, 0) / o.Lag)
	}
	return o.End*(1-h) + o.Drop*(c.at((at-d.From)/(d.To-d.From))-h) + d.Ceiling*h
}
