package season

import (
	"math"
	"slices"
	"strings"

	"sheetwash/analysis/derivation"
	"sheetwash/analysis/inference"
	"sheetwash/analysis/result"
)

// Comparison derives a row of comparisons; false where it is not known how.
func (d *Deriver) Comparison(r *result.ComparisonRow) (derivation.Node, bool) {
	if !r.Value.OK {
		return derivation.Empty(r.Effect, r.Unit), true
	}
	for _, s := range d.scopes {
		if s.name != r.Scope {
			continue
		}
		if d.families[s.name] == nil {
			d.families[s.name] = s.families(d.ranking)
		}
		for _, m := range d.families[s.name] {
			if m.info.ID != r.Metric {
				continue
			}
			p := pairing{tracer: tracer{Deriver: d, metric: m.info, frame: d.frame}, name: r.Effect, row: r}
			if n, ok, known := p.beside(m); known {
				return n, ok
			}
			x := slices.IndexFunc(m.sides, func(d side) bool { return d.label == r.Treatment })
			y := slices.IndexFunc(m.sides, func(d side) bool { return d.label == r.Reference })
			if x < 0 || y < 0 {
				continue
			}
			return p.over(m, m.sides[x].cells, m.sides[y].cells)
		}
	}
	return derivation.Node{}, false
}

// pairing derives the comparison of two treatments.
type pairing struct {
	tracer
	name string
	row  *result.ComparisonRow
	log  bool // of logarithms, for a ratio
}

// method is the method of the row without what it is of: paired_t of paired_t_log:by_soil.
func (p *pairing) method() string {
	name, _, _ := strings.Cut(p.row.Method, ":")
	return strings.TrimSuffix(name, "_log")
}

// over follows frame.pairWithin and frame.pairOver.
func (p *pairing) over(m *family, xs, ys []*cell) (derivation.Node, bool) {
	p.log = p.row.Effect == ratio
	if m.single {
		return p.within(xs[0], ys[0])
	}
	var a, b []*cell
	for e := range xs {
		if usableCell(xs[e]) && usableCell(ys[e]) {
			a, b = append(a, xs[e]), append(b, ys[e])
		}
	}
	if len(a) < 2 {
		xs, ys = slices.DeleteFunc(slices.Clone(xs), unusable), slices.DeleteFunc(slices.Clone(ys), unusable)
		if len(a) == 1 && (len(xs) < 2 || len(ys) < 2) {
			return p.within(a[0], b[0])
		}
		return p.apart(p.means("treatment", xs), p.means("reference", ys), eventBounds(xs, p.log), eventBounds(ys, p.log))
	}
	cluster := clusters(a, b)
	if slices.Max(cluster) == 0 {
		return p.within(merge(a), merge(b))
	}
	return p.events(a, b, cluster)
}

// within follows frame.pairWithin.
func (p *pairing) within(x, y *cell) (derivation.Node, bool) {
	switch p.method() {
	case "mann_whitney":
		treatment, reference := derivation.ListOf("treatment", p.row.Unit, p.plots(x)...), derivation.ListOf("reference", p.row.Unit, p.plots(y)...)
		n := derivation.Formula(p.name, p.row.Value.V, p.row.Unit, "median_difference(treatment, reference)", treatment, reference)
		n.Source = "Hodges and Lehmann 1963"
		return n, true
	case "paired_t", "censored_pairs":
		a, b, _ := matched(x, y)
		return p.paired(a, b)
	}
	return p.apart(p.plots(x), p.plots(y), x.bounds(p.log), y.bounds(p.log))
}

// apart is a comparison of values that do not belong together in pairs. Of a ratio,
// bounds are those of logarithms; nodes of event means are logarithms themselves.
func (p *pairing) apart(xs, ys []derivation.Node, x, y []inference.Bounds) (derivation.Node, bool) {
	if all := slices.Concat(x, y); slices.ContainsFunc(all, func(b inference.Bounds) bool { return !b.Observed() }) {
		return p.censored(xs, ys, x, y)
	}
	equation := "mean(treatment) - mean(reference)"
	if p.log {
		equation = "exp(mean(treatment) - mean(reference))"
	}
	n := derivation.Formula(p.name, p.row.Value.V, p.row.Unit, equation, p.list("treatment", xs), p.list("reference", ys))
	return n, true
}

// list is a list of values, or of their logarithms for a ratio.
func (p *pairing) list(name string, nodes []derivation.Node) derivation.Node {
	if !p.log || len(nodes) > 0 && nodes[0].Name == logMean {
		return derivation.ListOf(name, "", nodes...)
	}
	return logarithms(nodes).Named(name)
}

// logMean names the mean of logarithms of an event.
const logMean = "mean_logarithm"

// means are the means of events, of logarithms for a ratio; see cell.meanKnown.
func (p *pairing) means(name string, cells []*cell) []derivation.Node {
	out := make([]derivation.Node, len(cells))
	for i, c := range cells {
		out[i] = p.mean(name, c)
	}
	return out
}

func (p *pairing) mean(name string, c *cell) derivation.Node { return p.meanGiven(name, c, 0) }

// meanGiven is the mean of an event, with the scatter of plots where it is known
// from cells without bounds; see cell.meanGiven.
func (p *pairing) meanGiven(name string, c *cell, variance float64) derivation.Node {
	known := c.meanGiven(p.log, variance)
	nodes := p.plots(c)
	if p.log {
		name = logMean
	}
	switch {
	case c.censored() > 0 && known.Observed() && len(nodes) > 1:
		if f, ok := p.meanFit(c, known.Low, variance); ok {
			n := derivation.Formula(name, known.Low, "", "mu", nodes...)
			n.Fit = f
			return n
		}
		n := derivation.Setting(name, known.Low, "", "by likelihood; a bound lies too far out for its term to be written")
		n.Inputs = nodes
		return n
	case c.censored() > 0:
		v := known.Low
		if !known.Observed() && known.High < v || v < -maxBound {
			v = known.High
		}
		n := derivation.Setting(name, v, "", "a bound: the values are known as bounds only")
		n.Inputs = nodes
		return n
	}
	if p.log {
		return derivation.Formula(name, known.Low, "", "mean(logarithm)", logarithms(nodes))
	}
	return derivation.Of(name, known.Low, p.metric.SI, derivation.Mean, nodes...)
}

// meanFit is the likelihood of a mean: with the scatter that is given, or with its own.
func (p *pairing) meanFit(c *cell, mu, variance float64) (*derivation.Fit, bool) {
	b := c.bounds(p.log)
	if m, err := inference.CensoredPointGiven(b, math.Sqrt(variance)); variance > 0 && err == nil && m.OK {
		f := &derivation.Fit{Parameters: []derivation.Parameter{
			{Name: "mu", Value: mu}, {Name: "sigma", Value: math.Sqrt(variance), Held: "scatter of plots within events, pooled over the cells without bounds"},
		}}
		for _, x := range b {
			datum, term, v := censoredDatum(x, mu, math.Sqrt(variance))
			f.Data, f.Terms, f.Objective = append(f.Data, datum), append(f.Terms, term), f.Objective+v
		}
		return f, !math.IsInf(f.Objective, 0)
	}
	return likelihoodFit(b, p.frame.level)
}

// maxBound is beyond every value, short of infinity.
const maxBound = 1e300
