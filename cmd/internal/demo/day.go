package demo

import (
	"fmt"
	"math"
	"math/rand/v2"

	"sheetwash/analysis/quantity"
	"sheetwash/analysis/simulate"
)

// areaM2 is the catching area of every tray: half a metre by one.
const areaM2 = 0.5

// day is one field day as it was written down, with what really happened.
type day struct {
	event
	runs []observedRun
}

type observedRun struct {
	runPlan
	started      string
	intensityMMH float64 // as measured
	plots        []observedPlot
}

type observedPlot struct {
	id       string
	unit     string // body of soil under several runs; "": its own
	onset    string // minutes, "none" or ""
	excluded string // reason
	bottles  []bottle
	note     string // what happened, for the truth table
	soil     simulate.Plot
	horton   simulate.Horton
	treatment
	truth simulate.Truth
	soilWater
}

// bottle is one row of the samples table. What was not noted is missing.
type bottle struct {
	startMin, endMin float64
	volumeML         quantity.Optional
	sedimentG        quantity.Optional
	turbidityNTU     quantity.Optional
	nitrateMgL       quantity.Optional
	flag             string
}

// observe simulates a field day.
func (e event) observe() day {
	d := day{event: e}
	for n, plan := range e.runs {
		hour := 10 + 2*n
		r := observedRun{runPlan: plan, started: fmt.Sprintf("%sT%02d:05:00+01:00", e.day, hour), intensityMMH: e.intensityMMH}
		for i, t := range plan.plots {
			r.plots = append(r.plots, e.observePlot(t, n, i))
		}
		d.runs = append(d.runs, r)
	}
	if e.mishaps != nil {
		e.mishaps(&d)
	}
	return d
}

// observePlot draws a plot's own parameters, rains on it and notes the bottles.
// Soil that is rained on again differs from its first run by water content only.
func (e event) observePlot(t treatment, run, position int) observedPlot {
	soilRun := run
	if e.sameSoil {
		soilRun = 0
	}
	place := random(e.folder, t.name, 0, 0) // shared by all plots of a treatment on this day
	own := random(e.folder, t.name, soilRun+1, position+1)
	shift := 0.08*place.NormFloat64() + 0.10*own.NormFloat64()
	h := simulate.Horton{F0: digits(t.f0*math.Exp(shift), 4), Fc: digits(t.fc*math.Exp(shift), 4), K: t.k}
	muddy := math.Exp(0.12*place.NormFloat64() + 0.20*own.NormFloat64())
	if e.sameSoil && run > 0 {
		h.F0 = digits(0.6*h.F0, 4)
	}
	soil := simulate.Plot{
		AreaM2: areaM2, Rain: simulate.ConstantRain(e.intensityMMH, e.rainMin), Soil: h,
		DepressionMM: t.depressionMM, ReservoirMin: t.reservoirMin,
		ConcentrationGL: digits(t.freshGL*muddy, 3), ConcentrationEndGL: digits(t.finalGL*muddy, 3), DeclinePerH: t.concentrationDecline,
		RecessionMin: e.schedule.RecessionMin,
	}
	p := observedPlot{id: fmt.Sprint(position + 1), treatment: t, soil: soil, horton: h, truth: soil.Simulate()}
	if e.sameSoil {
		p.unit = fmt.Sprintf("%s soil %d", e.place, position+1)
	} else if run > 0 {
		p.id = fmt.Sprint(len(e.runs[0].plots) + position + 1) // another body of soil, another number
	}
	p.noteOnset(e)
	noted := p.truth.Collect(e.schedule, e.instruments, random(e.folder, "bottles", run+1, position+1))
	for i, b := range noted {
		if i > 0 { // one stopwatch reading ends a bottle and starts the next
			b.StartMin = noted[i-1].EndMin
		}
		p.bottles = append(p.bottles, bottle{startMin: b.StartMin, endMin: b.EndMin, volumeML: quantity.Some(b.VolumeML), sedimentG: quantity.Some(b.SedimentG)})
	}
	if e.soilWater {
		p.watch(random(e.folder, "soil", run+1, position+1))
	}
	return p
}

// noteOnset writes the onset down to the second, which is what a stopwatch shows.
func (p *observedPlot) noteOnset(e event) {
	switch {
	case e.onset == notesNoOnset:
	case !p.truth.OnsetMin.OK:
		p.onset = "none"
	default:
		p.onset = decimals(math.Round(p.truth.OnsetMin.V*60)/60, 3)
	}
}

// plot returns a plot of the day.
func (d *day) plot(run, id string) *observedPlot {
	for r := range d.runs {
		for p := range d.runs[r].plots {
			if d.runs[r].id == run && d.runs[r].plots[p].id == id {
				return &d.runs[r].plots[p]
			}
		}
	}
	return nil
}

// overflow puts a jar of one litre under the plot where more than that came.
func (d *day) overflow(run, id string) {
	p := d.plot(run, id)
	const holds = 1000 // mL
	p.note = "a jar of one litre ran over"
	for i := range p.bottles {
		if b := &p.bottles[i]; b.volumeML.V > 1.2*holds {
			b.sedimentG = quantity.Some(b.sedimentG.V * holds / b.volumeML.V)
			b.volumeML = quantity.Some(holds)
			b.flag = "overflow"
			return
		}
	}
}

// gap leaves out one bottle while the jars were changed.
func (d *day) gap(run, id string) {
	p := d.plot(run, id)
	p.note = "one interval without a jar"
	i := len(p.bottles) / 2
	p.bottles = append(p.bottles[:i:i], p.bottles[i+1:]...)
}

// pool dries the sediment of all bottles of a plot together: one more row that
// spans them.
func (d *day) pool(run, id string) {
	p := d.plot(run, id)
	p.note = "sediment pooled over all bottles"
	sum := 0.0
	for i := range p.bottles {
		sum += p.bottles[i].sedimentG.V
		p.bottles[i].sedimentG = quantity.None()
	}
	last := p.bottles[len(p.bottles)-1]
	p.bottles = append(p.bottles, bottle{startMin: p.bottles[0].startMin, endMin: last.endMin, sedimentG: quantity.Some(sum)})
}

// exclude marks a plot to be left out of the statistics.
func (d *day) exclude(run, id, reason string) {
	p := d.plot(run, id)
	p.excluded = reason
	p.note = "left out of the statistics"
}

// random returns the source of one use, independent of how many draws any other
// use takes.
func random(event, use string, run, position int) *rand.Rand {
	h := uint64(seed)
	for _, c := range []byte(event + "/" + use) {
		h = (h ^ uint64(c)) * 1099511628211 // FNV-1a, 64 bits
	}
	return rand.New(rand.NewPCG(h, uint64(run)<<32|uint64(position)))
}

// digits rounds to n significant digits.
func digits(v float64, n int) float64 {
	if v == 0 {
		return 0
	}
	scale := math.Pow(10, float64(n)-1-math.Floor(math.Log10(math.Abs(v))))
	return math.Round(v*scale) / scale
}
