package season

import (
	"math"
	"strconv"
	"strings"

	"sheetwash/analysis/derivation"
	"sheetwash/analysis/inference"
	"sheetwash/analysis/result"
)

// within derives a statement within one event.
func (t *tracer) within(name string, c *cell, made result.TreatmentRow) derivation.Node {
	method, _, _ := strings.Cut(made.Method, ":")
	if t.metric.Kind == result.Skewed && made.Statistic == geometricMean {
		c = c.with(func(u unit) bool { return u.value > 0 })
	}
	nodes := t.plots(c)
	switch {
	case len(nodes) == 1 && made.Statistic == restrictedMean && *nodes[0].Value > t.frame.tau:
		return derivation.Formula(name, made.Value.V, made.Unit, "min(plot, common_time)", nodes[0],
			derivation.Setting("common_time", t.frame.tau, made.Unit, "to which all means of the scope are restricted"))
	case len(nodes) == 1:
		n := derivation.Formula(name, made.Value.V, made.Unit, "plot", nodes...)
		return n.Noting("one plot")
	}
	switch {
	case method == "modified_cox":
		list := logarithms(nodes)
		n := derivation.Formula(name, made.Value.V, made.Unit, "exp(mean(logarithm) + sd(logarithm) * sd(logarithm) / 2)", list)
		n.Source = "Olsson 2005"
		return n
	case made.Statistic == restrictedMean:
		return t.restricted(name, nodes, c, made)
	case made.Statistic == median:
		return t.median(name, nodes, c, made)
	}
	return t.ofValues(name, "plot", nodes, c, made)
}

// plots are the values of the units of a cell, each the row of a plot.
func (t *tracer) plots(c *cell) []derivation.Node {
	used := map[int]bool{}
	out := make([]derivation.Node, 0, len(c.units))
	for _, u := range c.units {
		n := derivation.Setting("plot", u.value, t.metric.SI, "mean over the runs on this soil")
		for _, i := range t.at[rowKey{u.run, t.metric.ID}] {
			r := &t.rows[i]
			if used[i] || r.Value.V != u.value || r.Method != u.method {
				continue
			}
			used[i] = true
			n.Key, n.Note = r.Key(), ""
			break
		}
		if n.Key == "" {
			t.joined(&n, u)
		}
		if u.hasU {
			v := u.u
			n.U = &v
		}
		switch u.censored {
		case result.Observed:
		default:
			n.Censored = string(u.censored)
		}
		out = append(out, n)
	}
	return out
}

// joined makes a unit the mean of the rows on its body of soil.
func (t *tracer) joined(n *derivation.Node, u unit) {
	var inputs []derivation.Node
	var sum float64
	for i := range t.rows {
		r := &t.rows[i]
		if r.Metric == t.metric.ID && r.Headline && !r.Excluded && r.Value.OK && r.ExperimentalUnit != "" && r.ExperimentalUnit == u.soil {
			inputs = append(inputs, derivation.Node{Name: "run", Value: &r.Value.V, Unit: r.Unit, U: derivation.Number(r.U), Key: r.Key()})
			sum += r.Value.V
		}
	}
	if len(inputs) > 0 && derivation.Same(sum/float64(len(inputs)), u.value) {
		n.Operation, n.Inputs = derivation.Mean, inputs
	}
}

// restricted derives the mean time within the common time of the scope: the area
// below the survival curve.
func (t *tracer) restricted(name string, nodes []derivation.Node, c *cell, made result.TreatmentRow) derivation.Node {
	if math.IsInf(t.frame.tau, 1) {
		return derivation.Of(name, made.Value.V, made.Unit, derivation.Mean, nodes...).Noting("nothing is censored: the area below the survival curve is the mean")
	}
	shares, lengths := derivation.ListOf("share", "1"), derivation.ListOf("length", "min")
	from, share := 0.0, derivation.Setting("share", 1, "1", "none has run off yet")
	for _, s := range t.curve(c) {
		if s.Time > t.frame.tau {
			break
		}
		shares.Inputs = append(shares.Inputs, share)
		lengths.Inputs = append(lengths.Inputs, derivation.Setting("length", s.Time-from, "min", "until "+figure(s.Time)+" min"))
		from, share = s.Time, step(s, share)
	}
	shares.Inputs = append(shares.Inputs, share)
	lengths.Inputs = append(lengths.Inputs, derivation.Setting("length", t.frame.tau-from, "min", "until "+figure(t.frame.tau)+" min, the common time of the scope"))
	n := derivation.Formula(name, made.Value.V, made.Unit, "dot(share, length)", shares, lengths, derivation.ListOf("plots", made.Unit, nodes...))
	n.Source = "Kaplan and Meier 1958; Irwin 1949"
	return n
}

