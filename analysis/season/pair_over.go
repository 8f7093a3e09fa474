package season

import (
	"math"
	"slices"
	"strconv"

	"sheetwash/analysis/inference"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// leastPooledDF is how many degrees of freedom within events tell the scatter of
// plots well enough to weight events by it.
const leastPooledDF = 4

// pairOver compares two treatments over events: by their differences within the
// events that have both, so that what events share cancels, each event counting as one value.
func (f frame) pairOver(info result.MetricInfo, xs, ys []*cell, influence bool) outcome {
	var a, b []*cell
	for e := range xs {
		if usableCell(xs[e]) && usableCell(ys[e]) {
			a, b = append(a, xs[e]), append(b, ys[e])
		}
	}
	if len(a) < 2 {
		return f.withoutCommon(info, xs, ys, a, b)
	}
	cluster := clusters(a, b)
	if slices.Max(cluster) == 0 {
		o := f.pairWithin(info, merge(a), merge(b))
		o.flags.Add(FlagRepeatedMeasures)
		return o
	}
	o, _ := begin(info, slices.Concat(a, b)...)
	o.ratio = logarithmic(info) && !slices.ContainsFunc(slices.Concat(a, b), func(c *cell) bool { return !c.positive() })
	if logarithmic(info) && !o.ratio {
		o.flags.Add(FlagZerosIncluded)
	}
	e := newEffects(a, b, cluster, o.ratio)
	if slices.Max(cluster)+1 < len(a) {
		o.flags.Add(FlagRepeatedMeasures)
	}
	switch {
	case e.censored:
		o.method = "censored_event_differences"
		f.shift(&o, e.d, e.sure)
		if !o.p.OK {
			o.logRank(f, a, b)
		}
	case e.df >= leastPooledDF && e.variance > 0:
		f.pool(&o, e, influence)
	default:
		o.method = "event_differences_t"
		f.shift(&o, e.d, e.sure)
	}
	switch len(e.d) {
	case 1: // the other events say nothing of the difference
		o.flags.Add(inference.FlagFewObserved)
	case 2:
		o.flags.Add(inference.FlagNSmall)
	}
	return o
}

func usableCell(c *cell) bool { return c != nil && len(c.units) > 0 }

// withoutCommon compares treatments that share fewer than two events: where both
// have two events or more, their events are independent replicates; else by the one event.
func (f frame) withoutCommon(info result.MetricInfo, xs, ys, a, b []*cell) outcome {
	xs, ys = slices.DeleteFunc(slices.Clone(xs), unusable), slices.DeleteFunc(slices.Clone(ys), unusable)
	switch {
	case len(a) == 1 && (len(xs) < 2 || len(ys) < 2):
		o := f.pairWithin(info, a[0], b[0])
		o.flags.Add(FlagOneEvent)
		return o
	case len(xs) == 0 || len(ys) == 0:
		o := outcome{ratio: logarithmic(info), method: "none"}
		o.flags.Add(inference.FlagNoData, FlagNoCommonEvent)
		return o
	}
	all := slices.Concat(xs, ys)
	o, _ := begin(info, all...)
	o.flags.Add(FlagNoCommonEvent)
	o.method = "welch_t_of_events"
	o.ratio = logarithmic(info) && !slices.ContainsFunc(all, func(c *cell) bool { return !c.positive() })
	x, y := eventBounds(xs, o.ratio), eventBounds(ys, o.ratio)
	if shareSoil(xs, ys) {
		o.flags.Add(FlagRepeatedMeasures, inference.FlagNotDefined)
		return o
	}
	o.few(len(x), len(y))
	if p, q, ok := points(x, y); ok {
		d, err := inference.WelchT(p, q, f.level)
		if err != nil {
			o.flags.Add(inference.FlagNotDefined)
			return o
		}
		o.take(d)
		return o
	}
	o.method = "censored_events"
	d, err := inference.CensoredDifference(x, y, f.level)
	if err != nil {
		o.flags.Add(inference.FlagNotDefined)
		return o
	}
	o.take(d)
	if !d.Value.OK {
		o.bound([]inference.Bounds{meanBounds(x, y)})
	}
	return o
}

func unusable(c *cell) bool { return !usableCell(c) }

// shareSoil reports whether two treatments, or two events of one, share a body of soil.
func shareSoil(xs, ys []*cell) bool {
	cluster := clusters(slices.Concat(xs, ys))
	return slices.Max(cluster)+1 < len(cluster)
}

func points(x, y []inference.Bounds) (a, b []float64, ok bool) {
	for _, v := range x {
		a, ok = append(a, v.Low), v.Observed()
		if !ok {
			return nil, nil, false
		}
	}
	for _, v := range y {
		b, ok = append(b, v.Low), v.Observed()
		if !ok {
			return nil, nil, false
		}
	}
	return a, b, true
}

// eventBounds returns what is known of the mean of each cell.
func eventBounds(cells []*cell, logs bool) []inference.Bounds {
	out := make([]inference.Bounds, len(cells))
	for i, c := range cells {
		out[i] = c.meanKnown(logs)
	}
	return out
}

// meanKnown returns the mean of the units, or of their logarithms: the estimate
// of the censored likelihood where some are bounds, a bound where that has none.
//
// The cell remembers it: every pair of a scope asks for it.
func (c *cell) meanKnown(logs bool) inference.Bounds {
	if c.known == nil {
		c.known = map[bool]inference.Bounds{}
	}
	m, ok := c.known[logs]
	if !ok {
		m = c.findMean(logs)
		c.known[logs] = m
	}
	return m
}

func (c *cell) findMean(logs bool) inference.Bounds {
	b := c.bounds(logs)
	if c.censored() > 0 && len(b) > 1 {
		if m, err := inference.CensoredPoint(b); err == nil && m.OK {
			return inference.Bounds{Low: m.V, High: m.V}
		}
	}
	var m inference.Bounds
	for _, v := range b {
		m.Low += v.Low / float64(len(b))
		m.High += v.High / float64(len(b))
	}
	if c.censored() == 0 {
		m.High = m.Low // the same sum
	}
	return m
}

// eventEffects are the differences of two treatments, one for each cluster of events.
type eventEffects struct {
	d        []inference.Bounds
	sure     []inference.Bounds // what is certain of each event, for a bound of the effect
	share    []float64          // of the variance of a plot, in each difference
	censored bool
	variance float64 // between plots within treatment and event, pooled
	df       float64
}

func newEffects(a, b []*cell, cluster []int, logs bool) eventEffects {
	var r eventEffects
	r.scatter(a, b, logs)
	n := slices.Max(cluster) + 1
	sum, share, count := make([]inference.Bounds, n), make([]float64, n), make([]float64, n)
	for e := range a {
		x, y := a[e].meanGiven(logs, r.variance), b[e].meanGiven(logs, r.variance)
		r.sure = append(r.sure, minus(a[e].meanKnown(logs), b[e].meanKnown(logs)))
		d := minus(x, y)
		if math.IsInf(d.Low, -1) && math.IsInf(d.High, 1) {
			r.censored = true // the event says nothing
			continue
		}
		k := cluster[e]
		sum[k].Low += d.Low
		sum[k].High += d.High
		share[k] += 1/float64(len(a[e].units)) + 1/float64(len(b[e].units))
		count[k]++
	}
	for k := range n {
		if count[k] == 0 {
			continue
		}
		d := inference.Bounds{Low: sum[k].Low / count[k], High: sum[k].High / count[k]}
		r.censored = r.censored || !d.Observed()
		r.d, r.share = append(r.d, d), append(r.share, share[k]/(count[k]*count[k]))
	}
	return r
}

// scatter pools the variance between plots within treatment and event, of the
// cells without bounds.
func (r *eventEffects) scatter(a, b []*cell, logs bool) {
	ss := 0.0
	for _, c := range slices.Concat(a, b) {
		if c.censored() > 0 || len(c.units) < 2 {
			continue
		}
		y := c.values()
		if logs {
			y = logsOf(y)
		}
		if sd, err := inference.SD(y); err == nil && sd.OK {
			m := float64(len(y) - 1)
			ss += m * sd.V * sd.V
			r.df += m
		}
	}
	if r.df > 0 {
		r.variance = ss / r.df
	}
}

// meanGiven returns the mean of a cell with bounds by its likelihood with the
// pooled variance, so that which plots are bounds does not choose the scatter; as meanKnown
// without bounds or where that has no answer.
func (c *cell) meanGiven(logs bool, variance float64) inference.Bounds {
	if c.censored() > 0 && len(c.units) > 1 && variance > 0 {
		if m, err := inference.CensoredPointGiven(c.bounds(logs), math.Sqrt(variance)); err == nil && m.OK {
			return inference.Bounds{Low: m.V, High: m.V}
		}
	}
	b := c.meanKnown(logs)
	if n := float64(len(c.units)); n > 1 && variance > 0 && c.censored() == len(c.units) {
		// That all plots lie beyond their limits says that the nearest does: a value
		// that lies by the mean of the largest of n normal values (Blom 1958) from the mean.
		if z, err := inference.NormalQuantile((n - 0.375) / (n + 0.25)); err == nil {
			b.Low += z * math.Sqrt(variance)
			b.High -= z * math.Sqrt(variance)
		}
	}
	return b
}

// pool synthesises the effects of events with random effects: REML, Hartung and
// Knapp's interval with its floor. Their variances come from the scatter of plots, pooled over all cells.
func (f frame) pool(o *outcome, e eventEffects, influence bool) {
	y, v := make([]float64, len(e.d)), make([]float64, len(e.d))
	for i := range y {
		y[i], v[i] = e.d[i].Low, e.variance*e.share[i]
	}
	how := inference.Pooling{Tau: inference.TauREML, HartungKnapp: true, Floor: true, Level: f.level}
	o.method = "random_effects_reml_hk"
	r, err := inference.Pool(y, v, how)
	if err != nil {
		o.flags.Add(inference.FlagNotDefined)
		return
	}
	o.take(inference.Difference{Interval: r.Interval, P: r.P})
	if r.Floored {
		o.flags.Add(FlagFloor)
	}
	if r.I2.OK {
		o.flags.Add(FlagI2 + "=" + strconv.FormatFloat(math.Round(r.I2.V)/100, 'g', -1, 64))
	}
	if len(y) > 2 {
		o.predictLow, o.predictHigh = r.PredictLow, r.PredictHigh
		if o.ratio {
			o.predictLow, o.predictHigh = r.PredictLow.Map(math.Exp), r.PredictHigh.Map(math.Exp)
		}
		if influence && decides(y, v, how, r.P) {
			o.flags.Add(FlagOneEventDecides)
		}
	}
}

// decides reports whether leaving out one event turns the answer at the level.
func decides(y, v []float64, how inference.Pooling, p quantity.Optional) bool {
	all, err := inference.LeaveOneOut(y, v, how)
	if err != nil || !p.OK {
		return false
	}
	alpha := 1 - how.Level
	for _, r := range all {
		if r.P.OK && (r.P.V < alpha) != (p.V < alpha) {
			return true
		}
	}
	return false
}
