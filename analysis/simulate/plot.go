package simulate

import (
	"math"

	"sheetwash/analysis/quantity"
)

// Plot is one plot under one run with everything that decides what it does.
type Plot struct {
	AreaM2 float64
	Rain   []RainStep // in order of time; the last one ends the rain
	Soil   Capacity

	DepressionMM float64 // held back on the surface before anything leaves the plot
	ReservoirMin float64 // residence time of flowing water on the plot, at a flow as large as the first intensity; 0: none
	FlowExponent float64 // flow goes as this power of the water in flow: 5/3 turbulent (Manning), 1 or 0 a linear reservoir

	// The concentration of the water that leaves falls from ConcentrationGL
	// towards ConcentrationEndGL by exp(-DeclinePerH t) after the onset.
	ConcentrationGL, ConcentrationEndGL, DeclinePerH float64

	RecessionMin float64 // how long to go on after the end of rain
	StepS        float64 // time step, s; 0: 0.5 s
}

// RainStep is a constant intensity up to a time since the start of rain.
type RainStep struct{ UntilMin, IntensityMMH float64 }

// ConstantRain returns rain of one intensity.
func ConstantRain(intensityMMH, minutes float64) []RainStep {
	return []RainStep{{UntilMin: minutes, IntensityMMH: intensityMMH}}
}

// Truth is what really happened on a plot.
type Truth struct {
	RainMin, RainMM float64
	OnsetMin        quantity.Optional // first water that leaves the plot; missing: none did
	RunoffMM        float64           // by the end of the recession, solids included
	RunoffRainMM    float64           // by the end of rain
	InfiltrationMM  float64           // by the end of rain
	Coefficient     float64           // RunoffMM / RainMM
	CapacityMMH     float64           // infiltration capacity at the end of rain
	RunoffEndMMH    float64           // runoff rate at the end of rain
	ConcentrationGL quantity.Optional // sediment over volume of suspension, whole run
	SedimentG       float64

	stepMin    float64
	volumeML   []float64 // suspension since the start of rain, at the end of every step
	sedimentG  []float64
	plotAreaM2 float64
}

const (
	defaultStepS  = 0.5
	grainDensity  = 2650 // g/L, quartz
	minutesPerH   = 60
	mlPerMMAndM2  = 1000
	smallestStepS = 0.01
)

// Simulate runs a plot. Per step it lets infiltrate the lesser of what is there
// (rain and stored water) and the capacity; the rest fills the depressions,
// then the reservoir of flowing water, whose outflow is its content over
// ReservoirMin (linear) or rises with a power of the content.
func (p Plot) Simulate() Truth {
	stepS := p.StepS
	if stepS < smallestStepS {
		stepS = defaultStepS
	}
	rainMin := p.Rain[len(p.Rain)-1].UntilMin
	steps := int(math.Round(rainMin * minutesPerH / stepS))
	dt := rainMin / float64(steps) // min; the last step ends with the rain
	total := steps + int(math.Ceil(p.RecessionMin/dt))
	tr := Truth{
		RainMin: rainMin, stepMin: dt, plotAreaM2: p.AreaM2,
		volumeML: make([]float64, total+1), sedimentG: make([]float64, total+1),
	}
	s := surface{plot: p, capacity: p.Soil.begin()}
	for n := range total {
		tMin := float64(n) * dt
		rain := 0.0
		if n < steps {
			rain = p.intensity(tMin+dt/2) * dt / minutesPerH
		}
		water := s.step(tMin, dt, rain)
		tr.RainMM += rain
		if water > 0 && !tr.OnsetMin.OK {
			tr.OnsetMin = quantity.Some(tMin)
		}
		c := p.concentration(tMin + dt/2 - tr.OnsetMin.V)
		suspension := water / (1 - c/grainDensity) * p.AreaM2 * mlPerMMAndM2
		tr.volumeML[n+1] = tr.volumeML[n] + suspension
		tr.sedimentG[n+1] = tr.sedimentG[n] + c*suspension/1000
		if n == steps-1 {
			tr.InfiltrationMM = s.infiltrated
			tr.CapacityMMH = s.capacity(rainMin/minutesPerH, s.infiltrated)
			tr.RunoffRainMM = tr.volumeML[n+1] / (p.AreaM2 * mlPerMMAndM2)
			tr.RunoffEndMMH = suspension / (p.AreaM2 * mlPerMMAndM2) / dt * minutesPerH
		}
	}
	tr.RunoffMM = tr.volumeML[total] / (p.AreaM2 * mlPerMMAndM2)
	tr.Coefficient = tr.RunoffMM / tr.RainMM
	tr.SedimentG = tr.sedimentG[total]
	if tr.volumeML[total] > 0 {
		tr.ConcentrationGL = quantity.Some(1000 * tr.SedimentG / tr.volumeML[total])
	}
	return tr
}

func (p Plot) intensity(tMin float64) float64 {
	for _, r := range p.Rain {
		if tMin < r.UntilMin {
			return r.IntensityMMH
		}
	}
	return 0
}

func (p Plot) concentration(sinceOnsetMin float64) float64 {
	return p.ConcentrationEndGL +
		(p.ConcentrationGL-p.ConcentrationEndGL)*math.Exp(-p.DeclinePerH*math.Max(sinceOnsetMin, 0)/minutesPerH)
}

// surface is the state of the plot's surface, depths in mm.
type surface struct {
	plot                              Plot
	capacity                          func(timeH, infiltratedMM float64) float64
	infiltrated, depression, detained float64
}

// step advances by dt minutes under a depth of rain and returns what runs off.
func (s *surface) step(tMin, dt, rain float64) float64 {
	s.detained += rain
	could := s.capacity(tMin/minutesPerH, s.infiltrated) * dt / minutesPerH
	takes := math.Min(could, s.detained)
	s.detained -= takes
	deeper := math.Min(could-takes, s.depression)
	s.depression -= deeper
	s.infiltrated += takes + deeper
	fills := math.Min(s.detained, s.plot.DepressionMM-s.depression)
	s.detained -= fills
	s.depression += fills
	out := s.outflow(dt)
	s.detained -= out
	return out
}

// outflow returns the depth that leaves the reservoir within dt minutes.
func (s *surface) outflow(dt float64) float64 {
	p := &s.plot
	if p.ReservoirMin <= 0 {
		return s.detained
	}
	perMin := 1 / p.ReservoirMin
	if p.FlowExponent > 1 {
		full := p.Rain[0].IntensityMMH / minutesPerH * p.ReservoirMin // content at a flow as large as the intensity
		perMin *= math.Pow(s.detained/full, p.FlowExponent-1)
	}
	return s.detained * -math.Expm1(-dt*perMin)
}

// between returns the suspension, mL, and the sediment, g, that left the plot
// between two times.
func (t Truth) between(startMin, endMin float64) (volumeML, sedimentG float64) {
	v1, s1 := t.at(startMin)
	v2, s2 := t.at(endMin)
	return v2 - v1, s2 - s1
}

func (t Truth) at(tMin float64) (volumeML, sedimentG float64) {
	x := tMin / t.stepMin
	if x <= 0 {
		return 0, 0
	}
	n := int(x)
	if n >= len(t.volumeML)-1 {
		return t.volumeML[len(t.volumeML)-1], t.sedimentG[len(t.sedimentG)-1]
	}
	part := x - float64(n)
	return t.volumeML[n] + part*(t.volumeML[n+1]-t.volumeML[n]),
		t.sedimentG[n] + part*(t.sedimentG[n+1]-t.sedimentG[n])
}
