package infiltration

import (
	"regexp"
	"strings"

	"sheetwash/analysis/derivation"
	"sheetwash/analysis/internal/fit"
)

// written is a model as equations over its parameters, with the intensity i, mm/h,
// and the times t1 and t2 at which an interval begins and ends, h.
type written struct {
	source      string
	parameters  []string // names of the coordinates
	units       []string
	definitions []derivation.Definition // of what does not depend on an interval, the time of ponding wet last
	after       string                  // depth after ponding, m being the time since
	rows        map[string]string       // of the fits table; ends holds the end of rain, h, total the depth until then
}

// writtenModels holds the equations of the models of Models.
func writtenModels() map[string]written {
	def := func(pairs ...string) []derivation.Definition {
		var out []derivation.Definition
		for i := 0; i < len(pairs); i += 2 {
			out = append(out, derivation.Definition{Name: pairs[i], Equation: pairs[i+1]})
		}
		return out
	}
	lewis := written{
		source: "Kostiakov 1932; Lewis 1937", parameters: []string{"tp", "b", "fc"}, units: []string{"h", "1", "mm/h"},
		definitions: def("t0", "i * tp / ((i - fc) / b + fc)", "wet", "tp"),
		after:       "fc * m + (i - fc) * t0 / b * (pow(1 + m / t0, b) - 1)",
		rows: map[string]string{"a": "(i - fc) / b * pow(t0, 1 - b)", "b": "b", "fc": "fc",
			CapacityAtEnd: "min(i, fc + (i - fc) * pow(1 + max(ends - tp, 0) / t0, b - 1))"},
	}
	kostiakov := lewis
	kostiakov.source, kostiakov.parameters, kostiakov.units = "Kostiakov 1932", lewis.parameters[:2], lewis.units[:2]
	kostiakov.definitions = append(def("fc", "0"), lewis.definitions...)
	return map[string]written{
		ConstantRate: {
			source: "definition", parameters: []string{"fc"}, units: []string{"mm/h"}, definitions: def("wet", "0"), after: "fc * m",
			rows: map[string]string{"fc": "fc", CapacityAtEnd: "fc"},
		},
		HortonPonding: {
			source: "Horton 1940", parameters: []string{"fc", "k", "tp"}, units: []string{"mm/h", "1/h", "h"},
			definitions: def("passed", "exp(k * min(tp, 0))", "wet", "max(tp, 0)"),
			after:       "fc * m + (i - fc) * passed * -expm1(-k * m) / k",
			rows:        map[string]string{"fc": "fc", "k": "k", CapacityAtEnd: "fc + (i - fc) * exp(-k * max(ends - tp, 0))", "f0": "fc + (i - fc) * exp(k * tp)"},
		},
		PhilipTwoTerm: {
			source: "Philip 1957", parameters: []string{"S", "A"}, units: []string{"mm/h^0.5", "mm/h"},
			definitions: def("behind", "S * S / (4 * i * (i - A))", "wet", "behind * (2 * i - A) / (i - A)"),
			after:       "S * sqrt(m + wet - behind) + A * (m + wet - behind) - i * wet",
			rows:        map[string]string{"S": "S", "A": "A", CapacityAtEnd: "min(i, S / (2 * sqrt(max(ends, wet) - behind)) + A)"},
		},
		GreenAmptModel: {
			source: "Green and Ampt 1911; Mein and Larson 1973", parameters: []string{"S", "K"}, units: []string{"mm/h^0.5", "mm/h"},
			definitions: def("psi", "S * S / (2 * K)", "fp", "S * S / (2 * (i - K))", "wet", "fp / i"),
			after:       "(psi + fp) * growth_root(fp / psi, K * m / psi)",
			rows:        map[string]string{"K": "K", "psi_dtheta": "psi", CapacityAtEnd: "min(i, K * (1 + psi / total))"},
		},
		KostiakovModel:      kostiakov,
		KostiakovLewisModel: lewis,
		SmithParlangeModel: {
			source: "Smith and Parlange 1978", parameters: []string{"S", "K"}, units: []string{"mm/h^0.5", "mm/h"},
			definitions: def("G", "S * S / (2 * K)", "wet", "-G * log1p(-K / i) / i"),
			after:       "G * decay_root(K / i, K * m / G)",
			rows:        map[string]string{"K": "K", "G": "G", CapacityAtEnd: "min(i, K / -expm1(-total / G))"},
		},
	}
}

