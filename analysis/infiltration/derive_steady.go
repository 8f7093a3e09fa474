package infiltration

import (
	"math"
	"slices"
	"strconv"

	"sheetwash/analysis/derivation"
	"sheetwash/analysis/internal/fit"
	"sheetwash/analysis/result"
)

// Steady returns how the steady infiltration rate by a method came about. a is
// what Steady gave for the same input.
func (d *Derivations) Steady(name, method string, a *Answer) (derivation.Node, bool) {
	var e *result.Estimate
	switch method {
	case FinalWindow:
		e = &a.Window
	case HortonCurve:
		e = &a.Horton
	default:
		return derivation.Node{}, false
	}
	if !e.Value.OK {
		return derivation.Empty(name, "mm/h"), true
	}
	var n derivation.Node
	switch {
	case !d.in.RanOff || d.u.dry:
		n = d.nodes.Intensity.Named(name)
		n.Note = "all the rain was taken in: the rate is at least its intensity"
	case len(d.u.means) == 0:
		n = d.boundOnly(name)
	case method == HortonCurve && a.Horton.Censored == result.Left && a.Horton.Flags.Has(FlagExtrapolated) && a.Horton.Flags.Has(FlagNotIdentifiable):
		n = d.lowestOf(name, slices.Concat(d.u.means, d.u.atMost))
		n.Note = "the curve would be carried on to the end of rain from fewer intervals than show its shape: the rate is at most the lowest of them"
	case method == FinalWindow:
		n = d.finalWindow(name)
	default:
		n = d.horton(name, a)
	}
	n.Method, n.U = method, derivation.Number(e.U)
	return n, true
}

// boundOnly is the lowest of what is known as bounds only.
func (d *Derivations) boundOnly(name string) derivation.Node {
	bounds := d.u.atMost
	if len(bounds) == 0 && d.u.diluted != nil {
		bounds = []fit.Mean{*d.u.diluted}
	}
	if len(bounds) == 0 {
		n := d.nodes.Intensity.Named(name)
		n.Note = "it ran off, and no interval can be used: the rate is below the intensity"
		return n
	}
	n := d.lowestOf(name, bounds)
	n.Note = "every interval with runoff is known as a bound only"
	return n
}

// lowestOf is the lowest of some intervals.
func (d *Derivations) lowestOf(name string, bounds []fit.Mean) derivation.Node {
	out := derivation.Node{Name: name, Unit: "mm/h", Operation: derivation.Least}
	least := bounds[0].Value
	for _, b := range bounds {
		out.Inputs = append(out.Inputs, d.node(b))
		least = math.Min(least, b.Value)
	}
	out.Value = &least
	return out
}

// finalWindow is the mean over the last intervals, weighted by their errors.
func (d *Derivations) finalWindow(name string) derivation.Node {
	w := d.in.finalWindow(&d.u)
	first := 0
	for d.u.means[first].Start != w.startMin {
		first++
	}
	values, weights := derivation.ListOf("infiltration", "mm/h"), derivation.ListOf("weight", "h2/mm2")
	for _, m := range d.u.means[first:] {
		values.Inputs = append(values.Inputs, d.node(m))
		weights.Inputs = append(weights.Inputs, derivation.Formula("weight", 1/(m.U*m.U), "h2/mm2", "1 / (u * u)", uncertainty(m)))
	}
	mean := lineFit(d.u.means[first:]).mean
	n := derivation.Formula(name, mean, "mm/h", "dot(weight, infiltration) / sum(weight)", weights, values)
	for _, b := range d.u.atMost {
		if b.End > w.startMin && b.Value < *n.Value {
			before := n.Named("window_mean")
			n = derivation.Formula(name, b.Value, "mm/h", "min(window_mean, bound)", before, d.node(b).Named("bound")).Noting("a bottle that overflowed says that it was less")
		}
	}
	if first > 0 {
		n.LeftOut = append(n.LeftOut, derivation.Omission{
			What: strconv.Itoa(first) + " intervals before " + number(w.startMin) + " min", Why: "the final window is the last quarter of the rain, and holds three intervals at least",
		})
	}
	n.Source = "weighted mean; Schuirmann 1987 for the verdict"
	return n
}

func uncertainty(m fit.Mean) derivation.Node {
	return derivation.Setting("u", m.U, "mm/h", "standard uncertainty of the rate, of volume and timing")
}