// step is the share that has not run off after a time.
func step(s inference.SurvivalStep, before derivation.Node) derivation.Node {
	return derivation.Formula("share", s.Share, "1", "before * (at_risk - events) / at_risk", before.Again("before"),
		derivation.Setting("at_risk", float64(s.AtRisk), "1", "plots that had not run off by "+figure(s.Time)+" min, nor left before"),
		derivation.Setting("events", float64(s.Events), "1", "plots that ran off then"))
}

// curve is the survival curve of the units of a cell.
func (t *tracer) curve(c *cell) []inference.SurvivalStep {
	time, event := c.followed()
	s, err := inference.KaplanMeier(time, event, t.frame.level)
	if err != nil {
		return nil
	}
	return s.Steps
}

// median derives the time by which half of the plots ran off.
func (t *tracer) median(name string, nodes []derivation.Node, c *cell, made result.TreatmentRow) derivation.Node {
	shares := derivation.ListOf("share", "1")
	share := derivation.Setting("share", 1, "1", "none has run off yet")
	steps := t.curve(c)
	at := func(name string, min float64, note string) derivation.Node {
		for i, n := range nodes {
			if *n.Value == min {
				return nodes[i].Named(name).Noting(note)
			}
		}
		return derivation.Setting(name, min, "min", note)
	}
	for _, s := range steps {
		share = step(s, share)
		share.Note = "after " + figure(s.Time) + " min"
		shares.Inputs = append(shares.Inputs, share)
	}
	all := derivation.ListOf("plots", made.Unit, nodes...)
	v := made.Value.V
	for i, s := range steps {
		if s.Time == v {
			return derivation.Formula(name, v, made.Unit, "time", at("time", v, "the first time after which fewer than half are left, or the last that is known"), shares, all)
		}
		for _, later := range steps[i+1:] {
			if (s.Time+later.Time)/2 == v {
				n := derivation.Formula(name, v, made.Unit, "(time + later) / 2", at("time", s.Time, "just half are left from then"), at("later", later.Time, "to then"), shares, all)
				n.Source = "Brookmeyer and Crowley 1982"
				return n
			}
		}
	}
	return derivation.Formula(name, v, made.Unit, "max(plots)", all)
}

// likelihood derives the mean of values of which some are known as bounds only:
// of the values, or of their logarithms.
func (t *tracer) likelihood(name string, nodes []derivation.Node, c *cell, made result.TreatmentRow, logarithmic bool) derivation.Node {
	b := make([]inference.Bounds, len(c.units))
	for i, u := range c.units {
		b[i] = u.bounds
		if logarithmic {
			b[i] = inference.Bounds{Low: math.Inf(-1), High: math.Log(u.bounds.High)}
			if u.bounds.Low > 0 {
				b[i].Low = math.Log(u.bounds.Low)
			}
		}
	}
	f, ok := likelihoodFit(b, t.frame.level)
	if !ok {
		return derivation.Setting(name, made.Value.V, made.Unit, "by likelihood")
	}
	equation := "mu"
	if logarithmic {
		equation = "exp(mu)"
	}
	out := derivation.Formula(name, made.Value.V, made.Unit, equation, nodes...)
	out.Fit = f
	out.Source = "Cohen 1959; Tobin 1958"
	return out
}

// censoredDatum is one value of a likelihood with its term, and the term's value.
func censoredDatum(b inference.Bounds, mu, sigma float64) (derivation.Datum, string, float64) {
	upper := func(z float64) float64 { return math.Erfc(z/math.Sqrt2) / 2 }
	low, high := derivation.Setting("low", b.Low, "", "at least"), derivation.Setting("high", b.High, "", "at most")
	const above, beyond = "erfc((low - mu) / (sigma * sqrt(2))) / 2", "erfc((high - mu) / (sigma * sqrt(2))) / 2"
	switch {
	case b.Observed():
		z := (b.Low - mu) / sigma
		return derivation.Datum{low.Named("value").Noting("observed")}, "log(sigma) + pow((value - mu) / sigma, 2) / 2", math.Log(sigma) + z*z/2
	case math.IsInf(b.High, 1) && math.IsInf(b.Low, -1):
		return derivation.Datum{derivation.Setting("nothing", 0, "", "nothing is known of it")}, "nothing", 0
	case math.IsInf(b.High, 1):
		return derivation.Datum{low}, "-log(" + above + ")", -math.Log(upper((b.Low - mu) / sigma))
	case math.IsInf(b.Low, -1):
		return derivation.Datum{high}, "-log(erfc((mu - high) / (sigma * sqrt(2))) / 2)", -math.Log(upper((mu - b.High) / sigma))
	}
	return derivation.Datum{low, high}, "-log(" + above + " - " + beyond + ")", -math.Log(upper((b.Low-mu)/sigma) - upper((b.High-mu)/sigma))
}

func figure(v float64) string { return strconv.FormatFloat(v, 'g', 6, 64) }
