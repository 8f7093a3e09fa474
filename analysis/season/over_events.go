package season

import (
	"math"
	"slices"

	"sheetwash/analysis/inference"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// withinOne is within for the one event of an event's scope.
func (f frame) withinOne(info result.MetricInfo, cells []*cell) []result.TreatmentRow {
	return f.within(info, cells[0])
}

// over returns the statements about one treatment over events: of one value per
// event, so that n is the number of events and not of plots.
func (f frame) over(info result.MetricInfo, cells []*cell) []result.TreatmentRow {
	if len(cells) == 1 {
		rows := f.within(info, cells[0])
		for i := range rows {
			rows[i].Flags.Add(FlagOneEvent)
		}
		return rows
	}
	cluster := clusters(cells)
	var rows []result.TreatmentRow
	for s := range f.stated(info, cells[0]) {
		column := f.ofEvents(info, cells, s)
		var r result.TreatmentRow
		switch {
		case column[0].Statistic == median:
			r = f.pooledMedian(info, cells)
		case slices.Max(cluster) == 0:
			r = f.stated(info, merge(cells))[s]
			r.Flags.Add(FlagRepeatedMeasures)
		default:
			r = f.overEvents(info, cells, column, cluster)
			checkRange(&r, info)
			if slices.Max(cluster)+1 < len(cells) {
				r.Flags.Add(FlagRepeatedMeasures)
				r.NPlots = f.stated(info, merge(cells))[s].NPlots
			}
		}
		total(&r, column)
		rows = append(rows, r)
	}
	return rows
}

// ofEvents returns one statement of each event for a mean over them: that within the
// event, but of skewed means the plain ones. The log-normal mean of two or three plots is a third and more too
// large on average, which the interval of one event allows for and a mean over events does not.
func (f frame) ofEvents(info result.MetricInfo, cells []*cell, statistic int) []result.TreatmentRow {
	column := make([]result.TreatmentRow, len(cells))
	for e, c := range cells {
		column[e] = f.stated(info, c)[statistic]
		if r := &column[e]; info.Kind == result.Skewed && r.Statistic == mean && r.Value.OK && c.censored() == 0 {
			r.Method = "mean_t"
			r.Value, _ = inference.Mean(c.values())
			r.UMeasurement, _ = c.measured(absolute)
		}
	}
	return column
}

// total counts plots and events and hands on what is true of a part of them.
func total(r *result.TreatmentRow, column []result.TreatmentRow) {
	plots, used := 0, 0
	r.NCensored = 0
	for _, e := range column {
		plots += e.NPlots
		r.NCensored += e.NCensored
		if e.Value.OK {
			used++
		}
		for _, w := range e.Flags {
			switch w {
			case FlagSequencesDiffer, FlagMethodsDiffer, FlagRepeatedMeasures, FlagSomeMissing,
				FlagSomeWithoutRunoff, FlagZerosIncluded, FlagIntervalAsMiddle:
				r.Flags.Add(w)
			case FlagNoneRanOff:
				if r.Value.OK {
					r.Flags.Add(FlagSomeWithoutRunoff)
				} else {
					r.Flags.Add(w)
				}
			}
		}
	}
	r.NEvents = used
	if !r.Flags.Has(FlagRepeatedMeasures) || r.NPlots == 0 {
		r.NPlots = plots
	}
}

// overEvents is the mean of the values of events, each cluster of events that
// share soil counting once.
func (f frame) overEvents(info result.MetricInfo, cells []*cell, column []result.TreatmentRow, cluster []int) result.TreatmentRow {
	r := column[0]
	logarithmic := r.Statistic == geometricMean
	c := eventCell(column, cluster, logarithmic)
	r.Value, r.Low, r.High, r.SDBetween, r.UMeasurement = quantity.None(), quantity.None(), quantity.None(), quantity.None(), quantity.None()
	r.Flags, r.NPlots = nil, 0
	r.Method = map[string]string{
		mean: "mean_of_events_t", geometricMean: "geometric_mean_of_events_t", restrictedMean: restrictedName(column),
	}[r.Statistic]
	if r.Statistic == geometricMean || r.Statistic == mean && info.Kind != result.Skewed {
		if b := boundedEvents(cells, cluster, logarithmic); len(b) > 1 {
			f.censoredOfEvents(&r, c, b, logarithmic)
			return r
		}
	}
	switch len(c.units) {
	case 0:
		for _, e := range column {
			for _, w := range e.Flags {
				if w != FlagOnePlot && w != inference.FlagNSmall { // of one event
					r.Flags.Add(w)
				}
			}
		}
		return r
	case 1:
		at := slices.IndexFunc(column, func(e result.TreatmentRow) bool { return e.Value.OK })
		within := f.stated(info, cells[at]) // as it is, also where a mean over events would take another
		one := within[slices.IndexFunc(within, func(s result.TreatmentRow) bool { return s.Statistic == r.Statistic })]
		one.Flags = slices.Clone(one.Flags)
		one.Flags.Add(FlagOneEvent)
		if usable(column) > 1 { // of events that share soil
			one.Value = quantity.Some(c.units[0].value)
			one.Low, one.High, one.SDBetween, one.UMeasurement = quantity.None(), quantity.None(), quantity.None(), quantity.None()
			one.Flags = result.Flags{FlagRepeatedMeasures}
		}
		return one
	case 2:
		r.Flags.Add(inference.FlagNSmall)
	}
	switch {
	case r.Statistic == restrictedMean:
		f.restrictedOfEvents(&r, c)
	case info.Kind == result.Skewed && r.Statistic == mean:
		f.skewedOfEvents(&r, c)
	default:
		f.meanOfEvents(&r, c, logarithmic)
	}
	return r
}

// restrictedOfEvents fills the row from one restricted mean per event or cluster of
// events: within 0 and the common time, or where nothing is censored as skewed means.
func (f frame) restrictedOfEvents(r *result.TreatmentRow, c *cell) {
	if math.IsInf(f.tau, 1) {
		f.skewedOfEvents(r, c)
		return
	}
	y := c.values()
	for i := range y {
		y[i] = min(f.tau, max(0, y[i])) // by rounding
	}
	i, err := inference.BoundedMean(y, f.tau, f.level)
	if err != nil {
		r.Flags.Add(inference.FlagNotDefined)
		return
	}
	r.SDBetween = i.SD
	f.take(r, i, c, absolute)
	f.clip(r)
	if r.Value.OK && r.Value.V >= f.tau*(1-1e-12) { // no plot by then in any event
		r.Value, r.Low, r.High = quantity.Some(f.tau), quantity.None(), quantity.None()
		r.Flags = result.Flags{FlagNotReached, FlagLowerBound}
	}
}

// skewedOfEvents fills the row with the mean of values of events that are skewed as
// their plots are, and an interval as wide as that of a log-normal mean.
func (f frame) skewedOfEvents(r *result.TreatmentRow, c *cell) {
	if c.censored() > 0 || slices.ContainsFunc(c.units, func(u unit) bool { return !(u.value > 0) }) {
		f.meanOfEvents(r, c, false)
		return
	}
	i, err := inference.SkewedMean(c.values(), f.level)
	if err != nil {
		r.Flags.Add(inference.FlagNotDefined)
		return
	}
	r.SDBetween, _ = inference.SD(c.values())
	f.take(r, i, c, absolute)
}

// boundedEvents returns the values of each cluster of events, logarithms for a
// geometric mean; nil where none is a bound.
func boundedEvents(cells []*cell, cluster []int, logarithmic bool) [][]inference.Bounds {
	if !slices.ContainsFunc(cells, func(c *cell) bool { return c.censored() > 0 }) {
		return nil
	}
	groups := eventGroups(cells, cluster, logarithmic)
	if !slices.ContainsFunc(groups, func(c *cell) bool { return c.censored() > 0 }) {
		return nil
	}
	return boundsOf(groups, logarithmic)
}

func boundsOf(cells []*cell, logarithmic bool) [][]inference.Bounds {
	out := make([][]inference.Bounds, len(cells))
	for i, c := range cells {
		out[i] = c.bounds(logarithmic)
	}
	return out
}

// eventGroups makes one cell of each cluster of events that has values, of positive ones for a geometric mean.
func eventGroups(cells []*cell, cluster []int, logarithmic bool) []*cell {
	groups := make([][]*cell, slices.Max(cluster)+1)
	for i, c := range cells {
		if logarithmic {
			c = c.with(func(u unit) bool { return u.value > 0 })
		}
		if len(c.units) > 0 {
			groups[cluster[i]] = append(groups[cluster[i]], c)
		}
	}
	out := make([]*cell, 0, len(groups))
	for _, g := range groups {
		switch len(g) {
		case 0:
		case 1:
			out = append(out, g[0])
		default:
			out = append(out, merge(g))
		}
	}
	return out
}

// meanOfEvents fills the row from one unit per event or cluster of events.
func (f frame) meanOfEvents(r *result.TreatmentRow, c *cell, logarithmic bool) {
	switch {
	case c.censored() > 0:
		f.bound(r, c, logarithmic)
	case logarithmic:
		g, err := inference.GeometricMean(c.values(), f.level)
		if err != nil {
			r.Flags.Add(inference.FlagNotDefined)
			return
		}
		r.SDBetween, _ = inference.SD(c.values())
		f.takeLog(r, g.Interval, c)
	default:
		i, err := inference.MeanT(c.values(), f.level)
		if err != nil {
			r.Flags.Add(inference.FlagNotDefined)
			return
		}
		r.SDBetween = i.SD
		f.take(r, i, c, absolute)
	}
}

// censoredOfEvents fills the row from the likelihood of all plots, their events
// shifting them together; where too little was observed for one, with a bound, if all events have a value.
// An event is never left out for being known as a bound: that would choose events by their outcome.
func (f frame) censoredOfEvents(r *result.TreatmentRow, c *cell, bounded [][]inference.Bounds, logarithmic bool) {
	r.Method = "censored_mean_of_events"
	if logarithmic {
		r.Method = "censored_geometric_mean_of_events"
	}
	i, err := inference.CensoredEventMean(bounded, f.level)
	if len(bounded) == 2 {
		r.Flags.Add(inference.FlagNSmall)
	}
	if err != nil || !i.Value.OK {
		r.Flags.Add(i.Flags...)
		if len(c.units) == len(bounded) {
			f.bound(r, c, logarithmic)
		}
		return
	}
	r.Flags.Add(i.Flags...)
	known := c.with(closed)
	if logarithmic {
		for _, v := range []*quantity.Optional{&i.Value, &i.Low, &i.High} {
			*v = v.Map(math.Exp)
		}
		f.takeLog(r, i.Interval, known)
		return
	}
	r.SDBetween = i.SD
	f.take(r, i.Interval, known, absolute)
}

// eventCell makes one unit of each event, then of each cluster, for which there
// is a value. Bounds stay bounds, but a restricted mean is known even where nothing happened.
func eventCell(column []result.TreatmentRow, cluster []int, logarithmic bool) *cell {
	groups := make([][]unit, slices.Max(cluster)+1)
	c := &cell{units: make([]unit, 0, len(groups))}
	for i, e := range column {
		if !e.Value.OK {
			continue
		}
		v := e.Value.V
		u := unit{value: v, bounds: inference.Bounds{Low: v, High: v}, censored: result.Observed, u: e.UMeasurement.V, hasU: e.UMeasurement.OK}
		switch {
		case e.Statistic == restrictedMean:
			u.hasU = u.hasU || e.Flags.Has(FlagLowerBound)
		case e.Flags.Has(FlagLowerBound):
			u.censored, u.bounds.High = result.Right, math.Inf(1)
		case e.Flags.Has(FlagUpperBound):
			u.censored, u.bounds.Low = result.Left, math.Inf(-1)
		}
		if len(groups) == len(column) { // each event is a cluster of its own
			c.units = append(c.units, u)
			continue
		}
		groups[cluster[i]] = append(groups[cluster[i]], u)
	}
	for _, g := range groups {
		if len(g) == 0 {
			continue
		}
		u := join(g)
		if logarithmic && len(g) > 1 && u.censored == result.Observed {
			v := make([]float64, len(g))
			for i := range g {
				v[i] = math.Log(g[i].value)
			}
			m, _ := inference.Mean(v)
			u.value = math.Exp(m.V)
			u.bounds = inference.Bounds{Low: u.value, High: u.value}
		}
		c.units = append(c.units, u)
	}
	return c
}

// pooledMedian is the median over the plots of all events, without an interval:
// plots of one event are not independent replicates of events.
func (f frame) pooledMedian(info result.MetricInfo, cells []*cell) result.TreatmentRow {
	r := f.medianTime(info, merge(cells))
	r.Low, r.High = quantity.None(), quantity.None()
	r.Flags = slices.DeleteFunc(r.Flags, func(w string) bool {
		return w == inference.FlagNSmall || w == inference.FlagNoUpperLimit || w == inference.FlagNoLowerLimit
	})
	r.Flags.Add(FlagPooledPlots)
	return r
}

func usable(column []result.TreatmentRow) int {
	n := 0
	for _, e := range column {
		if e.Value.OK {
			n++
		}
	}
	return n
}

func restrictedName(column []result.TreatmentRow) string {
	return "mean_of_events_t:" + column[0].Method
}
