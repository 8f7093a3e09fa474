package hydrograph

import (
	"math"

	"sheetwash/analysis/derivation"
	"sheetwash/analysis/experiment"
)

// logged is the channel of a hydrograph of readings, cut as fromReadings cuts it.
type logged struct {
	s      *experiment.Series
	pieces []stretch
	toML   float64
	factor derivation.Node
	sparse bool
}

// deriveReadings fills the derivations of the volumes and rates of intervals
// that a logger channel makes.
func (d *Derivations) deriveReadings() {
	h := *d.h
	s := sinceRain(runoffSeries(h.plot.Series, h.Stream))
	l := logged{s: s, toML: h.toML(d.run, s)}
	if l.sparse = (s.LastMin-s.FirstMin)/float64(s.N-1) > h.set.SlopeWindowMin/2; l.sparse {
		l.pieces = h.sparse(s, l.toML)
	} else {
		l.pieces = h.windows(s, l.toML)
	}
	l.factor = d.factor(s, l.toML)
	at := 0
	if len(l.pieces) > 0 && l.pieces[0].start > sameMin {
		d.addReading(at, derivation.Setting("flow", 0, "mL/min", "before the first reading"), nil)
		at++
	}
	for i := 0; i < len(l.pieces); at++ {
		j := i
		for j < len(l.pieces) && !l.pieces[j].known {
			j++
		}
		if j > i {
			d.addReading(at, l.gap(i, j), nil)
			i = j
			continue
		}
		d.addReading(at, l.flow("flow", i), l.steps(i))
		i++
	}
	if at < len(d.h.Intervals) { // held to the end of rain
		d.addReading(at, l.flow("flow", len(l.pieces)-1), nil)
	}
}

// addReading adds an interval with its mean flow, mL/min, and what its volume is
// beyond that.
func (d *Derivations) addReading(i int, flow derivation.Node, steps []derivation.Node) {
	h := d.h
	iv := &h.Intervals[i]
	note := span(kindWord(iv.Kind), iv.StartMin, iv.EndMin)
	equation, inputs := "flow * minutes", []derivation.Node{flow, derivation.Setting("minutes", iv.Minutes(), "min", "")}
	switch inputs = append(inputs, steps...); len(steps) {
	case 1:
		equation += " + " + steps[0].Name
	case 2:
		equation += " + (" + steps[0].Name + " + " + steps[1].Name + ")"
	}
	d.volumes = append(d.volumes, derivation.Formula("volume", iv.VolumeML, "mL", equation, inputs...).With(iv.UVolumeML).Noting(note))
	d.rates = append(d.rates, derivation.Formula("rate", iv.RateMMH, "mm/h", "0.06 * flow / area", flow, d.area).
		With(math.Hypot(iv.URateMMH, iv.RateMMH*h.UAreaRel)).Noting(note))
}

// unit is the unit of the channel's values.
func (l *logged) unit() string {
	switch {
	case l.s.VolumeRate:
		return "mL/min"
	case !l.s.Channel.Cumulative():
		return "mm/h"
	case l.s.Channel == experiment.RunoffMass || l.s.Channel == experiment.DrainageMass:
		return "g"
	}
	return "mL"
}

// flow is the mean flow of a stretch, mL/min.
func (l *logged) flow(name string, i int) derivation.Node {
	p := &l.pieces[i]
	switch {
	case !p.known:
		return derivation.Setting(name, p.mlMin, "mL/min", "nothing is known")
	case l.sparse:
		return l.between(name, i)
	case l.s.Channel.Cumulative():
		return derivation.Formula(name, p.mlMin, "mL/min", "slope * factor", l.slope(&p.line, span("readings", p.start, p.end)), l.factor)
	}
	mean := derivation.Read("level", p.line.mean, l.unit(), -1, place(l.s.Place, "value")).
		Noting(span("mean of the readings", p.start, p.end) + "; the row is that of the channel's first")
	return derivation.Formula(name, p.mlMin, "mL/min", "level * factor", mean, l.factor)
}

