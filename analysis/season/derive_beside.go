package season

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"sheetwash/analysis/derivation"
	"sheetwash/analysis/inference"
)

// beside derives a statement that stands beside the comparisons; known is false
// for a comparison itself. See family.beside.
func (p *pairing) beside(m *family) (n derivation.Node, ok, known bool) {
	p.log = p.row.Effect == ratio
	side := func(label string) int {
		return slices.IndexFunc(m.sides, func(d side) bool { return d.label == label })
	}
	x, y := side(p.row.Treatment), side(p.row.Reference)
	switch {
	case p.row.Flags.Has(FlagBetweenCrews):
		n, ok = p.party(m, crews)
	case p.row.Flags.Has(FlagBetweenSimulators):
		n, ok = p.party(m, simulators)
	case x < 0 || y < 0:
		return n, false, false
	case p.row.Effect == hazardRatio:
		a, b, _ := both(m.sides[x], m.sides[y])
		n, ok = p.hazard(a, b)
	case p.row.Flags.Has(FlagTrend):
		a, b, at := both(m.sides[x], m.sides[y])
		n, ok = p.trend(m, a, b, at)
	case p.row.Flags.Has(FlagSecondModel):
		d := m.model(nil)
		l := make([]float64, d.columns)
		l[d.column(x)], l[d.column(y)] = 1, -1
		n, ok = p.model(m, d, l)
	default:
		return n, false, false
	}
	return n, ok, true
}

// hazard is the least penalised partial likelihood with its sign turned; see inference.FirthHazardRatio.
func (p *pairing) hazard(a, b []*cell) (derivation.Node, bool) {
	h := hazardsOf(a, b)
	r, err := inference.FirthHazardRatio(h.time, h.event, h.first, h.stratum, p.frame.level)
	if err != nil || !r.Value.OK {
		return derivation.Node{}, false
	}
	beta := math.Log(r.Value.V)
	f := &derivation.Fit{Parameters: []derivation.Parameter{{Name: "beta", Value: beta}}}
	var information []string
	info := 0.0
	for i, s := range r.Risks {
		k := strconv.Itoa(i + 1)
		f.Data = append(f.Data, derivation.Datum{
			derivation.Setting("share", s.Share, "1", "of the treatment in the plots that ran off then"),
			derivation.Setting("treatment", s.First, "1", "its plots that had not run off"),
			derivation.Setting("reference", s.Second, "1", "likewise; of plots that ran off together each takes its part away (Efron 1977)"),
		})
		f.Terms = append(f.Terms, "log(treatment * exp(beta) + reference) - share * beta")
		e := s.First * math.Exp(beta)
		f.Objective += math.Log(e+s.Second) - s.Share*beta
		info += e * s.Second / ((e + s.Second) * (e + s.Second))
		f.Constants = append(f.Constants, derivation.Setting("treatment_"+k, s.First, "1", ""), derivation.Setting("reference_"+k, s.Second, "1", ""))
		information = append(information, "treatment_"+k+" * exp(beta) * reference_"+k+" / pow(treatment_"+k+" * exp(beta) + reference_"+k+", 2)")
	}
	f.Penalty = "-log(" + strings.Join(information, " + ") + ") / 2"
	f.Objective -= math.Log(info) / 2
	var xs, ys []derivation.Node
	for e := range a {
		xs, ys = append(xs, p.plots(a[e])...), append(ys, p.plots(b[e])...)
	}
	n := derivation.Formula(p.name, p.row.Value.V, p.row.Unit, "exp(beta)", derivation.ListOf("treatment", "min", xs...), derivation.ListOf("reference", "min", ys...))
	n.Fit, n.Source = f, "Cox 1972; Firth 1993; Heinze and Schemper 2001"
	return n, true
}

// trend is a weighted line of the effects of events on their dates; see frame.trend.
func (p *pairing) trend(m *family, a, b []*cell, at []int) (derivation.Node, bool) {
	t := m.trend(a, b, at)
	if t.why != nil {
		return derivation.Node{}, false
	}
	nodes, ok := p.differences(a, b, newEffects(a, b, clusters(a, b), t.logs), clusters(a, b))
	if !ok || len(nodes) != len(t.y) {
		return derivation.Node{}, false
	}
	var intercept, slope, tau2 float64
	if t.v == nil {
		l, err := inference.LinearRegression(t.x, t.y, p.frame.level)
		if err != nil || !l.Slope.Value.OK {
			return derivation.Node{}, false
		}
		intercept, slope = l.Intercept.Value.V, l.Slope.Value.V
	} else {
		r, err := inference.PoolTrend(t.y, t.v, t.x, true, p.frame.level)
		if err != nil || !r.Slope.Value.OK {
			return derivation.Node{}, false
		}
		intercept, slope, tau2 = r.Intercept.Value.V, r.Slope.Value.V, r.Tau2.V
	}
	f := &derivation.Fit{Parameters: []derivation.Parameter{{Name: "start", Value: intercept}, {Name: "slope", Value: slope}}}
	term := "pow(effect - start - slope * months, 2)"
	if t.v != nil {
		f.Parameters = append(f.Parameters, derivation.Parameter{Name: "tau2", Value: tau2, Held: "variance of events about the line, by the moments of their weighted squares (DerSimonian and Laird)"})
		term += " / (variance + tau2)"
	}
	for i := range t.y {
		d := derivation.Datum{nodes[i].Named("effect"), derivation.Setting("months", t.x[i], "1", "days since the first event over 30")}
		e := t.y[i] - intercept - slope*t.x[i]
		w := 1.0
		if t.v != nil {
			d = append(d, derivation.Setting("variance", t.v[i], "", "of an event, from the scatter of its plots, pooled over all cells"))
			w = 1 / (t.v[i] + tau2)
		}
		f.Data, f.Terms = append(f.Data, d), append(f.Terms, term)
		f.Objective += w * e * e
	}
	n := derivation.Formula(p.name, p.row.Value.V, p.row.Unit, p.exp("slope"), derivation.ListOf("effects", "", nodes...))
	n.Fit, n.Source = f, "Thompson and Sharp 1999; Knapp and Hartung 2003 for the interval"
	return n, true
}

