package erosion

import (
	"math"

	"sheetwash/analysis/derivation"
	"sheetwash/analysis/result"
)

// withoutDissolved is the mass of a pool less what the supply water left in its dish.
func (d *Derivations) withoutDissolved(k int, dish derivation.Node, dry float64) derivation.Node {
	p := &d.l.pools[k]
	ml := derivation.Setting("volume", p.bottleML, "mL", "of the bottle")
	if !(d.l.in.Metered && p.bottleML > 0) {
		ml = derivation.Of("volume", p.caughtML, "mL", derivation.Sum, d.caughtIn(k)...)
	}
	dissolved := derivation.Read("dissolved", d.l.in.DissolvedGL.V, "g/L", -1, place(d.l.in.Run.Place, "dissolved_solids"))
	n := derivation.Formula("mass", p.massG, "g", "dish - dissolved * max(0, volume - dish / 2.65) / 1000", dish, dissolved, ml)
	n.Note = "less what the supply water left in the dish"
	return n
}

// caughtIn are the volumes that were caught in the interval of a pool.
func (d *Derivations) caughtIn(k int) []derivation.Node {
	var out []derivation.Node
	for i := range d.l.pieces {
		if q := &d.l.pieces[i]; q.pool == k && q.collected {
			out = append(out, d.piece(i))
		}
	}
	return out
}

// analyteConc is the concentration of an analyte in a bottle.
func (d *Derivations) analyteConc(name string, k int) derivation.Node {
	p := &d.l.pools[k]
	s := &d.l.in.Plot.Samples[d.samples[k]]
	for _, a := range s.Analytes {
		if a.Name != d.analyte {
			continue
		}
		of := newAnalyte(a)
		read := derivation.Read("read", a.Value, a.Unit, -1, place(s.Place, "analyte_"+a.Name))
		if of.Factor == 1 {
			return read.Named(name)
		}
		return derivation.Formula(name, p.conc, of.Unit, "read * factor", read, derivation.Setting("factor", of.Factor, "", "conversion of the unit"))
	}
	return derivation.Setting(name, p.conc, "", "")
}

// DeriveAnalyte returns the derivation of a row of AppendAnalyteRows; false where
// there is none of its metric.
func DeriveAnalyte(a Analyte, in Input, flow []derivation.Node, row *result.PlotRow) (derivation.Node, bool) {
	if row.Metric != a.LoadMetric() && row.Metric != a.ConcentrationMetric() {
		return derivation.Node{}, false
	}
	name := string(row.Metric)
	if in.NoRunoff {
		return derivation.Setting(name, 0, row.Unit, "nothing ran off"), true
	}
	d := &Derivations{l: newAnalyteLoad(a, &in), flow: flow, analyte: a.Name}
	d.area = derivation.Read("area", in.Plot.AreaM2, "m2", in.Plot.AreaM2*in.Errors.AreaRel, place(in.Plot.Place, "area"))
	l := &d.l
	if in.Flow == nil || len(l.pools) == 0 {
		return derivation.Empty(name, row.Unit), true
	}
	l.cut()
	l.concentrations()
	l.spread()
	d.matchSamples()
	load := derivation.Of("load", l.massG+l.loose, a.MassUnit, derivation.Sum, d.masses(true)...)
	for i := range load.Inputs {
		load.Inputs[i].Unit = a.MassUnit
	}
	switch {
	case row.Metric == a.ConcentrationMetric():
		return derivation.Formula(name, row.Value.V, row.Unit, "1000 * load / volume", load, derivation.Of("volume", l.totalML, "mL", derivation.Sum, flow...)), true
	case row.Method == MethodLoadOverArea:
		return derivation.Formula(name, row.Value.V, row.Unit, "load / area", load, d.area), true
	}
	return load.Named(name), true
}

