package erosion

import (
	"strconv"

	"sheetwash/analysis/derivation"
	"sheetwash/analysis/experiment"
	"sheetwash/analysis/result"
	"sheetwash/analysis/water"
)

// Derivations gives the derivations of the values of a Sediment.
type Derivations struct {
	l       load
	s       *Sediment
	flow    []derivation.Node // volume of each interval of the flow
	minutes *derivation.Node  // of runoff
	samples []int             // of each pool, in plot.Samples; -1 for pools of a logger
	area    derivation.Node
	analyte string // that the pools hold in place of sediment; "": sediment
}

// Derive returns the derivations of the values that Of gave for the input. flow
// holds how the volume of each of its intervals came about, minutes the time that
// runoff lasted; nil where it is not known.
func (s *Sediment) Derive(in Input, flow []derivation.Node, minutes *derivation.Node) *Derivations {
	d := &Derivations{l: load{in: &in}, s: s, flow: flow, minutes: minutes}
	d.area = derivation.Read("area", in.Plot.AreaM2, "m2", in.Plot.AreaM2*in.Errors.AreaRel, place(in.Plot.Place, "area"))
	if in.NoRunoff {
		return d
	}
	d.l.gather()
	d.matchSamples()
	return d
}

// matchSamples finds the row of each pool: the rows that readPools and readRated
// take, by their intervals. Pools of a logger have none.
func (d *Derivations) matchSamples() {
	in := d.l.in
	taken := map[int]bool{}
	for k := range d.l.pools {
		p := &d.l.pools[k]
		d.samples = append(d.samples, -1)
		for i := range in.Plot.Samples {
			s := &in.Plot.Samples[i]
			if taken[i] || s.Stream != experiment.Runoff || s.Exclude || s.StartMin != p.start || s.EndMin != p.end {
				continue
			}
			if d.suits(p, s) {
				taken[i], d.samples[k] = true, i
				break
			}
		}
	}
}

// suits reports whether a row can be that of a pool.
func (d *Derivations) suits(p *pool, s *experiment.Sample) bool {
	_, _, weighed := dryMass(s, d.l.in.Errors)
	switch {
	case d.analyte != "":
		for _, a := range s.Analytes {
			if a.Name == d.analyte {
				return true
			}
		}
		return false
	case p.rated:
		return s.TurbidityNTU.OK
	case p.stated.OK:
		return !weighed && s.ConcentrationGL.OK && s.ConcentrationGL.V == p.stated.V
	}
	return weighed
}

// Metric returns the derivation of a value of AppendRows; false where there is
// none of that metric and method. rain is the mean intensity in the late time.
func (d *Derivations) Metric(m result.Metric, method string, value float64, rain func(from, to float64) derivation.Node) (derivation.Node, bool) {
	name := string(m)
	switch m {
	case result.SedimentFluxExponent:
		return d.fluxExponent(name, value), true
	case result.InterrillErodibility:
		return d.erodibility(name, method, value, rain), true
	case result.SedimentMass:
		return d.Mass(name), true
	case result.SoilLoss:
		return d.soilLoss(name), true
	case result.SedimentRate:
		return d.rate(name), true
	case result.SedimentConcentration:
		return d.concentration(name, method)
	}
	return derivation.Node{}, false
}

// Mass returns how the mass of the sediment came about.
func (d *Derivations) Mass(name string) derivation.Node {
	l := &d.l
	if l.in.NoRunoff {
		return derivation.Setting(name, 0, "g", "nothing ran off")
	}
	if !d.s.Mass.Value.OK {
		return derivation.Setting(name, 0, "g", "not known")
	}
	n := derivation.Of(name, d.s.Mass.Value.V, "g", derivation.Sum)
	n.U = derivation.Number(d.s.Mass.U)
	n.Inputs = d.masses(true)
	n.LeftOut = d.leftOut()
	n.Source = "Guy 1969"
	return n
}

// masses are the parts that the mass is the sum of: with the mass of pools in
// whose interval no water was caught, or without it.
func (d *Derivations) masses(all bool) []derivation.Node {
	l := &d.l
	var out []derivation.Node
	if l.in.Flow == nil {
		for k := range l.pools {
			if !l.pools[k].stated.OK {
				out = append(out, d.pool(k))
			}
		}
		return out
	}
	whole := d.caughtWhole()
	for k := range l.pools {
		if whole[k] || all && !(l.pools[k].caughtML > 0) && !l.pools[k].stated.OK {
			out = append(out, d.pool(k))
		}
	}
	for i := range l.pieces {
		q := &l.pieces[i]
		if q.ml == 0 || q.pool >= 0 && whole[q.pool] {
			continue
		}
		c := d.pieceConcentration(i)
		n := derivation.Formula("mass", q.conc*q.ml/1000, "g", "concentration * volume / 1000", c, d.piece(i))
		f := &l.in.Flow[q.flow]
		n.Note = "water from " + number(f.StartMin) + " to " + number(f.EndMin) + " min"
		out = append(out, n)
	}
	return out
}

