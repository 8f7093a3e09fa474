package hydrograph

import (
	"slices"

	"sheetwash/analysis/derivation"
	"sheetwash/analysis/experiment"
)

// deriveBottles fills the derivations of the volumes of intervals that bottles
// make.
func (d *Derivations) deriveBottles() {
	h := d.h
	d.volumes = make([]derivation.Node, len(h.Intervals))
	d.findInside()
	for i := range h.Intervals {
		iv := &h.Intervals[i]
		switch iv.Kind {
		case Measured:
			d.volumes[i] = d.caught(i)
		case Interpolated:
			d.volumes[i] = derivation.Formula("volume", iv.VolumeML, "mL", "length * (before + after) / 2",
				derivation.Setting("length", iv.Minutes(), "min", "of the gap"), d.lent("before", i, -1), d.lent("after", i, 1))
		case Held:
			d.volumes[i] = derivation.Formula("volume", iv.VolumeML, "mL", "length * before",
				derivation.Setting("length", iv.Minutes(), "min", "from the last bottle to the end of rain"), d.lent("before", i, -1))
		default:
			d.volumes[i] = derivation.Setting("volume", 0, "mL", "")
		}
		n := &d.volumes[i]
		n.U, n.Note = &iv.UVolumeML, span(kindWord(iv.Kind), iv.StartMin, iv.EndMin)
	}
}

// lent is the rate, mL/min, that the nearest bottle before or after an interval
// lends to it: none where there is no such bottle, or a dry one.
func (d *Derivations) lent(name string, i, step int) derivation.Node {
	h := d.h
	for k := i + step; k >= 0 && k < len(h.Intervals); k += step {
		iv := &h.Intervals[k]
		if iv.Kind != Measured {
			continue
		}
		if !d.wet[iv.Sample] {
			return derivation.Setting(name, 0, "mL/min", "that bottle is dry")
		}
		volume := d.volumes[k]
		if step > 0 {
			volume = d.caught(k)
		}
		n := derivation.Formula(name, iv.VolumeML/iv.Minutes(), "mL/min", "volume / minutes", volume, d.minutes(k))
		n.Note = span("bottle", iv.StartMin, iv.EndMin)
		return n
	}
	return derivation.Setting(name, 0, "mL/min", "no bottle stands there: no flow")
}

// caught is the volume of a bottle, with those that lie within its time.
func (d *Derivations) caught(i int) derivation.Node {
	iv := &d.h.Intervals[i]
	n := d.bottle(&d.h.plot.Samples[iv.Sample])
	inside := []derivation.Node{n}
	for _, k := range d.inside[iv.Sample] {
		inside = append(inside, d.bottle(&d.h.plot.Samples[k]))
	}
	if len(inside) == 1 {
		return n
	}
	return derivation.Of("volume", iv.VolumeML, "mL", derivation.Sum, inside...)
}

// findInside finds the bottles that were added to another one; see inOrder.
func (d *Derivations) findInside() {
	var all []bottle
	for i := range d.h.plot.Samples {
		s := &d.h.plot.Samples[i]
		if s.Stream == d.h.Stream && !s.Exclude && s.Flag != experiment.FlagLost && (hasWater(s) || s.Flag == experiment.FlagTrace) {
			all = append(all, bottle{start: s.StartMin, end: s.EndMin, sample: i})
		}
	}
	slices.SortStableFunc(all, byTime)
	d.inside = map[int][]int{}
	for i, last := range all {
		for _, b := range all[i+1:] {
			if _, kept := d.wet[b.sample]; !kept && b.end <= last.end+sameMin {
				if _, kept := d.wet[last.sample]; kept {
					d.inside[last.sample] = append(d.inside[last.sample], b.sample)
				}
				continue
			}
			break
		}
	}
}

// bottle is the volume of the suspension in one bottle.
func (d *Derivations) bottle(s *experiment.Sample) derivation.Node {
	errs := d.h.errs
	switch {
	case s.VolumeML.OK:
		return derivation.Read("volume", s.VolumeML.V, "mL", -1, place(s.Place, "volume"))
	case !s.GrossG.OK || !s.TareG.OK:
		n := derivation.Read("volume", 0, "mL", errs.VolumeML, place(s.Place, "flag"))
		return n.Noting("wet, but too little to measure")
	}
	ml, _ := d.m.volume(s, &d.words)
	gross := derivation.Read("gross", s.GrossG.V, "g", errs.MassG, place(s.Place, "gross_mass"))
	tare := derivation.Read("tare", s.TareG.V, "g", errs.MassG, place(s.Place, "tare_mass"))
	if s.ConcentrationGL.OK {
		return derivation.Formula("volume", ml, "mL", "(gross - tare) * (1000 / density) / (1 + concentration / 1000 * (1000 / density - 1 / 2.65))",
			gross, tare, d.density(s), derivation.Read("concentration", s.ConcentrationGL.V, "g/L", -1, place(s.Place, "concentration")))
	}
	return derivation.Formula("volume", ml, "mL", "1000 * (gross - tare - sediment) / density + sediment / 2.65",
		gross, tare, d.sediment(s), d.density(s))
}