// between is the flow between two neighbouring readings.
func (l *logged) between(name string, i int) derivation.Node {
	p := &l.pieces[i]
	reading := func(name string, b *experiment.Bin) derivation.Node {
		return derivation.Read(name, b.SumV/float64(b.N), l.unit(), -1, place(l.s.Place, "value")).
			Noting("reading at " + number(binMean(*b, l.s.BinMin)) + " min; the row is that of the channel's first")
	}
	before, after := reading("before", &l.s.Bins[i]), reading("after", &l.s.Bins[i+1])
	if !l.s.Channel.Cumulative() {
		return derivation.Formula(name, p.mlMin, "mL/min", "(before + after) / 2 * factor", before, after, l.factor)
	}
	return derivation.Formula(name, p.mlMin, "mL/min", "(after - before) / (to - from) * factor", after, before,
		derivation.Setting("to", p.end, "min", ""), derivation.Setting("from", p.start, "min", ""), l.factor)
}

// slope is that of the least-squares line through readings.
func (l *logged) slope(line *level, note string) derivation.Node {
	at := place(l.s.Place, "value")
	sum := func(name string, v float64, unit string) derivation.Node {
		return derivation.Read(name, v, unit, -1, at).Noting("and the rows of the channel after it")
	}
	u := l.unit()
	n := derivation.Formula("slope", line.slope, u+"/min", "(sum_tv - sum_t * sum_v / n) / (sum_tt - sum_t * sum_t / n)",
		sum("sum_tv", line.sumTV, u+".min"), sum("sum_t", line.sumT, "min"), sum("sum_v", line.sumV, u), sum("n", float64(line.n), "1"), sum("sum_tt", line.sumTT, "min2"))
	n.Note = note + "; sums of t since " + number(line.origin) + " min and of values above " + number(line.base)
	n.Source = "Savitzky and Golay 1964"
	return n
}

// value is the running total at a time by the line of a stretch.
func (l *logged) value(name string, i int, min float64) derivation.Node {
	line := &l.pieces[i].line
	at := place(l.s.Place, "value")
	return derivation.Formula(name, line.value(min), l.unit(), "level + slope * (t - at)",
		derivation.Read("level", line.mean, l.unit(), -1, at), l.slope(line, span("readings", l.pieces[i].start, l.pieces[i].end)),
		derivation.Setting("t", min, "min", ""), derivation.Read("at", line.at, "min", -1, at))
}

// steps are what the running total gains at the ends of a stretch beyond its
// slope; see closeTotal.
func (l *logged) steps(i int) []derivation.Node {
	if !l.s.Channel.Cumulative() {
		return nil
	}
	var out []derivation.Node
	step := func(name string, a, b int) {
		if a < 0 || b >= len(l.pieces) || !l.pieces[a].known || !l.pieces[b].known || l.pieces[b].start > l.pieces[a].end+sameMin {
			return
		}
		before, after := l.value("before", a, l.pieces[a].end), l.value("after", b, l.pieces[b].start)
		out = append(out, derivation.Formula(name, (*after.Value-*before.Value)/2*l.toML, "mL", "(after - before) / 2 * factor", after, before, l.factor))
	}
	step("step_at_start", i-1, i)
	step("step_at_end", i, i+1)
	return out
}

// gap is the flow through stretches i to j, of which none has a rate.
func (l *logged) gap(i, j int) derivation.Node {
	reset := false
	for k := i; k < j; k++ {
		reset = reset || l.pieces[k].flags.Has("reset")
	}
	from, to := l.pieces[i].start, l.pieces[j-1].end
	before, after := i > 0, j < len(l.pieces)
	if l.s.Channel.Cumulative() && before && after && !reset {
		a, b := l.value("before", i-1, from), l.value("after", j, to)
		return derivation.Formula("flow", (*b.Value-*a.Value)/(to-from)*l.toML, "mL/min", "(after - before) / minutes * factor", b, a,
			derivation.Setting("minutes", to-from, "min", "the running total went on through the gap"), l.factor)
	}
	a := derivation.Setting("before", 0, "mL/min", "nothing was read before")
	if before {
		a = l.flow("before", i-1)
	}
	b := a.Named("after").Noting("it goes on as it was")
	if after {
		b = l.flow("after", j)
	}
	n := derivation.Formula("flow", (*a.Value+*b.Value)/2, "mL/min", "(before + after) / 2", a, b)
	n.Note = "no rate was read: between those before and after"
	return n
}

// factor turns the channel's unit, per min for a total, into mL/min.
func (d *Derivations) factor(s *experiment.Series, toML float64) derivation.Node {
	switch {
	case s.VolumeRate, s.Channel == experiment.RunoffVolume, s.Channel == experiment.DrainageVolume:
		return derivation.Setting("factor", 1, "1", "the channel is in mL")
	case !s.Channel.Cumulative():
		return derivation.Formula("factor", toML, "mL.h/(mm.min)", "area / 0.06", d.area)
	}
	none := experiment.Sample{Stream: d.h.Stream}
	density := d.density(&none)
	return derivation.Formula("factor", toML, "mL/g", "1000 / density / (1 + concentration / 1000 * (1000 / density - 1 / 2.65))", density, d.concentration(density))
}

