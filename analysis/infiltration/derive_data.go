package infiltration

import (
	"strconv"

	"sheetwash/analysis/derivation"
	"sheetwash/analysis/internal/fit"
)

// Nodes is how the input of a steady rate came about.
type Nodes struct {
	Intensity, RainMinutes derivation.Node
	Rates                  []derivation.Node // of each of Input.Intervals
	Onset                  *derivation.Node  // nil where Input has none
}

// Derivations gives the derivations of the values of an Answer.
type Derivations struct {
	in    Input
	nodes Nodes
	u     usable
	means []derivedMean
}

// derivedMean is an interval as usable has it, with its infiltration.
type derivedMean struct {
	mean fit.Mean
	node derivation.Node
}

// Derive returns the derivations of what Steady gives for the input.
func Derive(in Input, nodes Nodes) *Derivations {
	in.defaults()
	d := &Derivations{in: in, nodes: nodes}
	if !in.sound() {
		return d
	}
	d.u = in.usable()
	ordered := in.ordered()
	onset, _ := in.begin(ordered)
	for i, iv := range in.Intervals {
		rate := nodes.Rates[i]
		if iv.EndMin > in.RainMin+endSlackMin {
			if iv.StartMin >= in.RainMin {
				continue
			}
			under := in.underRain(iv)
			rate = derivation.Formula("rate", under.RateMMH, "mm/h", "(rate + rate * whole / under_rain) / 2", rate,
				minutes("whole", iv.EndMin-iv.StartMin, "of the interval"), minutes("under_rain", in.RainMin-iv.StartMin, "of the interval")).
				Noting("it reaches beyond the end of rain: between none and all of the water of that time ran off before")
			iv = under
		}
		if onset.OK && iv.StartMin < onset.V && iv.EndMin > onset.V+splitLeast*in.UOnsetMin {
			part := in.split(iv, onset.V)
			rate = derivation.Formula("rate", part.RateMMH, "mm/h", "rate * whole / part", rate,
				minutes("whole", iv.EndMin-iv.StartMin, "of the interval"), minutes("part", iv.EndMin-onset.V, "after the onset")).
				Noting("its water belongs to the time after the onset")
			iv = part
		}
		m := in.mean(iv)
		n := derivation.Formula("infiltration", m.Value, "mm/h", "intensity - rate", nodes.Intensity.Again("intensity"), rate).With(m.U)
		n.Note = "from " + number(m.Start) + " to " + number(m.End) + " min"
		d.means = append(d.means, derivedMean{m, n})
	}
	return d
}

func minutes(name string, v float64, note string) derivation.Node {
	return derivation.Setting(name, v, "min", note)
}

// node returns how the infiltration of an interval came about: one of the
// intervals, or several that were joined.
func (d *Derivations) node(m fit.Mean) derivation.Node {
	values, lengths := derivation.ListOf("infiltration", "mm/h"), derivation.ListOf("length", "min")
	for i := range d.means {
		k := &d.means[i]
		if k.mean == m {
			return k.node
		}
	}
	for _, k := range d.u.means { // joined in their order
		if k.Start >= m.Start && k.End <= m.End {
			values.Inputs = append(values.Inputs, d.node(k))
			lengths.Inputs = append(lengths.Inputs, minutes("length", k.End-k.Start, ""))
		}
	}
	if len(values.Inputs) < 2 {
		return derivation.Setting("infiltration", m.Value, "mm/h", "")
	}
	return derivation.Formula("infiltration", m.Value, "mm/h", "dot(infiltration, length) / sum(length)", values, lengths).
		With(m.U).Noting("neighbouring intervals joined, from " + number(m.Start) + " to " + number(m.End) + " min")
}

func number(v float64) string { return strconv.FormatFloat(v, 'g', 6, 64) }
