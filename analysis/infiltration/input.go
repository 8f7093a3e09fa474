package infiltration

import (
	"math"

	"sheetwash/analysis/quantity"
)

// Interval is the mean runoff rate over one interval of collection.
type Interval struct {
	StartMin, EndMin float64
	RateMMH          float64
	U                float64 // standard uncertainty, mm/h, of what is not shared with other intervals
	LowerBound       bool    // the bottle overflowed, leaked or was spilled: at least this much ran off
}

// Input is what Steady needs of one plot. Order of the intervals is of no
// importance; gaps between them are intervals that are not there.
type Input struct {
	Intervals    []Interval
	IntensityMMH float64
	UIntensity   float64 // standard uncertainty, mm/h; shared by all intervals and by the plots of a run
	DFIntensity  float64 // degrees of freedom of UIntensity; 0: known
	UAreaRel     float64 // relative standard uncertainty of the plot's area; shared by all intervals
	UChangeRel   float64 // relative standard uncertainty of the rates from what every bottle change misses; shared by all intervals
	RainMin      float64
	OnsetMin     quantity.Optional // observed first sustained runoff
	UOnsetMin    float64           // standard uncertainty of OnsetMin
	RanOff       bool              // false: watched to the end of rain, and nothing ran off
	Level        float64           // of the intervals; 0: 0.95
	Tolerance    Tolerance         // zero value: DefaultTolerance
}

// Tolerance says how much a rate may still fall over the final window and be
// called steady: the larger of a share of the rate and a share of the intensity.
type Tolerance struct{ OfRate, OfIntensity float64 }

// DefaultTolerance returns 10 % of the rate or 2 % of the intensity. Common
// practice for the first, the reading error of a bottle for the second; no
// published source.
func DefaultTolerance() Tolerance { return Tolerance{OfRate: 0.10, OfIntensity: 0.02} }

func (t Tolerance) at(rate, intensity float64) float64 {
	return math.Max(t.OfRate*math.Abs(rate), t.OfIntensity*intensity)
}

const defaultLevel = 0.95

// endSlackMin is how far a bottle may be noted to end after the end of rain and
// still count as one that ended with it: three times the usual error of a time.
const endSlackMin = 0.05