// modelParameter returns how a parameter of one of the models of Models came about.
func (d *Derivations) modelParameter(p *Parameter) (derivation.Node, bool) {
	if p.Model == ModelAverage {
		return d.average(p)
	}
	w, known := writtenModels()[p.Model]
	data, _ := d.in.forModels()
	if !known || len(data.data) == 0 {
		return derivation.Node{}, false
	}
	r := rain{i: d.in.IntensityMMH, end: d.in.RainMin / 60}
	for _, c := range capacities() {
		if c.name != p.Model {
			continue
		}
		best := c.minimum(&data, r)
		if best.refused != nil {
			return derivation.Node{}, false
		}
		at, _ := c.parameters(best.least.At, r)
		f := d.writtenFit(&best, &w, &data, at)
		equation := w.expanded(w.rows[p.Name])
		switch p.Name {
		case PondingTime:
			equation = w.expanded("60 * max(wet, 0)")
		case "f0":
			if at[2] > 0 {
				equation = ""
			}
		}
		n := derivation.Formula(p.Name, p.Value.V, p.Unit, equation)
		n.Fit, n.Source = f, w.source
		if equation == "" || n.Check() != nil { // solved by iteration, or put on a bound
			n = derivation.Setting(p.Name, p.Value.V, p.Unit, "follows from the parameters of the fit by iteration, or lies at a bound of the model")
			n.Fit, n.Source = f, w.source
		}
		return n, true
	}
	return derivation.Node{}, false
}

// writtenFit is the fit of a model to interval means.
func (d *Derivations) writtenFit(m *minimum, w *written, in *seen, at fit.Point) *derivation.Fit {
	f := &derivation.Fit{Residual: "(infiltration - model - lag * rise) / u", Penalty: "pow(lag / lag_scale, 2)", Objective: m.least.Sum}
	for n, name := range w.parameters {
		p := derivation.Parameter{Name: name, Value: at[n], Unit: w.units[n]}
		if m.atEnd(n, m.least.At) {
			p.Held = "at a bound"
		}
		f.Parameters = append(f.Parameters, p)
	}
	lag := derivation.Parameter{Name: "lag", Value: m.lagMin, Unit: "min"}
	if m.lagMin == 0 {
		lag.Held = "at a bound"
	}
	f.Parameters = append(f.Parameters, lag)
	f.Constants = []derivation.Node{
		d.nodes.Intensity.Named("i"), derivation.Setting("ends", d.in.RainMin/60, "h", "end of rain"),
		minutes("lag_scale", lagScaleMin, "1 mm of flowing water at 80 mm/h"),
	}
	f.Definitions = append(f.Definitions, w.definitions...)
	for _, k := range []string{"1", "2"} {
		time := map[string]string{"1": "start / 60", "2": "stop / 60"}[k]
		f.Definitions = append(f.Definitions,
			derivation.Definition{Name: "t" + k, Equation: time},
			derivation.Definition{Name: "m" + k, Equation: "max(t" + k + " - wet, 0)"},
			derivation.Definition{Name: "depth" + k, Equation: "i * min(t" + k + ", wet) + " + since(w.after, "m"+k)})
	}
	f.Definitions = append(f.Definitions, derivation.Definition{Name: "model", Equation: "(depth2 - depth1) / (t2 - t1)"})
	for n, m := range in.data {
		rise := derivation.Setting("rise", in.rise[n], "mm/h/min", "of the runoff rate over the interval, as the curve of the headline has it")
		f.Data = append(f.Data, derivation.Datum{minutes("start", m.Start, ""), minutes("stop", m.End, ""), d.node(m), rise, uncertainty(m)})
	}
	return f
}

var identifier = regexp.MustCompile(`[A-Za-z_][A-Za-z_0-9]*`)

// since puts another expression in place of m, the time since ponding.
func since(equation, m string) string {
	return identifier.ReplaceAllStringFunc(equation, func(name string) string {
		if name == "m" {
			return m
		}
		return name
	})
}

// expanded writes an equation of a row over the parameters alone.
func (w *written) expanded(equation string) string {
	if equation == "" {
		return ""
	}
	meaning := map[string]string{"total": "(i * min(ends, wet) + " + since(w.after, "max(ends - wet, 0)") + ")"}
	for _, def := range w.definitions {
		meaning[def.Name] = "(" + def.Equation + ")"
	}
	for range len(meaning) + 1 {
		equation = identifier.ReplaceAllStringFunc(equation, func(name string) string {
			if m, ok := meaning[name]; ok {
				return m
			}
			return name
		})
	}
	return strings.TrimSpace(equation)
}

// average is the capacity at the end of rain over the models with their weights.
func (d *Derivations) average(p *Parameter) (derivation.Node, bool) {
	weights, values := derivation.ListOf("weight", "1"), derivation.ListOf("f_end", "mm/h")
	all := Models(d.in)
	for i := range all.Fits {
		f := &all.Fits[i]
		end := f.row(CapacityAtEnd)
		if !f.Weight.OK || !end.Value.OK {
			continue
		}
		weights.Inputs = append(weights.Inputs, derivation.Setting("weight", f.Weight.V, "1", "Akaike weight of "+f.Model+", from its sum of squares and number of parameters"))
		values.Inputs = append(values.Inputs, derivation.Setting("f_end", end.Value.V, "mm/h", "of "+f.Model+", which has a row of its own"))
	}
	n := derivation.Formula(p.Name, p.Value.V, p.Unit, "dot(weight, f_end)", weights, values)
	n.Source = "Burnham and Anderson 2002"
	return n, len(values.Inputs) > 0
}