// party is the difference of two crews or simulators; see family.parties.
func (p *pairing) party(m *family, of parties) (derivation.Node, bool) {
	d := m.model(func(e int) string { return of.of(m.about[e]).known() })
	l := make([]float64, d.columns)
	for sign, label := range map[float64]string{1: p.row.Treatment, -1: p.row.Reference} {
		if i := d.party(strings.TrimPrefix(label, of.word+":")); i >= 0 {
			l[i] = sign
		}
	}
	return p.model(m, d, l)
}

// model is a contrast of the coefficients of a mixed model: those are least squares
// with the covariances that its variances give; see inference.MixedEvents.
func (p *pairing) model(m *family, d modelData, l []float64) (derivation.Node, bool) {
	fit, err := inference.MixedEvents(d.cells, d.within)
	if err != nil || len(fit.Coefficients) != d.columns {
		return derivation.Node{}, false
	}
	f := &derivation.Fit{}
	var contrast []string
	for j, v := range fit.Coefficients {
		name := "b_" + strconv.Itoa(j+1)
		f.Parameters = append(f.Parameters, derivation.Parameter{Name: name, Value: v})
		switch l[j] {
		case 1:
			contrast = append([]string{name}, contrast...)
		case -1:
			contrast = append(contrast, "- "+name)
		}
	}
	const how = "by restricted likelihood of all cells, given which the coefficients are those of least squares"
	f.Parameters = append(f.Parameters,
		derivation.Parameter{Name: "tau2", Value: fit.BetweenEvents, Held: "variance of events, " + how},
		derivation.Parameter{Name: "omega2", Value: fit.Interaction, Held: "variance of treatments within events, likewise"},
		derivation.Parameter{Name: "s2", Value: fit.Plots, Held: "variance of plots within both, likewise"})
	var means []derivation.Node
	for e := range d.events {
		var datum derivation.Datum
		var squares, weighted, weights []string
		var ss, sr, sw float64
		for i, c := range d.cells {
			if c.Event != e {
				continue
			}
			k := strconv.Itoa(len(datum)/2 + 1)
			node := p.meanGiven("mean", d.of[i], d.given)
			means = append(means, node)
			datum = append(datum, node.Named("y_"+k), derivation.Setting("n_"+k, float64(c.N), "1", "plots"))
			fixed, at := "", 0.0
			for j, x := range c.X {
				if x != 0 {
					fixed += " - b_" + strconv.Itoa(j+1)
					at += fit.Coefficients[j]
				}
			}
			v := "(omega2 + s2 / n_" + k + ")"
			variance := fit.Interaction + fit.Plots/float64(c.N)
			r := c.Mean - at
			ss, sr, sw = ss+r*r/variance, sr+r/variance, sw+1/variance
			squares = append(squares, "pow(y_"+k+fixed+", 2) / "+v)
			weighted, weights = append(weighted, "(y_"+k+fixed+") / "+v), append(weights, "1 / "+v)
		}
		term := strings.Join(squares, " + ") + " - tau2 / (1 + tau2 * (" + strings.Join(weights, " + ") + ")) * pow(" + strings.Join(weighted, " + ") + ", 2)"
		f.Data, f.Terms = append(f.Data, datum), append(f.Terms, term)
		f.Objective += ss - fit.BetweenEvents/(1+fit.BetweenEvents*sw)*sr*sr
	}
	if math.IsNaN(f.Objective) || math.IsInf(f.Objective, 0) {
		return derivation.Node{}, false
	}
	n := derivation.Formula(p.name, p.row.Value.V, p.row.Unit, p.exp(strings.Join(contrast, " ")), derivation.ListOf("cells", "", means...))
	n.Fit, n.Source = f, "Patterson and Thompson 1971; Giesbrecht and Burns 1985 for the degrees of freedom"
	return n, true
}
