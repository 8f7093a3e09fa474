package season

import (
	"math"
	"slices"

	"sheetwash/analysis/inference"
	"sheetwash/analysis/result"
)

// joining says how the plots of two treatments belong together.
type joining int

const (
	apart   joining = iota
	bySoil          // runs on the same bodies of soil
	byBlock         // one plot of each in every block
)

// matched returns the units of two cells in pairs: on the same body of soil, or
// in the same block where each block holds one plot of both and there are enough blocks.
func matched(x, y *cell) (a, b []unit, how joining) {
	for _, u := range x.units {
		if u.soil == "" {
			continue
		}
		if i := slices.IndexFunc(y.units, func(v unit) bool { return v.soil == u.soil }); i >= 0 {
			a, b = append(a, u), append(b, y.units[i])
		}
	}
	if len(a) > 0 {
		return a, b, bySoil
	}
	n := len(x.units)
	if n < leastBlocks || len(y.units) != n {
		return nil, nil, apart
	}
	of := map[blockKey]unit{}
	for _, u := range y.units {
		if _, twice := of[u.inBlock()]; twice {
			return nil, nil, apart
		}
		of[u.inBlock()] = u
	}
	for _, u := range x.units {
		v, ok := of[u.inBlock()]
		if !ok {
			return nil, nil, apart
		}
		delete(of, u.inBlock())
		a, b = append(a, u), append(b, v)
	}
	return a, b, byBlock
}

// blockKey names a block: as the data do, else the run, whose plots share their rain.
type blockKey struct{ dataset, run, block string }

func (u unit) inBlock() blockKey {
	if u.block != "" {
		return blockKey{dataset: u.run.dataset, block: u.block}
	}
	return blockKey{dataset: u.run.dataset, run: u.run.run}
}

// paired compares pairs by their differences, of logarithms for ratios; bounds
// stay bounds. Errors that a pair shares cancel.
func (f frame) paired(o *outcome, a, b []unit, how string) {
	o.method = "paired_t:" + how
	x, y := (&cell{units: a}).bounds(o.ratio), (&cell{units: b}).bounds(o.ratio)
	var d []inference.Bounds
	censored := false
	for i := range a {
		e := minus(x[i], y[i])
		if math.IsInf(e.Low, -1) && math.IsInf(e.High, 1) {
			o.flags.Add(inference.FlagFewObserved) // both only bounded: the pair says nothing
			continue
		}
		censored = censored || !e.Observed()
		d = append(d, e)
	}
	if censored {
		o.method = "censored_pairs:" + how
	}
	f.shift(o, d, d)
}

// minus returns what is known of x - y.
func minus(x, y inference.Bounds) inference.Bounds {
	return inference.Bounds{Low: x.Low - y.High, High: x.High - y.Low}
}

// shift takes the mean of differences that may be bounds, or where that has no
// estimate the bound that what is sure of them gives.
func (f frame) shift(o *outcome, d, sure []inference.Bounds) {
	r, err := inference.CensoredShift(d, f.level)
	if err != nil {
		o.flags.Add(inference.FlagNotDefined)
		return
	}
	o.take(r)
	if !r.Value.OK {
		o.bound(sure)
	}
}

// bound gives the mean of differences at their limits: the true effect is at
// least, or at most, that.
func (o *outcome) bound(d []inference.Bounds) {
	if len(d) == 0 {
		return
	}
	var low, high float64
	for _, b := range d {
		low += b.Low / float64(len(d))
		high += b.High / float64(len(d))
	}
	set := func(v float64, flag string) {
		if o.ratio {
			v = math.Exp(v)
		}
		o.value.V, o.value.OK = v, true
		o.flags.Add(flag)
	}
	switch {
	case !math.IsInf(low, 0) && math.IsInf(high, 1):
		set(low, FlagLowerBound)
	case math.IsInf(low, -1) && !math.IsInf(high, 0):
		set(high, FlagUpperBound)
	}
}

// censoredPair compares independent plots of which some are only bounded: the
// censored likelihood for the effect and, for times, the permutation log-rank test.
func (f frame) censoredPair(o *outcome, info result.MetricInfo, x, y *cell) {
	o.method = "censored_normal"
	d, err := inference.CensoredDifference(x.bounds(o.ratio), y.bounds(o.ratio), f.level)
	if err != nil {
		o.flags.Add(inference.FlagNotDefined)
		return
	}
	of := absolute
	if o.ratio {
		of = relative
	}
	if d.Value.OK {
		f.widenPair(&d, hiddenPair(x.with(closed), y.with(closed), of))
	}
	o.take(d)
	if !d.Value.OK {
		o.bound([]inference.Bounds{meanBounds(x.bounds(o.ratio), y.bounds(o.ratio))})
	}
	if left(x) || left(y) || info.Kind != result.TimeToEvent && o.p.OK {
		return
	}
	o.logRank(f, []*cell{x}, []*cell{y})
}

func left(c *cell) bool {
	return slices.ContainsFunc(c.units, func(u unit) bool { return u.censored == result.Left })
}

// meanBounds returns what is known of the difference of the means.
func meanBounds(x, y []inference.Bounds) inference.Bounds {
	mean := func(b []inference.Bounds) inference.Bounds {
		var m inference.Bounds
		for _, v := range b {
			m.Low += v.Low / float64(len(b))
			m.High += v.High / float64(len(b))
		}
		return m
	}
	return minus(mean(x), mean(y))
}

// logRank takes p from the permutation log-rank test over cells of the same
// events, those being strata; within one event its runs are, where that leaves enough ways to deal.
func (o *outcome) logRank(f frame, xs, ys []*cell) {
	var time []float64
	var event, first []bool
	var runs, events []string
	add := func(c *cell, e int, isFirst bool) {
		for _, u := range c.units {
			time, event = append(time, u.value), append(event, u.censored != result.Right)
			first = append(first, isFirst)
			runs, events = append(runs, u.run.dataset+"\x00"+u.run.run), append(events, string(rune(e)))
		}
	}
	for e := range xs {
		add(xs[e], e, true)
		add(ys[e], e, false)
	}
	r, err := inference.PermutationLogRank(time, event, first, runs, seed)
	if err != nil {
		return
	}
	if !r.LeastP.OK || r.LeastP.V >= 1-f.level {
		if r, err = inference.PermutationLogRank(time, event, first, events, seed); err != nil {
			return
		}
	}
	o.p = r.TwoSided
	if r.TwoSided.OK {
		o.method += ":permutation_log_rank"
	}
	o.flags.Add(r.Flags...)
	o.floor(r.LeastP, f.level)
}