// fluxExponent follows the method of its name.
func (d *Derivations) fluxExponent(name string, v float64) derivation.Node {
	l := &d.l
	x, y := derivation.ListOf("log_rate", "1"), derivation.ListOf("log_flux", "1")
	for i := range l.pieces {
		q := &l.pieces[i]
		f := &l.in.Flow[q.flow]
		if !l.ownFlux(q) || f.EndMin > l.in.Run.RainMin+2*math.Sqrt2*l.in.Errors.BottleChange+sameMin {
			continue
		}
		minutes := f.EndMin - f.StartMin
		rate := derivation.Formula("rate", q.ml/minutes, "mL/min", "volume / minutes", d.piece(i), derivation.Setting("minutes", minutes, "min", "of the interval"))
		x.Inputs = append(x.Inputs, derivation.Formula("log_rate", math.Log(*rate.Value), "1", "log(rate)", rate))
		y.Inputs = append(y.Inputs, derivation.Formula("log_flux", math.Log(*rate.Value*q.conc), "1", "log(rate * concentration)", rate.Again("rate"), d.pieceConcentration(i)))
	}
	n := derivation.Formula(name, v, "1", "line_slope(log_rate, log_flux)", x, y)
	n.Source = "power law between sediment and water discharge, least squares"
	return n
}

// erodibility follows the method of its name.
func (d *Derivations) erodibility(name, method string, v float64, rain func(from, to float64) derivation.Node) derivation.Node {
	l := &d.l
	in := l.in
	if in.NoRunoff {
		return derivation.Setting(name, 0, "kg.s/m4", "nothing ran off")
	}
	w := l.late()
	sediment := derivation.Of("sediment", w.massG, "g", derivation.Sum)
	water := derivation.Of("suspension", w.ml, "mL", derivation.Sum)
	lengths := derivation.Of("minutes", w.minutes, "min", derivation.Sum)
	last := -1
	for i := range l.pieces {
		q := &l.pieces[i]
		f := &in.Flow[q.flow]
		if f.StartMin < in.Late.StartMin-sameMin || f.EndMin > in.Late.EndMin+sameMin || !q.collected {
			continue
		}
		if q.flow != last {
			lengths.Inputs = append(lengths.Inputs, derivation.Setting("length", f.EndMin-f.StartMin, "min", number(f.StartMin)+" to "+number(f.EndMin)+" min"))
			last = q.flow
		}
		if q.ml == 0 {
			continue
		}
		water.Inputs = append(water.Inputs, d.piece(i))
		sediment.Inputs = append(sediment.Inputs, derivation.Formula("mass", q.conc*q.ml/1000, "g", "concentration * volume / 1000", d.pieceConcentration(i), d.piece(i)))
	}
	u := in.Plot.USlope
	if u == 0 {
		u = l.in.Errors.Slope
	}
	slope := derivation.Read("slope", in.Plot.Slope.V, "1", u, place(in.Plot.Place, "slope"))
	sin := derivation.Formula("sine", sine(in.Plot.Slope.V), "1", "slope / sqrt(1 + slope * slope)", slope)
	factor := derivation.Formula("slope_factor", InterrillSlopeFactor(in.Plot.Slope.V), "1", "1.05 - 0.85 * exp(-4 * sine)", sin)
	intensity := rain(in.Late.StartMin, in.Late.EndMin)
	var n derivation.Node
	if method == MethodRainSquared {
		n = derivation.Formula(name, v, "kg.s/m4", "sediment / 1000 / (60 * minutes * area) / (intensity / 3600000 * (intensity / 3600000) * slope_factor)",
			sediment, lengths, d.area, intensity, factor)
		n.Source = "Liebenow et al. 1990"
	} else {
		n = derivation.Formula(name, v, "kg.s/m4", "1000 * sediment / suspension / (intensity / 3600000 * slope_factor)", sediment, water, intensity, factor)
		n.Source = "Kinnell 1993"
	}
	n.Note = "over the last intervals by the end of rain, " + number(in.Late.StartMin) + " to " + number(in.Late.EndMin) + " min"
	return n
}
