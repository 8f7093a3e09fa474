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
	events := make([][]result.TreatmentRow, len(cells))
	for i, c := range cells {
		events[i] = f.within(info, c)
	}
	cluster := clusters(cells)
	var rows []result.TreatmentRow
	for s := range events[0] {
		column := make([]result.TreatmentRow, len(cells))
		for e := range events {
			column[e] = events[e][s]
		}
		var r result.TreatmentRow
		switch {
		case column[0].Statistic == median:
			r = f.pooledMedian(info, cells)
		case slices.Max(cluster) == 0:
			r = f.within(info, merge(cells))[s]
			r.Flags.Add(FlagRepeatedMeasures)
		default:
			r = f.overEvents(column, cluster)
			checkRange(&r, info)
			if slices.Max(cluster)+1 < len(cells) {
				r.Flags.Add(FlagRepeatedMeasures)
				r.NPlots = f.within(info, merge(cells))[s].NPlots
			}
		}
		total(&r, column)
		rows = append(rows, r)
	}
	return rows
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
func (f frame) overEvents(column []result.TreatmentRow, cluster []int) result.TreatmentRow {
	r := column[0]
	logarithmic := r.Statistic == geometricMean
	c := eventCell(column, cluster, logarithmic)
	r.Value, r.Low, r.High, r.SDBetween, r.UMeasurement = quantity.None(), quantity.None(), quantity.None(), quantity.None(), quantity.None()
	r.Flags, r.NPlots = nil, 0
	r.Method = map[string]string{
		mean: "mean_of_events_t", geometricMean: "geometric_mean_of_events_t", restrictedMean: restrictedName(column),
	}[r.Statistic]
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
		one := column[slices.IndexFunc(column, func(e result.TreatmentRow) bool { return e.Value.OK })]
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
	f.meanOfEvents(&r, c, logarithmic)
	if r.Statistic == restrictedMean {
		f.clip(&r)
		if r.Value.OK && r.Value.V >= f.tau*(1-1e-12) { // no plot by then in any event
			r.Value, r.Low, r.High = quantity.Some(f.tau), quantity.None(), quantity.None()
			r.Flags = result.Flags{FlagNotReached, FlagLowerBound}
		}
	}
	return r
}

// meanOfEvents fills the row from one unit per event or cluster of events.
func (f frame) meanOfEvents(r *result.TreatmentRow, c *cell, logarithmic bool) {
	switch {
	case c.censored() > 0:
		r.Method = "censored_" + r.Method
		f.censoredMean(r, c, logarithmic)
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

// eventCell makes one unit of each event, then of each cluster, for which there
// is a value. Bounds stay bounds, but a restricted mean is known even where nothing happened.
func eventCell(column []result.TreatmentRow, cluster []int, logarithmic bool) *cell {
	groups := make([][]unit, slices.Max(cluster)+1)
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
		groups[cluster[i]] = append(groups[cluster[i]], u)
	}
	c := &cell{}
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
