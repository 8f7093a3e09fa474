package erosion

import (
	"math"

	"sheetwash/analysis/internal/gum"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// The methods of interrill erodibility. They differ by intensity over runoff rate and
// are never mixed.
const (
	MethodRainSquared = "intensity_squared"
	MethodRainAndFlow = "intensity_and_runoff"
)

// perMS turns mm/h into m/s.
const perMS = 1.0 / 3.6e6

// ErodibilityOfRain returns the interrill erodibility of a detachment rate by
// intensity squared.
//
//	Ki = D / (I^2 Sf)
//
// Units: D in kg/(m2 s), I in mm/h, slope as rise over run, Ki in kg s/m4.
// Source: [Liebenow1990]. Without rain, or on a slope without a positive factor,
// there is none: 0, false.
func ErodibilityOfRain(detachmentKgM2S, intensityMMH, slope float64) (float64, bool) {
	i, sf := intensityMMH*perMS, InterrillSlopeFactor(slope)
	if !(i > 0 && sf > 0) {
		return 0, false
	}
	return detachmentKgM2S / (i * i * sf), true
}

// ErodibilityOfFlow returns the interrill erodibility by intensity and runoff rate.
//
//	Ki = D / (I q Sf)
//
// Units: as ErodibilityOfRain, q in mm/h. Source: [Kinnell1993]. Without rain or runoff
// there is none: 0, false.
func ErodibilityOfFlow(detachmentKgM2S, intensityMMH, runoffMMH, slope float64) (float64, bool) {
	k, ok := ErodibilityOfRain(detachmentKgM2S, intensityMMH, slope)
	if !ok || !(runoffMMH > 0) {
		return 0, false
	}
	return k * intensityMMH / runoffMMH, true
}

// Late is the end of the rain: the time of the final runoff rate, and the rain.
type Late struct {
	StartMin, EndMin float64 // no time: nothing ends by the end of rain
	IntensityMMH     float64
	// UShared is the standard uncertainty of the intensity that the run shares, U
	// the plot's own, with DFShared and DF degrees of freedom (0: known).
	UShared, DFShared, U, DF float64
}

// window is what ran off in the late time.
type window struct {
	massG, uMassG float64
	ml, uML       float64
	minutes       float64
	pieces        int
	wider         bool // a pool reaches beyond it
	interpolated  bool
}

// late adds up the sediment and the water of the intervals in the late time that
// were caught.
func (l *load) late() window {
	w := window{}
	from, to := l.in.Late.StartMin-sameMin, l.in.Late.EndMin+sameMin
	lastFlow, lastPool := -1, -1
	var poolU, squares, water float64
	for i := range l.pieces {
		q := &l.pieces[i]
		f := &l.in.Flow[q.flow]
		if f.StartMin < from || f.EndMin > to || !q.collected {
			continue
		}
		w.pieces++
		if q.flow != lastFlow {
			w.minutes += f.EndMin - f.StartMin
			lastFlow = q.flow
		}
		w.massG += q.conc * q.ml / 1000
		w.ml += q.ml
		water += q.u * q.u
		if q.pool < 0 || !(l.pools[q.pool].caughtML > 0) {
			w.interpolated = w.interpolated || q.ml > 0
			squares += sq(q.uConc*q.ml/1000) + sq(q.conc*q.u/1000)
			continue
		}
		p := &l.pools[q.pool]
		w.wider = w.wider || p.start < from || p.end > to
		if q.pool != lastPool {
			squares, poolU, lastPool = squares+poolU*poolU, 0, q.pool
		}
		poolU += p.uConc * q.ml / 1000
		if p.stated.OK || l.in.Metered && p.bottleML > 0 {
			squares += sq(q.conc * q.u / 1000)
		}
	}
	w.uMassG = gum.Combined(math.Sqrt(squares+poolU*poolU), l.uCommon()*share(w.massG, l.massG))
	w.uML = math.Sqrt(water)
	return w
}

func sq(v float64) float64 { return v * v }

func share(part, all float64) float64 {
	if all == 0 {
		return 0
	}
	return part / all
}

// erodibility returns the interrill erodibility of the plot in both forms, from the
// late time: detachment is then that of a soil without loose grains, at a runoff rate near its last.
//
//	D = m / (A d),  Ki = D / (I^2 Sf)  and  Ki = D / (I q Sf) = (m / V) / (I Sf)
//
// with sediment m and suspension V caught in the time d on the area A: in the second
// form area and time cancel. The number of a plot under cover holds the effect of the cover (flag
// cover_factor_included; cover_not_noted where nobody wrote it down). A pool
// that reaches beyond the late time lends its mean concentration (flag
// pool_wider_than_window). Errors go through the logarithm, the rain's as shared by the run.
// Without a slope there is none (flag no_slope), nor without a late interval (flag no_interval_by_rain_end).
// Source: [Liebenow1990], [Kinnell1993]; [GUM2008] 5.1.6.
func (l *load) erodibility() (rain, flow result.Estimate) {
	in := l.in
	w := l.late()
	word := ""
	switch {
	case !in.Plot.Slope.OK:
		word = "no_slope"
	case !(in.Late.IntensityMMH > 0):
		word = "no_rain"
	case w.pieces == 0 || !(w.minutes > 0):
		word = "no_interval_by_rain_end"
	}
	if word != "" {
		return missing(word), missing(word)
	}
	rain = l.propagated(rainModel, l.rainInputs(&w), &w)
	if !(w.ml > 0) {
		return rain, missing("no_runoff")
	}
	flow = l.propagated(flowModel, l.flowInputs(&w), &w)
	return rain, flow
}

// rainInputs are those of rainModel.
func (l *load) rainInputs(w *window) []gum.Input {
	a := l.in.Plot.AreaM2
	return append(l.inputs(w),
		gum.Input{Name: "time", Unit: "min", Value: w.minutes, U: math.Sqrt2 * l.in.Errors.BottleChange},
		gum.Input{Name: "area", Unit: "m2", Value: a, U: a * l.in.Errors.AreaRel})
}

// flowInputs are those of flowModel.
func (l *load) flowInputs(w *window) []gum.Input {
	return append(l.inputs(w), gum.Input{Name: "suspension", Unit: "mL", Value: w.ml, U: w.uML})
}

// inputs are those that both forms have.
func (l *load) inputs(w *window) []gum.Input {
	u := l.in.Plot.USlope
	if u == 0 {
		u = l.in.Errors.Slope
	}
	return append(make([]gum.Input, 0, 6),
		gum.Input{Name: "late sediment", Unit: "g", Value: w.massG, U: w.uMassG},
		gum.Input{Name: "intensity", Unit: "mm/h", Value: l.in.Late.IntensityMMH, U: l.in.Late.UShared, DF: l.in.Late.DFShared, Common: true},
		gum.Input{Name: "intensity at the plot's place", Unit: "mm/h", U: l.in.Late.U, DF: l.in.Late.DF},
		gum.Input{Name: "slope", Unit: "1", Value: l.in.Plot.Slope.V, U: u})
}

// rainModel takes sediment, intensity, its own part, slope, time and area.
func rainModel(x []float64) (float64, bool) {
	if !(x[4] > 0 && x[5] > 0) {
		return 0, false
	}
	return ErodibilityOfRain(x[0]/1000/(60*x[4]*x[5]), x[1]+x[2], x[3])
}

// flowModel takes sediment, intensity, its own part, slope and suspension.
func flowModel(x []float64) (float64, bool) {
	if !(x[4] > 0) {
		return 0, false
	}
	return ErodibilityOfFlow(1000*x[0]/x[4], x[1]+x[2], 1/perMS, x[3])
}

// propagated is an erodibility with its error: on logarithms where the sediment is
// told from none.
func (l *load) propagated(f gum.Model, in []gum.Input, w *window) result.Estimate {
	var r gum.Result
	ok := false
	if in[0].Value > 2*in[0].U {
		r, ok = gum.PropagateLog(f, in, l.in.Level)
	} else {
		r, ok = gum.Propagate(f, in, l.in.Level, gum.NonNegative())
	}
	if !ok {
		return missing("not_defined")
	}
	e := result.Estimate{Value: quantity.Some(r.Value), U: quantity.Some(r.U), UShared: quantity.Some(r.UCommon),
		Low: quantity.Some(r.Low), High: quantity.Some(r.High), Censored: result.Observed, N: w.pieces}
	e.Flags.Add(coverWord(l.in))
	if w.wider {
		e.Flags.Add("pool_wider_than_window")
	}
	if w.interpolated {
		e.Flags.Add("interpolated")
	}
	if l.usesRating {
		e.Flags.Add("turbidity_rating")
	}
	if r.Simulated {
		e.Flags.Add("simulated")
	}
	return e
}

// coverWord says what of the cover is in an erodibility; "" for bare soil.
func coverWord(in *Input) string {
	switch c := in.Plot.CoverPct; {
	case !c.OK:
		return "cover_not_noted"
	case c.V > 0:
		return "cover_factor_included"
	}
	return ""
}

// dryErodibility is the erodibility of a plot that did not run off: zero where the
// rain had a slope to work on.
func dryErodibility(in *Input, zero result.Estimate) result.Estimate {
	if !in.Plot.Slope.OK {
		return missing("no_slope")
	}
	zero.Flags = append(result.Flags{}, zero.Flags...)
	zero.Flags.Add(coverWord(in))
	return zero
}
