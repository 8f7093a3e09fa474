package hydrograph

import (
	"math"

	"sheetwash/analysis/experiment"
	"sheetwash/analysis/internal/gum"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
	"sheetwash/analysis/water"
)

// masses turns weighed bottles of one stream into volumes.
type masses struct {
	samples  []experiment.Sample
	stream   experiment.Stream
	errs     experiment.ErrorModel
	tempC    quantity.Optional // of the run
	pools    []pool
	fraction quantity.Optional // sediment per net mass over all that is known
	flags    result.Flags
}

// pool is a dry sediment mass with the net mass of the bottles that it came from.
type pool struct {
	start, end, sedimentG, netG float64
}

func newMasses(run *experiment.Run, h *Hydrograph) masses {
	m := masses{samples: h.plot.Samples, stream: h.Stream, errs: h.errs, tempC: waterTemperature(run, h.plot)}
	var sediment, net float64
	for i := range m.samples {
		s := &m.samples[i]
		g, ok := drySediment(s)
		if s.Stream != m.stream || s.Exclude || !ok {
			continue
		}
		p := pool{start: s.StartMin, end: s.EndMin, sedimentG: g}
		for j := range m.samples {
			b := &m.samples[j]
			if b.Stream == m.stream && !b.Exclude && b.GrossG.OK && b.TareG.OK &&
				b.StartMin >= p.start-sameMin && b.EndMin <= p.end+sameMin {
				p.netG += b.GrossG.V - b.TareG.V
			}
		}
		if p.netG > 0 {
			m.pools = append(m.pools, p)
			sediment, net = sediment+g, net+p.netG
		}
	}
	if net > 0 {
		m.fraction = quantity.Some(sediment / net)
	}
	return m
}

// volume returns the volume of the suspension in a weighed bottle and its
// standard uncertainty.
//
//	V = (gross - tare - m_s) / rho(T) + m_s / 2.65
//	u(V) = sqrt(2) u(mass) / rho(T)
//
// m_s is the bottle's dry sediment, or its share by mass of the pool that it
// went to, or of all sediment of the stream where its own is not known (flag
// sediment_estimated), or 0 where none is (flag sediment_not_deducted): each g
// that is not deducted reads as 0.62 mL too much.
// Units: g, mL, rho in g/mL. Source: data dictionary; density by [Tanaka2001].
// Departure: buoyancy in air is neglected (0.1 %, the same for all bottles).
func (m *masses) volume(s *experiment.Sample, words *result.Flags) (ml, u float64) {
	net := s.GrossG.V - s.TareG.V
	rho := m.density(s, words)
	u = gum.Combined(m.errs.MassG, m.errs.MassG) * 1000 / rho
	if s.ConcentrationGL.OK {
		return water.VolumeOfMass(net, s.ConcentrationGL.V, rho), u
	}
	sediment := m.sediment(s, net)
	return water.Suspension{WaterG: net - sediment, SedimentG: sediment, WaterKgM3: rho}.VolumeML(), u
}

func (m *masses) sediment(s *experiment.Sample, netG float64) float64 {
	if g, ok := drySediment(s); ok {
		return g
	}
	for i := range m.pools {
		if p := &m.pools[i]; s.StartMin >= p.start-sameMin && s.EndMin <= p.end+sameMin {
			return p.sedimentG * netG / p.netG
		}
	}
	if m.fraction.OK {
		m.flags.Add("sediment_estimated")
		return m.fraction.V * max(netG, 0)
	}
	m.flags.Add("sediment_not_deducted")
	return 0
}

// density returns the density of the water of a bottle, kg/m3: at its own
// temperature, the run's, or 20 Cel (flag temperature_assumed).
func (m *masses) density(s *experiment.Sample, words *result.Flags) float64 {
	t := s.WaterTempC
	if !t.OK {
		t = m.tempC
	}
	if !t.OK {
		m.flags.Add("temperature_assumed")
		t.V = water.ReferenceC
	}
	rho, err := water.Density(t.V)
	if err != nil {
		words.Add("temperature_out_of_range")
		m.flags.Add("temperature_out_of_range")
		rho, _ = water.Density(water.ReferenceC)
	}
	return rho
}

// drySediment returns the oven-dry sediment of a row, g: as stated, or gross
// minus tare of its dish or filter.
func drySediment(s *experiment.Sample) (float64, bool) {
	if s.SedimentG.OK {
		return s.SedimentG.V, true
	}
	if s.SedimentGrossG.OK && s.SedimentTareG.OK {
		return s.SedimentGrossG.V - s.SedimentTareG.V, true
	}
	return 0, false
}

// waterTemperature returns the run's water temperature: as stated, else the mean
// of the logger channel of the plot or the run.
func waterTemperature(run *experiment.Run, plot *experiment.Plot) quantity.Optional {
	if run.WaterTempC.OK {
		return run.WaterTempC
	}
	for _, series := range [2][]experiment.Series{plot.Series, run.Series} {
		for i := range series {
			if series[i].Channel != experiment.WaterTemperature {
				continue
			}
			var sum, n float64
			for _, b := range series[i].Bins {
				sum, n = sum+b.SumV, n+float64(b.N)
			}
			if n > 0 && !math.IsNaN(sum) {
				return quantity.Some(sum / n)
			}
		}
	}
	return quantity.None()
}

// concentration returns the mean concentration of the stream's bottles, g per L
// of suspension, for a running mass that has no bottles of its own: 0 where
// nothing is known.
func (m *masses) concentration(rho float64) float64 {
	if m.fraction.OK {
		net := water.Suspension{WaterG: 1 - m.fraction.V, SedimentG: m.fraction.V, WaterKgM3: rho}
		c, _ := net.PerLSuspension()
		return c
	}
	var sediment, ml float64
	for i := range m.samples {
		s := &m.samples[i]
		if s.Stream != m.stream || s.Exclude || !s.VolumeML.OK {
			continue
		}
		if s.ConcentrationGL.OK {
			sediment += s.ConcentrationGL.V * s.VolumeML.V / 1000
			ml += s.VolumeML.V
		} else if g, ok := drySediment(s); ok {
			sediment += g
			ml += s.VolumeML.V
		}
	}
	if !(ml > 0) {
		return 0
	}
	return 1000 * sediment / ml
}