// caughtWhole tells of each pool whether its mass is the sediment of its
// interval: it was weighed, and all of the water was caught.
func (d *Derivations) caughtWhole() []bool {
	l := &d.l
	out := make([]bool, len(l.pools))
	for k := range l.pools {
		p := &l.pools[k]
		out[k] = p.caughtML > 0 && !p.stated.OK && !(l.in.Metered && p.bottleML > 0)
	}
	for i := range l.pieces {
		if q := &l.pieces[i]; q.pool >= 0 && !q.collected && q.ml != 0 {
			out[q.pool] = false
		}
	}
	return out
}

// pool is the dry mass of a pool, less the blank.
func (d *Derivations) pool(k int) derivation.Node {
	p := &d.l.pools[k]
	s := &d.l.in.Plot.Samples[d.samples[k]]
	n := dry("mass", s, d.l.in.Errors)
	dry := *n.Value
	if p.blank {
		dry -= d.l.blankG
		n = derivation.Formula("mass", dry, "g", "dry - blank", n.Named("dry"), d.blank())
	}
	if p.dissolvedG > 0 {
		n = d.withoutDissolved(k, n.Named("dish"), dry)
	}
	n.U = &p.uG
	n.Note = "sediment from " + number(p.start) + " to " + number(p.end) + " min"
	return n
}

// blank is the mean of the run's blanks.
func (d *Derivations) blank() derivation.Node {
	n := derivation.Of("blank", d.l.blankG, "g", derivation.Mean).With(d.l.uBlankG)
	run := d.l.in.Run
	for i := range run.Blanks {
		if _, _, ok := dryMass(&run.Blanks[i], d.l.in.Errors); ok && !run.Blanks[i].Exclude {
			n.Inputs = append(n.Inputs, dry("blank", &run.Blanks[i], d.l.in.Errors))
		}
	}
	return n
}

// dry is the oven-dry sediment of a row.
func dry(name string, s *experiment.Sample, errs experiment.ErrorModel) derivation.Node {
	if s.SedimentG.OK {
		return derivation.Read(name, s.SedimentG.V, "g", errs.SedimentG, place(s.Place, "sediment_mass"))
	}
	g, u, _ := dryMass(s, errs)
	return derivation.Formula(name, g, "g", "gross - tare",
		derivation.Read("gross", s.SedimentGrossG.V, "g", errs.SedimentG, place(s.Place, "sediment_gross_mass")),
		derivation.Read("tare", s.SedimentTareG.V, "g", errs.SedimentG, place(s.Place, "sediment_tare_mass"))).With(u)
}

// piece is the volume of a part of an interval of the flow.
func (d *Derivations) piece(i int) derivation.Node {
	q := &d.l.pieces[i]
	whole := d.l.in.Flow[q.flow].VolumeML
	n := d.flow[q.flow]
	if q.ml == whole {
		return n.Named("volume")
	}
	return derivation.Formula("volume", q.ml, "mL", "of_interval * share", n.Named("of_interval"),
		derivation.Setting("share", q.ml/whole, "1", "of its time"))
}

// conc is the concentration of a pool, g/L.
func (d *Derivations) conc(name string, k int) derivation.Node {
	p := &d.l.pools[k]
	switch {
	case p.rated:
		return d.ratedConc(name, k)
	case d.analyte != "":
		return d.analyteConc(name, k)
	case p.stated.OK && d.samples[k] < 0:
		at := derivation.Place{}
		for i := range d.l.in.Plot.Series {
			if s := &d.l.in.Plot.Series[i]; s.Channel == experiment.Concentration {
				at = place(s.Place, "value")
			}
		}
		return derivation.Read(name, p.conc, "g/L", -1, at).
			Noting("mean of the readings from " + number(p.start) + " to " + number(p.end) + " min; the row is that of the channel's first")
	case p.stated.OK:
		return derivation.Read(name, p.conc, "g/L", -1, place(d.l.in.Plot.Samples[d.samples[k]].Place, "concentration"))
	case d.l.in.Metered && p.bottleML > 0:
		s := &d.l.in.Plot.Samples[d.samples[k]]
		return derivation.Formula(name, p.conc, "g/L", "1000 * mass / bottle", d.pool(k), derivation.Read("bottle", p.bottleML, "mL", -1, place(s.Place, "volume"))).With(p.uConc).
			Noting("the bottle is a part of the water that ran off")
	}
	caught := derivation.ListOf("volume", "mL", d.caughtIn(k)...)
	return derivation.Formula(name, p.conc, "g/L", "1000 * mass / sum(volume)", d.pool(k), caught).With(p.uConc)
}

