package erosion

import (
	"math"

	"sheetwash/analysis/derivation"
	"sheetwash/analysis/experiment"
)

// ratedConc is the concentration that the rating gives a turbidity.
func (d *Derivations) ratedConc(name string, k int) derivation.Node {
	p := &d.l.pools[k]
	s := &d.l.in.Plot.Samples[d.samples[k]]
	n := derivation.Formula(name, p.conc, "g/L", "smear * exp(a + b * (log(turbidity) - mean_log))",
		append([]derivation.Node{derivation.Read("turbidity", s.TurbidityNTU.V, "NTU", -1, place(s.Place, "turbidity"))}, d.l.in.Rating.derive(d.l.in.Errors)...)...)
	n.Source = "Rasmussen et al. 2009; Duan 1983"
	return n
}

// derive is how the parameters of the rating came about, from its pairs; of pairs that
// were not read from bottles they are settings.
func (r *Rating) derive(errs experiment.ErrorModel) []derivation.Node {
	of := "fitted to the " + number(float64(r.N)) + " bottles of the dataset that have both turbidity and sediment"
	x, y := derivation.ListOf("log_turbidity", "1"), derivation.ListOf("log_concentration", "1")
	for _, p := range r.pairs {
		if p.sample == nil {
			return []derivation.Node{derivation.Setting("smear", r.Smear, "1", of), derivation.Setting("a", r.A, "1", of), derivation.Setting("b", r.B, "1", of),
				derivation.Setting("mean_log", r.MeanLnNTU, "1", "mean logarithm of their turbidities")}
		}
		x.Inputs = append(x.Inputs, derivation.Formula("log_turbidity", math.Log(p.NTU), "1", "log(turbidity)",
			derivation.Read("turbidity", p.NTU, "NTU", -1, place(p.sample.Place, "turbidity"))))
		y.Inputs = append(y.Inputs, derivation.Formula("log_concentration", math.Log(p.GL), "1", "log(concentration)", p.concentration(errs)))
	}
	mean := derivation.Formula("mean_log", r.MeanLnNTU, "1", "mean(log_turbidity)", x)
	a := derivation.Formula("a", r.A, "1", "mean(log_concentration)", y)
	b := derivation.Formula("b", r.B, "1", "line_slope(log_turbidity, log_concentration)", x, y)
	b.Note = of
	factor := derivation.ListOf("factor", "1")
	for i, p := range r.pairs {
		e := math.Log(p.GL) - r.A - r.B*(math.Log(p.NTU)-r.MeanLnNTU)
		factor.Inputs = append(factor.Inputs, derivation.Formula("factor", math.Exp(e), "1", "exp(log_concentration - a - b * (log_turbidity - mean_log))",
			y.Inputs[i], a, b, x.Inputs[i], mean))
	}
	smear := derivation.Formula("smear", r.Smear, "1", "mean(factor)", factor)
	smear.Note = "takes back the bias of the logarithm"
	return []derivation.Node{a, b, mean, smear}
}

// concentration is that of the bottle's own sediment.
func (p *Pair) concentration(errs experiment.ErrorModel) derivation.Node {
	s := p.sample
	if s.ConcentrationGL.OK {
		return derivation.Read("concentration", p.GL, "g/L", -1, place(s.Place, "concentration"))
	}
	volume := derivation.Read("volume", s.VolumeML.V, "mL", -1, place(s.Place, "volume"))
	if !s.VolumeML.OK {
		volume = derivation.Formula("volume", s.GrossG.V-s.TareG.V, "mL", "gross - tare",
			derivation.Read("gross", s.GrossG.V, "g", errs.MassG, place(s.Place, "gross_mass")), derivation.Read("tare", s.TareG.V, "g", errs.MassG, place(s.Place, "tare_mass")))
		volume.Note = "a gram of suspension is a millilitre to a few percent"
	}
	return derivation.Formula("concentration", p.GL, "g/L", "1000 * sediment / volume", dry("sediment", s, errs), volume)
}
