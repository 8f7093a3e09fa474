package season

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"sheetwash/analysis/derivation"
	"sheetwash/analysis/inference"
)

// likelihoodFit is the fit of CensoredMean to bounds.
func likelihoodFit(b []inference.Bounds, level float64) (*derivation.Fit, bool) {
	e, err := inference.CensoredMean(b, level)
	if err != nil || !e.Value.OK || !e.SD.OK {
		return nil, false
	}
	n := float64(len(b))
	mu, sigma := e.Value.V, e.SD.V*math.Sqrt((n-1)/n)
	f := &derivation.Fit{Parameters: []derivation.Parameter{{Name: "mu", Value: mu}, {Name: "sigma", Value: sigma}}}
	for _, x := range b {
		datum, term, v := censoredDatum(x, mu, sigma)
		f.Data, f.Terms, f.Objective = append(f.Data, datum), append(f.Terms, term), f.Objective+v
	}
	return f, true
}

// censored is the difference of two means with one variance of which some values
// are known as bounds only; see inference.CensoredDifference.
func (p *pairing) censored(xs, ys []derivation.Node, x, y []inference.Bounds) (derivation.Node, bool) {
	inputs := []derivation.Node{derivation.ListOf("treatment", "", xs...), derivation.ListOf("reference", "", ys...)}
	if meanY, difference, sigma, ok := inference.CensoredParameters(x, y); ok {
		f := &derivation.Fit{Parameters: []derivation.Parameter{{Name: "mu_reference", Value: meanY}, {Name: "difference", Value: difference}, {Name: "sigma", Value: sigma}}}
		for k, sample := range [2][]inference.Bounds{x, y} {
			mu, text := meanY+difference, "(mu_reference + difference)"
			if k == 1 {
				mu, text = meanY, "mu_reference"
			}
			for _, b := range sample {
				datum, term, v := censoredDatum(b, mu, sigma)
				f.Data, f.Terms, f.Objective = append(f.Data, datum), append(f.Terms, strings.ReplaceAll(term, "mu", text)), f.Objective+v
			}
		}
		n := derivation.Formula(p.name, p.row.Value.V, p.row.Unit, p.exp("difference"), inputs...)
		n.Fit, n.Source = f, "Tobin 1958"
		if derivation.Same(p.back(difference), p.row.Value.V) {
			return n, true
		}
	}
	// A sample of one, or a bound: of the estimates for each.
	a, okA := p.alone("mean_treatment", xs, x)
	b, okB := p.alone("mean_reference", ys, y)
	if okA && okB && derivation.Same(p.back(*a.Value-*b.Value), p.row.Value.V) {
		return derivation.Formula(p.name, p.row.Value.V, p.row.Unit, p.exp("mean_treatment - mean_reference"), a, b), true
	}
	return p.bound(inputs, []inference.Bounds{meanBounds(x, y)})
}

// alone is the mean of one sample by itself.
func (p *pairing) alone(name string, nodes []derivation.Node, b []inference.Bounds) (derivation.Node, bool) {
	e, err := inference.CensoredMean(b, p.frame.level)
	if err != nil || !e.Value.OK {
		return derivation.Node{}, false
	}
	if f, ok := likelihoodFit(b, p.frame.level); ok && slices.ContainsFunc(b, func(b inference.Bounds) bool { return !b.Observed() }) {
		n := derivation.Formula(name, e.Value.V, "", "mu", nodes...)
		n.Fit = f
		return n, true
	}
	return derivation.Formula(name, e.Value.V, "", "mean(value)", p.list("value", nodes)), true
}

// exp is the equation of an effect from that on the scale of logarithms.
func (p *pairing) exp(equation string) string {
	if p.log {
		return "exp(" + equation + ")"
	}
	return equation
}

func (p *pairing) back(v float64) float64 {
	if p.log {
		return math.Exp(v)
	}
	return v
}

// bound is an effect that is known as a bound only; see outcome.bound.
func (p *pairing) bound(inputs []derivation.Node, d []inference.Bounds) (derivation.Node, bool) {
	var low, high float64
	for _, b := range d {
		low += b.Low / float64(len(d))
		high += b.High / float64(len(d))
	}
	v, note := low, "at least"
	if math.IsInf(low, 0) {
		v, note = high, "at most"
	}
	if !derivation.Same(p.back(v), p.row.Value.V) {
		return derivation.Node{}, false
	}
	limit := derivation.Setting("limit", v, "", "mean of the differences with each value at its limit: the effect is "+note+" that")
	limit.Inputs = inputs
	return derivation.Formula(p.name, p.row.Value.V, p.row.Unit, p.exp("limit"), limit), true
}

// paired is the mean of the differences of pairs.
func (p *pairing) paired(a, b []unit) (derivation.Node, bool) {
	x, y := (&cell{units: a}), (&cell{units: b})
	bx, by := x.bounds(p.log), y.bounds(p.log)
	xs, ys := p.list("treatment", p.plots(x)).Inputs, p.list("reference", p.plots(y)).Inputs
	var d []inference.Bounds
	var nodes []derivation.Node
	for i := range a {
		e := minus(bx[i], by[i])
		if math.IsInf(e.Low, -1) && math.IsInf(e.High, 1) {
			continue // both only bounded: the pair says nothing
		}
		d = append(d, e)
		v := e.Low
		if math.IsInf(v, 0) {
			v = e.High
		}
		nodes = append(nodes, derivation.Formula("difference", v, "", "treatment - reference", xs[i].Named("treatment"), ys[i].Named("reference")))
	}
	return p.shift(nodes, d, d)
}

