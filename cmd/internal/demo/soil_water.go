package demo

import (
	"math"
	"math/rand/v2"

	"sheetwash/analysis/quantity"
)

// soilWater is what a crew that watches the whole water balance notes of a plot: its
// drain, its tray on the scales before and after, and what really happened.
type soilWater struct {
	drainedML               quantity.Optional
	soilBeforeG, soilAfterG quantity.Optional
	drainageMM, storageMM   quantity.Optional // true
}

// drainedShare is the part of the infiltration that drips from a tray within the hour.
const drainedShare = 0.15

// waterDensity12 is that of water at 12 Cel, g/L.
const waterDensity12 = 999.5

// watch measures drain and tray, and the turbidity and nitrate of every bottle. The
// tray's balance reads to 10 g, the turbidity scatters by 6 % about a power of the
// concentration.
func (p *observedPlot) watch(r *rand.Rand) {
	water := p.truth.RunoffMM - p.truth.SedimentG/2.65/(1000*areaM2)
	in := p.truth.RainMM - water
	drained := drainedShare * in
	p.drainageMM, p.storageMM = quantity.Some(drained), quantity.Some(in-drained)
	p.drainedML = quantity.Some(5 * math.Round(1000*areaM2*drained*(1+0.005*r.NormFloat64())/5))
	before := 62000 + 1500*r.NormFloat64()
	after := before + waterDensity12*areaM2*(in-drained) - p.truth.SedimentG
	p.soilBeforeG = quantity.Some(10 * math.Round((before+5*r.NormFloat64())/10))
	p.soilAfterG = quantity.Some(10 * math.Round((after+5*r.NormFloat64())/10))
	for i := range p.bottles {
		b := &p.bottles[i]
		if !(b.volumeML.V > 50) || !(b.sedimentG.V > 0) {
			continue
		}
		c := 1000 * b.sedimentG.V / b.volumeML.V
		b.turbidityNTU = quantity.Some(math.Round(math.Pow(c/0.012, 1/1.05) * math.Exp(0.06*r.NormFloat64())))
		b.nitrateMgL = quantity.Some(digits((1.5+0.3*c)*(1+0.02*r.NormFloat64()), 3))
	}
}

// unfiltered leaves some bottles of a plot without a sediment mass: their turbidity has to do.
func (d *day) unfiltered(run, id string, bottles ...int) {
	p := d.plot(run, id)
	p.note = "some bottles with turbidity only"
	for _, i := range bottles {
		if p.bottles[i].turbidityNTU.OK {
			p.bottles[i].sedimentG = quantity.None()
		}
	}
}