// leftOut lists the rows whose sediment does not count.
func (d *Derivations) leftOut() []derivation.Omission {
	var out []derivation.Omission
	for i := range d.l.in.Plot.Samples {
		s := &d.l.in.Plot.Samples[i]
		why := ""
		switch {
		case !s.SedimentG.OK && !s.SedimentGrossG.OK && !s.ConcentrationGL.OK:
		case s.Exclude:
			why = "set aside in the data"
			if s.ExcludeReason != "" {
				why += ": " + s.ExcludeReason
			}
		case s.Stream != experiment.Runoff:
			why = "the stream " + s.Stream.String() + " is no part of the sediment in runoff"
		}
		if why != "" {
			at := place(s.Place, "")
			out = append(out, derivation.Omission{What: "row from " + number(s.StartMin) + " to " + number(s.EndMin) + " min", Why: why, From: &at})
		}
	}
	return out
}

// soilLoss is the mass over the area.
func (d *Derivations) soilLoss(name string) derivation.Node {
	n := derivation.Formula(name, d.s.SoilLoss.Value.V, "g/m2", "sediment_mass / area", d.Mass("sediment_mass"), d.area)
	n.U, n.Source = derivation.Number(d.s.SoilLoss.U), "definition"
	return n
}

// rate is the soil loss over the time of runoff.
func (d *Derivations) rate(name string) derivation.Node {
	if d.minutes == nil || !d.s.Rate.Value.OK {
		return derivation.Empty(name, "g/(m2.h)")
	}
	n := derivation.Formula(name, d.s.Rate.Value.V, "g/(m2.h)", "60 * soil_loss / minutes", d.soilLoss("soil_loss"), d.minutes.Named("minutes"))
	n.Source = "definition"
	return n
}

// concentration is the flow-weighted mean on one of its bases.
func (d *Derivations) concentration(name, method string) (derivation.Node, bool) {
	l := &d.l
	c := d.s.Concentration.Value
	if !c.OK {
		return derivation.Empty(name, ""), true
	}
	flow := derivation.Of("volume", l.totalML, "mL", derivation.Sum, d.flow...)
	weighted := derivation.Formula(name, c.V, "g/L", "1000 * sediment_mass / volume",
		derivation.Of("sediment_mass", l.massG, "g", derivation.Sum, d.masses(false)...), flow)
	weighted.U, weighted.Source, weighted.LeftOut = derivation.Number(d.s.Concentration.U), "Guy 1969", d.leftOut()
	switch method {
	case MethodFlowWeighted:
		return weighted, true
	case MethodWaterBasis:
		return derivation.Formula(name, d.s.WaterBasis.Value.V, "g/L", "c / (1 - c / 2650)", weighted.Named("c")), true
	case MethodMassBasis:
		return derivation.Formula(name, d.s.MassBasis.Value.V, "g/kg", "1000 * c / (density + c * (1 - density / 2650))", weighted.Named("c"), d.density()), true
	}
	return derivation.Node{}, false
}

// density is that of the water of the run, at 20 Cel where its temperature is not
// known or beyond the equation.
func (d *Derivations) density() derivation.Node {
	in := d.l.in
	t := derivation.Setting("t", water.ReferenceC, "Cel", "the temperature of the water is not known, or beyond the equation")
	rho, _ := water.Density(water.ReferenceC)
	if in.WaterKgM3 != 0 {
		rho = in.WaterKgM3
	}
	if v := in.Run.WaterTempC; v.OK {
		if _, err := water.Density(v.V); err == nil {
			t = derivation.Read("t", v.V, "Cel", -1, place(in.Run.Place, "water_temperature"))
		}
	}
	n := derivation.Formula("density", rho, "kg/m3",
		"999.974950 * (1 - (t - 3.983035) * (t - 3.983035) * (t + 301.797) / (522528.9 * (t + 69.34881)))", t)
	n.Source = "Tanaka et al. 2001"
	return n
}

func place(p experiment.Place, column string) derivation.Place {
	return derivation.Place{File: p.File, Row: p.Row, Column: column}
}

func number(v float64) string { return strconv.FormatFloat(v, 'g', 6, 64) }
