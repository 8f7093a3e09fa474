package season

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"sheetwash/analysis/inference"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// outcome is the comparison of two treatments, x over or minus y.
type outcome struct {
	value, low, high, p     quantity.Optional
	ratio                   bool
	method                  string
	flags                   result.Flags
	predictLow, predictHigh quantity.Optional // the effect in one further event
}

// seed is that of the drawn permutations, of which there are some for many plots
// only: a constant, so that equal data give equal answers.
const seed = 1

// leastBlocks is from how many complete blocks on pairs of a block are compared:
// with fewer, the degrees of freedom lost weigh more than what blocks explain.
const leastBlocks = 4

// logarithmic reports whether a metric is compared by ratios.
func logarithmic(info result.MetricInfo) bool { return info.Kind != result.Plain }

// scaled returns values as they are, or their logarithms where the metric is
// compared by ratios; false where one is not positive.
func scaled(y []float64, info result.MetricInfo) ([]float64, bool) {
	if !logarithmic(info) {
		return y, true
	}
	out := make([]float64, len(y))
	for i, v := range y {
		if !(v > 0) {
			return nil, false
		}
		out[i] = math.Log(v)
	}
	return out, true
}

// bounds returns the bounds of the units, or those of their logarithms.
func (c *cell) bounds(logs bool) []inference.Bounds {
	out := make([]inference.Bounds, len(c.units))
	for i, u := range c.units {
		out[i] = u.bounds
		if logs {
			out[i] = inference.Bounds{Low: math.Inf(-1), High: math.Log(u.bounds.High)}
			if u.bounds.Low > 0 {
				out[i].Low = math.Log(u.bounds.Low)
			}
		}
	}
	return out
}

// positive reports whether all values have a logarithm.
func (c *cell) positive() bool {
	return !slices.ContainsFunc(c.units, func(u unit) bool { return !(u.value > 0) || !(u.bounds.High > 0) })
}

// begin returns an outcome with what every comparison of two cells says, and
// whether there is something to compare.
func begin(info result.MetricInfo, cells ...*cell) (outcome, bool) {
	o := outcome{ratio: logarithmic(info)}
	empty := false
	for _, c := range cells {
		if c == nil {
			o.flags.Add(inference.FlagNoData)
			return o, false
		}
		if c.repeated {
			o.flags.Add(FlagRepeatedMeasures)
		}
		if c.missing > 0 {
			o.flags.Add(FlagSomeMissing)
		}
		if len(c.units) == 0 {
			empty = true
			o.flags.Add(inference.FlagNoData)
			o.flags.Add(c.why...)
		}
		switch {
		case c.dry > 0 && len(c.units) == 0:
			o.flags.Add(FlagNoneRanOff)
		case c.dry > 0:
			o.flags.Add(FlagSomeWithoutRunoff)
		}
	}
	return o, !empty
}

// pairWithin compares two treatments within one event.
func (f frame) pairWithin(info result.MetricInfo, x, y *cell) outcome {
	o, ok := begin(info, x, y)
	if !ok {
		o.method = "none"
		return o
	}
	if o.ratio && !(x.positive() && y.positive()) {
		o.ratio = false
	}
	o.few(len(x.units), len(y.units))
	switch a, b, joined := matched(x, y); {
	case joined == bySoil:
		o.flags.Add(FlagRepeatedMeasures)
		f.paired(&o, a, b, "by_soil")
	case joined == byBlock:
		f.paired(&o, a, b, "by_block")
	case x.censored()+y.censored() > 0:
		f.censoredPair(&o, info, x, y)
	case logarithmic(info) && !o.ratio:
		f.ranked(&o, x, y)
	default:
		f.welch(&o, x, y)
	}
	return o
}

// few flags what the numbers of plots do not allow.
func (o *outcome) few(n1, n2 int) {
	switch {
	case min(n1, n2) == 1:
		o.flags.Add(FlagOnePlot)
	case min(n1, n2) == 2:
		o.flags.Add(inference.FlagNSmall)
	}
}

