package season

import (
	"fmt"
	"math"
	"slices"

	"sheetwash/analysis/derivation"
	"sheetwash/analysis/inference"
	"sheetwash/analysis/result"
)

// shiftedEvents derives the mean of plots that events shift together, some of them
// bounds; see inference.CensoredEventMean.
func (t *tracer) shiftedEvents(name string, cells []*cell, cluster []int, made result.TreatmentRow, logarithmic bool) derivation.Node {
	groups := eventGroups(cells, cluster, logarithmic)
	e, err := inference.CensoredEventMean(boundsOf(groups, logarithmic), t.frame.level)
	if err != nil || !e.Value.OK {
		return derivation.Setting(name, made.Value.V, made.Unit, "by likelihood")
	}
	equation := "mu"
	if logarithmic {
		equation = "exp(mu)"
	}
	n := derivation.Formula(name, made.Value.V, made.Unit, equation)
	n.Source = "Lyles, Lyles and Taylor 2000"
	for _, c := range groups {
		n.Inputs = append(n.Inputs, t.plots(c)...)
	}
	// Where events differ far more than their plots the integrand is too sharp for the
	// means of equations, and the tree names the parameter alone.
	const sharpest = 600
	k := e.Tau / e.Sigma
	fit := &derivation.Fit{Parameters: []derivation.Parameter{{Name: "mu", Value: e.Mu}, {Name: "sigma", Value: e.Sigma}}}
	if slices.ContainsFunc(groups, func(c *cell) bool { return knownUnits(c) > 1 }) {
		fit.Parameters = append(fit.Parameters, derivation.Parameter{Name: "tau", Value: e.Tau})
		if e.Tau < 1e-6*e.Sigma {
			fit.Parameters[2].Held = "events differ no more than their plots let expect: the least is at zero"
		}
		for _, c := range groups {
			t.shifted(fit, c, logarithmic)
		}
	} else { // no event tells its plots' scatter from its own: each plot for itself
		for _, c := range groups {
			for _, b := range c.bounds(logarithmic) {
				datum, term, _ := censoredDatum(b, e.Mu, e.Sigma)
				fit.Data, fit.Terms = append(fit.Data, datum), append(fit.Terms, term)
			}
		}
	}
	fit.Objective, err = fit.At(nil)
	plots := 0
	for _, c := range groups {
		plots = max(plots, len(c.units))
	}
	if err != nil || math.IsNaN(fit.Objective) || math.IsInf(fit.Objective, 0) || float64(plots)*k*k > sharpest {
		n.Inputs = append(n.Inputs, derivation.Setting("mu", e.Mu, "", "of the largest likelihood of all plots"))
		return n
	}
	n.Fit = fit
	return n
}

func knownUnits(c *cell) int {
	n := 0
	for _, u := range c.units {
		if closed(u) {
			n++
		}
	}
	return n
}

// shifted adds an event to the likelihood: minus the logarithm of the integral, over the shift tau u of
// the event, of the densities and probabilities of its plots. Without bounds the integral is known.
func (t *tracer) shifted(fit *derivation.Fit, c *cell, logarithmic bool) {
	var datum derivation.Datum
	nodes, bounds := t.plots(c), c.bounds(logarithmic)
	var seen []derivation.Node
	for i, b := range bounds {
		if b.Observed() {
			seen = append(seen, nodes[i])
		}
	}
	term, inside := "", ""
	if n := len(seen); n > 0 {
		list := derivation.ListOf("plot", "", seen...)
		if logarithmic {
			list = logarithms(seen)
		}
		y := make([]float64, n)
		for i := range list.Inputs {
			y[i] = *list.Inputs[i].Value
		}
		m, _ := inference.Mean(y)
		ss := 0.0
		for _, v := range y {
			ss += (v - m.V) * (v - m.V)
		}
		datum = append(datum,
			derivation.Formula("seen", float64(n), "1", "len("+list.Name+")", list),
			derivation.Of("average", m.V, "", derivation.Mean, list.Inputs...),
			derivation.Value("squares", ss, "").Noting("about the average"))
		term = "seen * log(sigma) + squares / (2 * sigma * sigma)"
		if n == len(bounds) {
			term += " + log(1 + seen * pow(tau / sigma, 2)) / 2 + seen * pow(average - mu, 2) / (2 * (sigma * sigma + seen * tau * tau))"
			fit.Data, fit.Terms = append(fit.Data, datum), append(fit.Terms, term)
			return
		}
		term += " "
		inside = "exp(-seen * pow((average - mu - tau * u) / sigma, 2) / 2)"
	}
	for k, o := range countBounds(bounds) {
		number := func(word string) string { // the first reads as words
			if k == 0 {
				return word
			}
			return fmt.Sprintf("%s_%d", word, k+1)
		}
		beyond := func(word string, v float64) string {
			datum = append(datum, derivation.Value(number(word), v, ""))
			return "(" + number(word) + " - mu - tau * u) / (sigma * sqrt(2))"
		}
		p := ""
		switch {
		case math.IsInf(o.High, 1) && math.IsInf(o.Low, -1):
			continue
		case math.IsInf(o.High, 1):
			p = "erfc(" + beyond("at_least", o.Low) + ") / 2"
		case math.IsInf(o.Low, -1):
			p = "erfc(-" + beyond("at_most", o.High) + ") / 2"
		default:
			p = "erfc(" + beyond("at_least", o.Low) + ") / 2 - erfc(" + beyond("at_most", o.High) + ") / 2"
		}
		if o.n > 1 {
			datum = append(datum, derivation.Value(number("plots"), float64(o.n), "1"))
			p = "pow(" + p + ", " + number("plots") + ")"
		} else if math.IsInf(o.High, 1) == math.IsInf(o.Low, -1) {
			p = "(" + p + ")"
		}
		if inside != "" {
			inside += " * "
		}
		inside += p
	}
	if inside == "" { // nothing is known of the event
		return
	}
	fit.Data, fit.Terms = append(fit.Data, datum), append(fit.Terms, term+"- log(normal_mean(u, "+inside+"))")
}

// countedBounds is a bound with how many plots have it.
type countedBounds struct {
	inference.Bounds
	n int
}

// countBounds counts the values that are no points, each bound once.
func countBounds(bounds []inference.Bounds) []countedBounds {
	var out []countedBounds
	for _, b := range bounds {
		if b.Observed() {
			continue
		}
		at := slices.IndexFunc(out, func(o countedBounds) bool { return o.Bounds == b })
		if at < 0 {
			at = len(out)
			out = append(out, countedBounds{Bounds: b})
		}
		out[at].n++
	}
	return out
}