// shift is the mean of differences that may be bounds; see frame.shift.
func (p *pairing) shift(nodes []derivation.Node, d, sure []inference.Bounds) (derivation.Node, bool) {
	list := derivation.ListOf("difference", "", nodes...)
	if !slices.ContainsFunc(d, func(b inference.Bounds) bool { return !b.Observed() }) {
		return derivation.Formula(p.name, p.row.Value.V, p.row.Unit, p.exp("mean(difference)"), list), true
	}
	if f, ok := likelihoodFit(d, p.frame.level); ok {
		n := derivation.Formula(p.name, p.row.Value.V, p.row.Unit, p.exp("mu"), list)
		n.Fit, n.Source = f, "Tobin 1958"
		if derivation.Same(p.back(f.Parameters[0].Value), p.row.Value.V) {
			return n, true
		}
	}
	return p.bound([]derivation.Node{list}, sure)
}

// events are the differences within events; see frame.pairOver.
func (p *pairing) events(a, b []*cell, cluster []int) (derivation.Node, bool) {
	e := newEffects(a, b, cluster, p.log)
	nodes, _ := p.differences(a, b, e, cluster)
	if p.method() == "random_effects_reml" || strings.HasPrefix(p.method(), "random_effects") {
		return p.pooled(nodes, e)
	}
	return p.shift(nodes, e.d, e.sure)
}

// differences are those of the means of two treatments, for each cluster of events; false
// where one event says nothing.
func (p *pairing) differences(a, b []*cell, e eventEffects, cluster []int) (nodes []derivation.Node, all bool) {
	all = true
	n := slices.Max(cluster) + 1
	groups := make([][]derivation.Node, n)
	for i := range a {
		x, y := a[i].meanGiven(p.log, e.variance), b[i].meanGiven(p.log, e.variance)
		d := minus(x, y)
		if math.IsInf(d.Low, -1) && math.IsInf(d.High, 1) {
			all = false
			continue // the event says nothing
		}
		v := d.Low
		if math.IsInf(v, 0) {
			v = d.High
		}
		treatment, reference := p.meanGiven("treatment", a[i], e.variance).Named("treatment"), p.meanGiven("reference", b[i], e.variance).Named("reference")
		node := derivation.Formula("difference", v, "", "treatment - reference", treatment, reference)
		if !derivation.Same(*treatment.Value-*reference.Value, v) {
			node = derivation.Setting("difference", v, "", "a bound")
			node.Inputs = []derivation.Node{treatment, reference}
		}
		node.Note = "of an event"
		groups[cluster[i]] = append(groups[cluster[i]], node)
	}
	for _, g := range groups {
		switch {
		case len(g) == 1:
			nodes = append(nodes, g[0])
		case len(g) > 1:
			at := len(nodes)
			v := e.d[at].Low
			if math.IsInf(v, 0) {
				v = e.d[at].High
			}
			nodes = append(nodes, derivation.Of("difference", v, "", derivation.Mean, g...).Noting("events that share soil count once"))
		}
	}
	return nodes, all
}

// pooled is the synthesis of events with random effects; see frame.pool. The
// objective is the restricted likelihood, whose mean is the effect.
func (p *pairing) pooled(nodes []derivation.Node, e eventEffects) (derivation.Node, bool) {
	y, v := make([]float64, len(e.d)), make([]float64, len(e.d))
	for i := range y {
		y[i], v[i] = e.d[i].Low, e.variance*e.share[i]
	}
	r, err := inference.Pool(y, v, inference.Pooling{Tau: inference.TauREML, HartungKnapp: true, Floor: true, Level: p.frame.level})
	if err != nil || !r.Tau2.OK {
		return derivation.Node{}, false
	}
	tau2, mu := r.Tau2.V, r.Value.V
	tau := derivation.Parameter{Name: "tau2", Value: tau2}
	if tau2 == 0 {
		tau.Held = "at zero: the events scatter no more than the plots within them"
	}
	f := &derivation.Fit{Parameters: []derivation.Parameter{{Name: "mu", Value: mu}, tau}, Terms: []string{"(log(variance + tau2) + pow(effect - mu, 2) / (variance + tau2)) / 2"}}
	var weights []string
	var total float64
	for i := range y {
		name := "variance_" + strconv.Itoa(i+1)
		f.Constants = append(f.Constants, derivation.Setting(name, v[i], "", "of an event, from the scatter of its plots, pooled over all cells"))
		weights = append(weights, "1 / ("+name+" + tau2)")
		f.Data = append(f.Data, derivation.Datum{nodes[i].Named("effect"), derivation.Setting("variance", v[i], "", "")})
		f.Objective += (math.Log(v[i]+tau2) + (y[i]-mu)*(y[i]-mu)/(v[i]+tau2)) / 2
		total += 1 / (v[i] + tau2)
	}
	for len(f.Terms) < len(f.Data) {
		f.Terms = append(f.Terms, f.Terms[0])
	}
	f.Penalty = "log(" + strings.Join(weights, " + ") + ") / 2"
	f.Objective += math.Log(total) / 2
	n := derivation.Formula(p.name, p.row.Value.V, p.row.Unit, p.exp("mu"), derivation.ListOf("effects", "", nodes...))
	n.Fit, n.Source = f, "Viechtbauer 2005 for the restricted likelihood; Hartung and Knapp 2001 for the interval"
	return n, true
}