// take writes a difference or, of logarithms, a ratio.
func (o *outcome) take(d inference.Difference) {
	o.value, o.low, o.high, o.p = d.Value, d.Low, d.High, d.P
	for _, w := range d.Flags {
		if w != inference.FlagOneValue { // FlagOnePlot says it
			o.flags.Add(w)
		}
	}
	if o.ratio {
		for _, v := range []*quantity.Optional{&o.value, &o.low, &o.high} {
			*v = v.Map(math.Exp)
		}
		name, rest, more := strings.Cut(o.method, ":")
		o.method = name + "_log"
		if more {
			o.method += ":" + rest
		}
	}
}

// welch compares independent plots by Welch's t, of logarithms for ratios.
func (f frame) welch(o *outcome, x, y *cell) {
	o.method = "welch_t"
	a, b := x.values(), y.values()
	of := absolute
	if o.ratio {
		a, b, of = logsOf(a), logsOf(b), relative
	}
	d, err := inference.WelchT(a, b, f.level)
	if err != nil {
		o.flags.Add(inference.FlagNotDefined)
		return
	}
	f.widenPair(&d, hiddenPair(x, y, of))
	o.take(d)
}

func logsOf(y []float64) []float64 {
	out := make([]float64, len(y))
	for i, v := range y {
		out[i] = math.Log(v)
	}
	return out
}

// hiddenPair returns the variance of a difference of means that the scatter of
// the plots does not show: of the errors that plots of one run share, where the treatments
// did not stand under the same runs.
//
//	hidden(x) + hidden(y) - 2 cov,  cov = sum over runs of (sum of s in x)(sum of s in y)/(n_x n_y)
//
// Zero where both stood under the same runs alike. Source: JCGM 100:2008 (GUM), eq. 13.
func hiddenPair(x, y *cell, of func(unit) (u, shared float64, known bool)) float64 {
	_, hx := x.measured(of)
	_, hy := y.measured(of)
	if hx == 0 && hy == 0 {
		return 0
	}
	sums := map[runKey]float64{}
	for _, u := range x.units {
		_, s, _ := of(u)
		sums[u.run] += s
	}
	cov := 0.0
	for _, u := range y.units {
		_, s, _ := of(u)
		cov += s * sums[u.run]
	}
	cov /= float64(len(x.units) * len(y.units))
	h := hx + hy - 2*cov
	if h < 1e-9*(hx+hy) {
		return 0
	}
	return h
}

// widenPair adds a hidden variance to limits and test.
func (f frame) widenPair(d *inference.Difference, hidden float64) {
	if hidden == 0 || !d.Value.OK || !d.SE.OK {
		return
	}
	d.Low, d.High = widen(d.Value.V, d.Low, d.High, f.z*math.Sqrt(hidden))
	if d.T.OK && d.DF.OK {
		t := d.Value.V / math.Sqrt(d.SE.V*d.SE.V+hidden)
		d.T = quantity.Some(t)
		if p, err := inference.TTwoSided(t, d.DF.V); err == nil {
			d.P = quantity.Some(p)
		}
	}
}

// ranked compares amounts of which some are zero, so that there is no ratio of
// geometric means: Mann-Whitney's exact test with the Hodges-Lehmann difference.
func (f frame) ranked(o *outcome, x, y *cell) {
	o.method = "mann_whitney"
	o.flags.Add(FlagZerosIncluded)
	r, err := inference.MannWhitney(x.values(), y.values(), f.level)
	if err != nil {
		o.flags.Add(inference.FlagNotDefined)
		return
	}
	o.value = r.Value
	if !r.Flags.Has(inference.FlagNSmall) { // an interval of less than the level is none
		o.low, o.high = r.Low, r.High
	}
	o.p = r.Conditional
	if !o.p.OK {
		o.p = r.P
	}
	o.flags.Add(r.Flags...)
	if r.Tied {
		o.flags.Add(FlagTied)
	}
	o.floor(r.LeastP, f.level)
}

// floor says where no numbers could have reached significance.
func (o *outcome) floor(least quantity.Optional, level float64) {
	if least.OK && least.V >= 1-level {
		o.flags.Add(FlagRankFloor + "=" + strconv.FormatFloat(least.V, 'g', 3, 64))
	}
}
