package infiltration

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"sheetwash/analysis/internal/fit"
	"sheetwash/analysis/internal/gum"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// The two methods for the steady infiltration rate, as the method column names
// them.
const (
	FinalWindow = "final_window"
	HortonCurve = "horton"
)

// The flags of a steady infiltration rate.
const (
	FlagLowerBound      = "lower_bound"      // nothing ran off: the rate is at least the intensity
	FlagUpperBound      = "upper_bound"      // the rate is at most the value
	FlagNotSteady       = "not_steady"       // not shown to have settled: the capacity may still be falling
	FlagNotIdentifiable = "not_identifiable" // too few intervals, or none that shows the shape of the curve
	FlagNegative        = "negative"         // below 0: more runoff than rain within the errors
	FlagExtrapolated    = "extrapolated"     // the last interval ends well before the end of rain
	FlagNoReadings      = "no_readings"      // it ran off, and no interval can be used: the rate is below the intensity
	FlagOverflow        = "overflow"         // intervals known as bounds only took part as bounds or not at all
	FlagScatter         = "scatter"          // intervals scatter more than their errors allow; widened
	FlagRising          = "rising"           // the rate rises over the final window: no capacity curve does
	FlagStartMoved      = "start_moved"      // first intervals left out: storage was still filling
	FlagNoData          = "no_data"          // there are no intervals and no onset: nothing to judge
	FlagBadInput        = "bad_input"        // intensity or rain duration not positive, or numbers out of all proportion
)

// Parameter is one parameter of a fitted model, a row of the fits table.
type Parameter struct {
	Model, Name, Unit   string
	Value, U, Low, High quantity.Optional
	RSS, AICc           quantity.Optional
	Weight              quantity.Optional // of Akaike, where models are compared
	N                   int
	Converged           bool
	Flags               result.Flags
}

// Answer is the steady infiltration rate of a plot by both methods.
type Answer struct {
	Window, Horton result.Estimate
	Headline       string // FinalWindow or HortonCurve
	Parameters     []Parameter
	WindowMin      float64 // start of the final window; the end of rain where there is none
}

// Steady returns the steady infiltration rate: the infiltration capacity at the
// end of rain, mm/h, with a verdict whether it has settled. It always answers:
// what cannot be had is an empty value with a flag that says why.
//
// The headline is the Horton curve, whose value at the end of rain is just what
// is asked for, whether or not the rate has settled. It is the final window
// where the rate rises over it, which no capacity curve can follow.
func Steady(in Input) Answer {
	in.defaults()
	if !in.sound() {
		e := result.Estimate{Flags: result.Flags{FlagBadInput}}
		return Answer{Window: e, Horton: e, Headline: HortonCurve, WindowMin: in.RainMin}
	}
	if !in.RanOff {
		e := in.lowerBound()
		return Answer{Window: e, Horton: e, Headline: HortonCurve, WindowMin: in.RainMin}
	}
	u := in.usable()
	switch {
	case u.nothing:
		e := result.Estimate{Flags: result.Flags{FlagNoData}}
		return Answer{Window: e, Horton: e, Headline: HortonCurve, WindowMin: in.RainMin}
	case u.dry:
		e := in.lowerBound()
		return Answer{Window: e, Horton: e, Headline: HortonCurve, WindowMin: in.RainMin}
	}
	if len(u.means) == 0 {
		e := in.boundOnly(&u)
		return Answer{Window: e, Horton: e, Headline: HortonCurve, WindowMin: in.RainMin}
	}
	w := in.finalWindow(&u)
	c := in.horton(&u, w.startMin)
	a := Answer{Window: w.estimate, Horton: c.estimate(&in), Headline: HortonCurve, Parameters: in.parameters(&c), WindowMin: w.startMin}
	if w.rises && c.best.Drop <= 0 {
		a.Headline = FinalWindow
	}
	last := u.means[len(u.means)-1].End
	extrapolated := in.RainMin-last > extrapolatedShare*in.RainMin
	switch {
	case extrapolated && c.n < hortonLeast:
		in.withdraw(&a, &u)
	case boundAfter(u.atMost, last):
		atMost(&a.Horton) // what it carries on from was followed by less, nobody knows how much less
	}
	for _, e := range []*result.Estimate{&a.Window, &a.Horton} {
		if w.rises {
			e.Flags.Add(FlagRising)
		}
		if len(u.atMost) > 0 {
			e.Flags.Add(FlagOverflow)
		}
		if !e.Value.OK {
			e.Flags.Add(FlagBadInput) // beyond what a float64 can weigh
		}
		if extrapolated {
			e.Flags.Add(FlagExtrapolated)
		}
	}
	return a
}