// density is that of the water of a bottle.
func (d *Derivations) density(s *experiment.Sample) derivation.Node {
	t := d.temperature(s)
	rho := d.m.density(s, &d.words)
	n := derivation.Formula("density", rho, "kg/m3",
		"999.974950 * (1 - (t - 3.983035) * (t - 3.983035) * (t + 301.797) / (522528.9 * (t + 69.34881)))", t)
	n.Source = "Tanaka et al. 2001"
	return n
}

// temperature is that at which the density of the water of a bottle is taken.
func (d *Derivations) temperature(s *experiment.Sample) derivation.Node {
	switch {
	case s.WaterTempC.OK && s.WaterTempC.V >= 0 && s.WaterTempC.V <= 40:
		return derivation.Read("t", s.WaterTempC.V, "Cel", -1, place(s.Place, "water_temperature"))
	case s.WaterTempC.OK || !d.m.tempC.OK:
		return derivation.Setting("t", 20, "Cel", "the temperature of the water is not known, or beyond the equation")
	case d.m.tempC.V < 0 || d.m.tempC.V > 40:
		return derivation.Setting("t", 20, "Cel", "the equation does not hold at the temperature that was read")
	case d.run.WaterTempC.OK:
		return derivation.Read("t", d.m.tempC.V, "Cel", -1, place(d.run.Place, "water_temperature"))
	}
	return derivation.Setting("t", d.m.tempC.V, "Cel", "mean of the logged water temperature")
}

// sediment is the dry sediment in a weighed bottle.
func (d *Derivations) sediment(s *experiment.Sample) derivation.Node {
	if n, ok := dry("sediment", s); ok {
		return n
	}
	m, net := &d.m, s.GrossG.V-s.TareG.V
	for i := range m.pools {
		p := &m.pools[i]
		if s.StartMin < p.start-sameMin || s.EndMin > p.end+sameMin {
			continue
		}
		return derivation.Formula("sediment", m.sediment(s, net), "g", "of_pool * (gross - tare) / sum(net)", d.poolSediment(p),
			derivation.Read("gross", s.GrossG.V, "g", -1, place(s.Place, "gross_mass")), derivation.Read("tare", s.TareG.V, "g", -1, place(s.Place, "tare_mass")), d.nets(p)).
			Noting("its share by mass of the sediment that was dried together")
	}
	if !m.fraction.OK {
		return derivation.Setting("sediment", 0, "g", "not known, so that the volume holds it as water")
	}
	return derivation.Formula("sediment", m.sediment(s, net), "g", "fraction * max(gross - tare, 0)", d.fraction(),
		derivation.Read("gross", s.GrossG.V, "g", -1, place(s.Place, "gross_mass")), derivation.Read("tare", s.TareG.V, "g", -1, place(s.Place, "tare_mass"))).
		Noting("not known: estimated from all that is known of the stream")
}

// dry is the oven-dry sediment of a row.
func dry(name string, s *experiment.Sample) (derivation.Node, bool) {
	if s.SedimentG.OK {
		return derivation.Read(name, s.SedimentG.V, "g", -1, place(s.Place, "sediment_mass")), true
	}
	if s.SedimentGrossG.OK && s.SedimentTareG.OK {
		g, _ := drySediment(s)
		return derivation.Formula(name, g, "g", "dish_gross - dish_tare",
			derivation.Read("dish_gross", s.SedimentGrossG.V, "g", -1, place(s.Place, "sediment_gross_mass")),
			derivation.Read("dish_tare", s.SedimentTareG.V, "g", -1, place(s.Place, "sediment_tare_mass"))), true
	}
	return derivation.Node{}, false
}

// poolSediment is the dry mass of a pool, and nets what the bottles in it held.
func (d *Derivations) poolSediment(p *pool) derivation.Node {
	for i := range d.m.samples {
		s := &d.m.samples[i]
		if g, ok := drySediment(s); ok && g == p.sedimentG && s.StartMin == p.start && s.EndMin == p.end && s.Stream == d.m.stream && !s.Exclude {
			n, _ := dry("of_pool", s)
			return n
		}
	}
	return derivation.Setting("of_pool", p.sedimentG, "g", "")
}

func (d *Derivations) nets(p *pool) derivation.Node {
	out := derivation.ListOf("net", "g")
	for j := range d.m.samples {
		b := &d.m.samples[j]
		if b.Stream == d.m.stream && !b.Exclude && b.GrossG.OK && b.TareG.OK && b.StartMin >= p.start-sameMin && b.EndMin <= p.end+sameMin {
			out.Inputs = append(out.Inputs, derivation.Formula("net", b.GrossG.V-b.TareG.V, "g", "gross - tare",
				derivation.Read("gross", b.GrossG.V, "g", -1, place(b.Place, "gross_mass")), derivation.Read("tare", b.TareG.V, "g", -1, place(b.Place, "tare_mass"))))
		}
	}
	return out
}

// fraction is the sediment per net mass over all that is known of the stream.
func (d *Derivations) fraction() derivation.Node {
	sediment, net := derivation.ListOf("sediment", "g"), derivation.ListOf("net", "g")
	for i := range d.m.pools {
		p := &d.m.pools[i]
		sediment.Inputs = append(sediment.Inputs, d.poolSediment(p))
		net.Inputs = append(net.Inputs, derivation.Of("net", p.netG, "g", derivation.Sum, d.nets(p).Inputs...))
	}
	return derivation.Formula("fraction", d.m.fraction.V, "1", "sum(sediment) / sum(net)", sediment, net)
}