// concentration is the mean of the stream's bottles, for a running mass.
func (d *Derivations) concentration(density derivation.Node) derivation.Node {
	m := &d.m
	c := m.concentration(*density.Value)
	if m.fraction.OK {
		return derivation.Formula("concentration", c, "g/L", "1000 * fraction / (1000 * (1 - fraction) / density + fraction / 2.65)", d.fraction(), density)
	}
	sediment, ml := derivation.ListOf("sediment", "g"), derivation.ListOf("volume", "mL")
	for i := range m.samples {
		s := &m.samples[i]
		if s.Stream != m.stream || s.Exclude || !s.VolumeML.OK {
			continue
		}
		volume := derivation.Read("volume", s.VolumeML.V, "mL", -1, place(s.Place, "volume"))
		if s.ConcentrationGL.OK {
			sediment.Inputs = append(sediment.Inputs, derivation.Formula("sediment", s.ConcentrationGL.V*s.VolumeML.V/1000, "g", "concentration * volume / 1000",
				derivation.Read("concentration", s.ConcentrationGL.V, "g/L", -1, place(s.Place, "concentration")), volume))
		} else if n, ok := dry("sediment", s); ok {
			sediment.Inputs = append(sediment.Inputs, n)
		} else {
			continue
		}
		ml.Inputs = append(ml.Inputs, volume)
	}
	if c == 0 {
		return derivation.Setting("concentration", 0, "g/L", "no bottle tells the sediment in the water")
	}
	return derivation.Formula("concentration", c, "g/L", "1000 * sum(sediment) / sum(volume)", sediment, ml)
}

// thresholdOfReadings is the crossing of the threshold by the moving slopes.
func (d *Derivations) thresholdOfReadings(name string, v float64) derivation.Node {
	h := d.h
	limit := derivation.Formula("limit", *d.limit().Value*h.AreaM2/0.06, "mL/min", "limit_rate * area / 0.06", d.limit().Named("limit_rate"), d.area)
	i := 0
	for h.fine[i].mlMin < *limit.Value || !stays(h.fine[i:], *limit.Value, h.set.SlopeWindowMin) {
		i++
	}
	at := derivation.Setting("at", h.fine[i].min, "min", "middle of the first window whose slope is above")
	if i == 0 || !(h.fine[i].mlMin > h.fine[i-1].mlMin) {
		return derivation.Formula(name, v, "min", "at", at)
	}
	before := derivation.Setting("before", h.fine[i-1].min, "min", "middle of the window before")
	return derivation.Formula(name, v, "min", "before + (at - before) * (limit - flow_before) / (flow - flow_before)",
		before, at, limit, d.moving("flow_before", &h.fine[i-1]), d.moving("flow", &h.fine[i]))
}

// moving is the slope, or the mean, of the window about a moment.
func (d *Derivations) moving(name string, p *ratePoint) derivation.Node {
	h := *d.h
	s := sinceRain(runoffSeries(h.plot.Series, h.Stream))
	toML := h.toML(d.run, s)
	l := logged{s: s, toML: toML, factor: d.factor(s, toML)}
	k := max(1, int(math.Round(h.set.SlopeWindowMin/s.BinMin)))
	for lo, hi := 0, 0; hi < len(s.Bins); hi++ {
		for int(s.Bins[hi].Index-s.Bins[lo].Index) >= k {
			lo++
		}
		w := s.Bins[lo : hi+1]
		points := moving(&experiment.Series{Channel: s.Channel, VolumeRate: s.VolumeRate, BinMin: s.BinMin, Bins: w}, h.set.SlopeWindowMin, toML)
		if len(points) != 1 || points[0] != *p {
			continue
		}
		line := line(w, s.BinMin)
		note := span("readings", line.first, line.last)
		if s.Channel.Cumulative() {
			return derivation.Formula(name, p.mlMin, "mL/min", "slope * factor", l.slope(&line, note), l.factor)
		}
		return derivation.Formula(name, p.mlMin, "mL/min", "level * factor", derivation.Read("level", p.mlMin/toML, l.unit(), -1, place(s.Place, "value")).Noting(note), l.factor)
	}
	return derivation.Setting(name, p.mlMin, "mL/min", "")
}
