package simulate

import (
	"math"
	"math/rand/v2"
)

// Schedule says when bottles are held under the outlet.
type Schedule struct {
	N            int     // bottles that share the time up to the end of rain equally
	AtOnset      bool    // the first bottle starts when flow is seen; else at StartMin
	StartMin     float64 // start of the first bottle, when not at the onset
	GapMin       float64 // flow missed while changing bottles
	RecessionMin float64 // length of one more bottle after the end of rain; 0: none
}

// Instruments holds the standard deviations of the reading errors. Boundaries
// that two bottles share are read once. The zero value reads exactly.
type Instruments struct {
	VolumeRel, VolumeML float64 // of a volume, in quadrature
	VolumeStepML        float64 // volumes are noted in multiples of this; 0: as they are
	StopwatchMin        float64 // of a noted time
	TimeStepMin         float64 // times are noted in multiples of this; 0: as they are
	SedimentG           float64 // of a dry sediment mass
}

// FieldInstruments returns a graduated bottle (0.5 % and 2 mL, read to 5 mL), a
// stopwatch by hand (1 s) and a laboratory balance (0.01 g).
func FieldInstruments() Instruments {
	return Instruments{VolumeRel: 0.005, VolumeML: 2, VolumeStepML: 5, StopwatchMin: 1.0 / 60, SedimentG: 0.01}
}

// Bottle is what the operator wrote down of one bottle.
type Bottle struct {
	StartMin, EndMin float64
	VolumeML         float64 // of the suspension
	SedimentG        float64
	Recession        bool // filled after the end of rain
}

// Times returns the true intervals of a schedule on a plot, recession last.
// A plot without runoff gets no bottles from a schedule that waits for it.
func (s Schedule) Times(t Truth) [][2]float64 {
	start := s.StartMin
	if s.AtOnset {
		start = t.OnsetMin.Or(t.RainMin)
	}
	var times [][2]float64
	if length := (t.RainMin - start - s.GapMin*float64(s.N-1)) / float64(s.N); s.N > 0 && length > 0 {
		for n := range s.N {
			from := start + float64(n)*(length+s.GapMin)
			to := from + length
			if n == s.N-1 {
				to = t.RainMin
			}
			times = append(times, [2]float64{from, to})
		}
	}
	if s.RecessionMin > 0 && t.OnsetMin.OK {
		times = append(times, [2]float64{t.RainMin, t.RainMin + s.RecessionMin})
	}
	return times
}

// Collect fills the bottles of a schedule and notes them with the errors of the
// instruments. The same seed of random gives the same bottles.
func (t Truth) Collect(s Schedule, in Instruments, random *rand.Rand) []Bottle {
	times := s.Times(t)
	bottles := make([]Bottle, len(times))
	noted := math.NaN() // what was noted for the end of the bottle before
	for n, iv := range times {
		volume, sediment := t.between(iv[0], iv[1])
		b := Bottle{Recession: iv[0] >= t.RainMin}
		b.StartMin = noted
		if n == 0 || math.Abs(iv[0]-times[n-1][1]) > 1e-9 { // a boundary that two bottles share is read once
			b.StartMin = in.noteTime(iv[0], random)
		}
		b.EndMin = in.noteTime(iv[1], random)
		noted = b.EndMin
		b.VolumeML = in.noteVolume(volume, random)
		b.SedimentG = math.Max(0, sediment+in.SedimentG*random.NormFloat64())
		if sediment == 0 {
			b.SedimentG = 0
		}
		bottles[n] = b
	}
	return bottles
}

func (in Instruments) noteTime(tMin float64, random *rand.Rand) float64 {
	if tMin == 0 {
		return 0
	}
	return toStep(math.Max(0, tMin+in.StopwatchMin*random.NormFloat64()), in.TimeStepMin)
}

func (in Instruments) noteVolume(volumeML float64, random *rand.Rand) float64 {
	e := math.Hypot(in.VolumeRel*volumeML, in.VolumeML) * random.NormFloat64()
	if volumeML == 0 {
		return 0 // a dry bottle is seen to be dry
	}
	return toStep(math.Max(0, volumeML+e), in.VolumeStepML)
}

func toStep(v, step float64) float64 {
	if step <= 0 {
		return v
	}
	return step * math.Round(v/step)
}
