package season

import (
	"math"
	"slices"
	"strings"

	"sheetwash/analysis/derivation"
	"sheetwash/analysis/inference"
	"sheetwash/analysis/result"
)

// Deriver derives rows that Summarise made: how their values came about. The
// leaves of its trees are rows of plots by their keys.
type Deriver struct {
	rows     []result.PlotRow
	at       map[rowKey][]int // headline rows that count, by metric and run
	frame    frame
	scopes   []scope
	ranking  []string
	families map[string][]*family // by scope
}

// rowKey is by what the rows of plots are looked for.
type rowKey struct {
	run    runKey
	metric result.Metric
}

// NewDeriver takes the rows and settings that Summarise was given. Errors: those
// of Summarise.
func NewDeriver(rows []result.PlotRow, settings Settings) (*Deriver, error) {
	if !(settings.Level > 0 && settings.Level < 1) {
		return nil, ErrLevel
	}
	z, err := inference.NormalQuantile(1 - (1-settings.Level)/2)
	if err != nil {
		return nil, ErrLevel
	}
	d := &Deriver{rows: rows, frame: frame{level: settings.Level, z: z, named: settings.named()}, at: map[rowKey][]int{}, families: map[string][]*family{}}
	g := gather(rows)
	if d.ranking, err = g.references(settings); err != nil {
		return nil, err
	}
	d.scopes = g.scopes()
	for i := range rows {
		if r := &rows[i]; r.Headline && !r.Excluded && r.Value.OK {
			k := rowKey{runKey{r.Dataset, r.Run}, r.Metric}
			d.at[k] = append(d.at[k], i)
		}
	}
	return d, nil
}

// Treatment derives a row of treatment_results; false where it is not known how.
func (d *Deriver) Treatment(r *result.TreatmentRow) (derivation.Node, bool) {
	name := string(r.Metric)
	if !r.Value.OK {
		return derivation.Empty(name, r.Unit), true
	}
	for _, s := range d.scopes {
		if s.name != r.Scope {
			continue
		}
		f := d.frame
		f.tau = s.tau(r.Metric)
		for _, sr := range s.series {
			if sr.label != r.Treatment || sr.info.ID != r.Metric {
				continue
			}
			t := tracer{Deriver: d, metric: *sr.info, frame: f}
			for _, m := range sr.byMethod() {
				if n, ok := t.row(name, s.single, m, r); ok {
					return n, true
				}
			}
		}
	}
	return derivation.Node{}, false
}

// tau is the time to which the means of a metric are restricted in the scope.
func (s scope) tau(m result.Metric) float64 {
	tau := math.Inf(1)
	for _, sr := range s.series {
		if sr.info.Kind == result.TimeToEvent && sr.info.ID == m {
			tau = min(tau, commonTime(sr.cells))
		}
	}
	return tau
}

// tracer derives the statements about one metric of one treatment.
type tracer struct {
	*Deriver
	metric result.MetricInfo
	frame  frame
}

// row derives the statement of a row, if the part of the series makes it.
func (t *tracer) row(name string, single bool, m oneMethod, r *result.TreatmentRow) (derivation.Node, bool) {
	f := t.frame
	summarise := f.over
	if single {
		summarise = f.withinOne
	}
	for s, made := range summarise(t.metric, m.cells) {
		method := made.Method
		if m.method != "" {
			method += ":" + m.method
		}
		if made.Statistic != r.Statistic || method != r.Method || made.Value != r.Value {
			continue
		}
		var n derivation.Node
		switch {
		case single, len(m.cells) == 1:
			n = t.within(name, m.cells[0], made)
		default:
			n = t.over(name, m.cells, s, made)
		}
		return n, true
	}
	return derivation.Node{}, false
}

// over derives a statement over several events; see frame.over.
func (t *tracer) over(name string, cells []*cell, statistic int, made result.TreatmentRow) derivation.Node {
	cluster := clusters(cells)
	several := false
	for _, c := range cluster {
		several = several || c > 0
	}
	if made.Statistic == median || !several {
		return t.within(name, merge(cells), made).Noting("the plots of all events together")
	}
	column := t.frame.ofEvents(t.metric, cells, statistic)
	return t.overEvents(name, cells, column, cluster, made)
}