// withdraw takes back a curve that is carried on to the end of rain from fewer intervals
// than show its shape: all that they tell is that the capacity fell at least to the
// lowest of them.
func (in *Input) withdraw(a *Answer, u *usable) {
	a.Horton = in.lowestOf(slices.Concat(u.means, u.atMost))
	for n := range a.Parameters {
		if p := &a.Parameters[n]; p.Name == CapacityAtEnd {
			p.Value, p.U, p.Low, p.High = quantity.None(), quantity.None(), quantity.None(), a.Horton.High
			p.Flags.Add(FlagNotIdentifiable)
		}
	}
}

// boundAfter reports whether a bottle overflowed after a time.
func boundAfter(bounds []fit.Mean, endMin float64) bool {
	for _, b := range bounds {
		if b.End > endMin {
			return true
		}
	}
	return false
}

// leastIntensity is the intensity, mm/h, up to which there is no rain to speak of.
const leastIntensity = 1e-6

// extrapolatedShare is the share of the rain that may be left after the last
// interval.
const extrapolatedShare = 0.05

// sound reports whether there was rain to speak of, for a time.
func (in *Input) sound() bool {
	return in.IntensityMMH > leastIntensity && in.RainMin > 0 && !math.IsInf(in.IntensityMMH, 0) && !math.IsInf(in.RainMin, 0)
}

func (in *Input) defaults() {
	if !(in.Level > 0 && in.Level < 1) {
		in.Level = defaultLevel
	}
	if in.Tolerance == (Tolerance{}) {
		in.Tolerance = DefaultTolerance()
	}
	in.UIntensity = math.Max(in.UIntensity, 0)
}

// z returns the two-sided normal quantile of the level.
func (in *Input) z() float64 { return distuv.UnitNormal.Quantile((1 + in.Level) / 2) }

// kIntensity is the coverage factor of the error of the intensity.
func (in *Input) kIntensity() float64 { return gum.Coverage(in.Level, in.DFIntensity) }

// uRatesRel is the relative standard uncertainty that all rates have alike.
func (in *Input) uRatesRel() float64 { return math.Hypot(in.UAreaRel, in.UChangeRel) }

// lowerBound is the answer for a plot that took in all the rain.
func (in *Input) lowerBound() result.Estimate {
	return result.Estimate{
		Value:    quantity.Some(in.IntensityMMH),
		U:        quantity.Some(in.UIntensity),
		UShared:  quantity.Some(in.UIntensity),
		Low:      quantity.Some(in.IntensityMMH - in.kIntensity()*in.UIntensity),
		Censored: result.Right,
		N:        len(in.Intervals),
		Flags:    result.Flags{FlagLowerBound},
	}
}

// boundOnly is the answer where every interval with runoff is an overflowed
// bottle or the one in which runoff began: capacity has fallen at least to the
// lowest of them. It has fallen below the intensity where not even those exist.
func (in *Input) boundOnly(u *usable) result.Estimate {
	bounds := u.atMost
	if len(bounds) == 0 && u.diluted != nil {
		bounds = []fit.Mean{*u.diluted}
	}
	if len(bounds) == 0 {
		e := in.finish(in.IntensityMMH, 0, in.IntensityMMH, in.IntensityMMH)
		e.Low, e.Censored = quantity.None(), result.Left
		e.Flags.Add(FlagUpperBound, FlagNoReadings)
		return e
	}
	e := in.lowestOf(bounds)
	if len(u.atMost) > 0 {
		e.Flags.Add(FlagOverflow)
	}
	return e
}

// lowestOf is the answer where the capacity is known to have fallen at least to the
// lowest of some intervals.
func (in *Input) lowestOf(bounds []fit.Mean) result.Estimate {
	least := bounds[0]
	for _, b := range bounds[1:] {
		if b.Value < least.Value {
			least = b
		}
	}
	e := in.finish(least.Value, least.U, least.Value, least.Value+in.z()*least.U)
	e.Low = quantity.None()
	e.Censored = result.Left
	e.N = len(bounds)
	e.Flags.Add(FlagUpperBound, FlagNotIdentifiable)
	return e
}

// finish adds what all intervals share: the error of the intensity, as an
// offset of f, and those of the area and of what bottle changes miss, in proportion to
// the runoff rate.
func (in *Input) finish(value, u, low, high float64) result.Estimate {
	area := in.uRatesRel() * math.Max(in.IntensityMMH-value, 0)
	z := in.z()
	shared := z * math.Hypot(in.kIntensity()/z*in.UIntensity, area)
	e := result.Estimate{
		Value:   quantity.Some(value),
		U:       quantity.Some(math.Hypot(u, math.Hypot(in.UIntensity, area))),
		UShared: quantity.Some(in.UIntensity),
		Low:     quantity.Some(value - math.Hypot(math.Max(value-low, 0), shared)),
		High:    quantity.Some(value + math.Hypot(math.Max(high-value, 0), shared)),
	}
	if value < 0 {
		e.Flags.Add(FlagNegative)
	}
	return e
}