// overEvents derives a mean over one value for each event; see frame.overEvents.
func (t *tracer) overEvents(name string, cells []*cell, column []result.TreatmentRow, cluster []int, made result.TreatmentRow) derivation.Node {
	logarithmic := made.Statistic == geometricMean
	if strings.HasPrefix(made.Method, "censored_") {
		return t.shiftedEvents(name, cells, cluster, made, logarithmic)
	}
	if usable(column) == 1 {
		at := slices.IndexFunc(column, func(e result.TreatmentRow) bool { return e.Value.OK })
		n := t.within(name, cells[at], made)
		n.U = derivation.Number(made.UMeasurement)
		return n
	}
	c := eventCell(column, cluster, logarithmic)
	groups := make([][]derivation.Node, len(column))
	for i, e := range column {
		if e.Value.OK {
			n := t.within("event", cells[i], e)
			n.U = derivation.Number(e.UMeasurement)
			groups[cluster[i]] = append(groups[cluster[i]], n)
		}
	}
	var events []derivation.Node
	for _, g := range groups {
		switch {
		case len(g) == 1:
			events = append(events, g[0])
		case len(g) > 1:
			v := c.units[len(events)].value
			n := derivation.Of("event", v, made.Unit, derivation.Mean, g...)
			if logarithmic {
				n = derivation.Formula("event", v, made.Unit, "exp(mean(logarithm))", logarithms(g))
			}
			events = append(events, n.Noting("events that share soil count once"))
		}
	}
	if made.Statistic == restrictedMean && made.Value.V == t.frame.tau {
		n := derivation.Setting(name, made.Value.V, made.Unit, "no plot ran off within the common time in any event")
		n.Inputs = events
		return n
	}
	if len(events) == 1 { // of events that share soil
		return events[0].Named(name)
	}
	return t.ofValues(name, "event", events, c, made)
}

// ofValues derives a mean over units that have nodes.
func (t *tracer) ofValues(name, item string, nodes []derivation.Node, c *cell, made result.TreatmentRow) derivation.Node {
	logarithmic := made.Statistic == geometricMean
	if c.censored() > 0 && made.Method != "bound" {
		return t.likelihood(name, nodes, c, made, logarithmic)
	}
	var n derivation.Node
	if logarithmic {
		n = derivation.Formula(name, made.Value.V, made.Unit, "exp(mean(logarithm))", logarithms(nodes))
	} else {
		n = derivation.Of(name, made.Value.V, made.Unit, derivation.Mean, nodes...)
	}
	if made.Method == "bound" {
		return n.Noting("too few values are known for more than a bound: each censored one stands at its limit")
	}
	t.interval(&n, item, nodes, c, made, logarithmic)
	return n
}

// logarithms is the list of the logarithms of values.
func logarithms(nodes []derivation.Node) derivation.Node {
	out := derivation.ListOf("logarithm", "1")
	for _, n := range nodes {
		out.Inputs = append(out.Inputs, derivation.Formula("logarithm", math.Log(*n.Value), "1", "log("+n.Name+")", n))
	}
	return out
}

// interval puts the limits beside a mean: Student's, with the error that all plots
// of a run share, which their scatter does not show.
func (t *tracer) interval(n *derivation.Node, item string, nodes []derivation.Node, c *cell, made result.TreatmentRow, logarithmic bool) {
	if len(nodes) < 2 || !made.Low.OK || !made.High.OK || made.Statistic == restrictedMean {
		return
	}
	f := t.frame
	quantile, err := inference.TQuantile(1-(1-f.level)/2, float64(len(nodes)-1))
	if err != nil {
		return
	}
	of, list := absolute, derivation.ListOf(item, made.Unit, nodes...)
	low, high := "mean("+item+") - hypot(t * sd("+item+") / sqrt(len("+item+")), z * hidden)", "mean("+item+") + hypot(t * sd("+item+") / sqrt(len("+item+")), z * hidden)"
	if logarithmic {
		of, list = relative, logarithms(nodes)
		low = "exp(mean(logarithm) - hypot(t * sd(logarithm) / sqrt(len(logarithm)), z * hidden))"
		high = "exp(mean(logarithm) + hypot(t * sd(logarithm) / sqrt(len(logarithm)), z * hidden))"
	}
	_, hidden := c.measured(of)
	inputs := []derivation.Node{
		list,
		derivation.Setting("t", quantile, "1", "quantile of Student's distribution, n - 1 degrees of freedom"),
		derivation.Setting("z", f.z, "1", "quantile of the normal distribution"),
		derivation.Setting("hidden", math.Sqrt(hidden), "", "standard uncertainty that plots of a run share, which their scatter does not show"),
	}
	limits := []derivation.Node{
		derivation.Formula("low", made.Low.V, made.Unit, low, inputs...), derivation.Formula("high", made.High.V, made.Unit, high, inputs...),
	}
	for i := range limits {
		if limits[i].Check() == nil { // bounds of equal replicates follow from the measurement alone
			n.Beside = append(n.Beside, limits[i])
		}
	}
}
