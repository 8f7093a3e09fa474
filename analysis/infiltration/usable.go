package infiltration

import (
	"cmp"
	"math"
	"slices"

	"sheetwash/analysis/internal/fit"
	"sheetwash/analysis/quantity"
)

// usable is what a plot's intervals say about capacity: apparent infiltration
// f = i - q over the intervals in which water ran off from start to end.
type usable struct {
	means    []fit.Mean // by time; minutes and mm/h
	atMost   []fit.Mean // intervals of which only q's lower bound, f's upper bound, is known
	diluted  *fit.Mean  // the first interval with water, whole: its rate is at most that of its wet part
	fromMin  float64    // runoff had begun by then
	onsetMin float64    // when it began, as well as is known
	dry      bool       // there are intervals, none of them holds water, and no onset was seen
	nothing  bool       // there are no intervals and no onset was seen
}

// leastU is the smallest uncertainty that an interval is given, as a share of
// the intensity: exact readings would leave the fit without a scale.
const leastU = 1e-5

// overtimeShare is by how much of its time under rain an interval may reach
// beyond the end of rain and still take part.
const overtimeShare = 0.2

// splitLeast is how many standard uncertainties of the onset the wet part of an
// interval must last for its rate to be known.
const splitLeast = 4

func (in *Input) usable() usable {
	var u usable
	ordered := in.ordered()
	onset, wet := in.begin(ordered)
	u.nothing = len(ordered) == 0 && !onset.OK
	u.dry = !u.nothing && wet == len(ordered) && !onset.OK
	u.fromMin = onset.Or(0)
	u.onsetMin = u.fromMin
	if wet < len(ordered) {
		m := in.mean(ordered[wet])
		u.diluted = &m
		if !onset.OK {
			u.fromMin = ordered[wet].EndMin
			u.onsetMin = within(ordered, wet)
		}
	}
	u.means = make([]fit.Mean, 0, len(ordered))
	for _, iv := range ordered {
		if onset.OK && iv.StartMin < onset.V && iv.EndMin > onset.V+splitLeast*in.UOnsetMin {
			iv = in.split(iv, onset.V)
		}
		if iv.StartMin < u.fromMin-1e-9 {
			continue
		}
		if m := in.mean(iv); iv.LowerBound {
			u.atMost = append(u.atMost, m)
		} else {
			u.means = append(u.means, m)
		}
	}
	return u
}

// ordered returns the intervals that lie within the rain, by time.
func (in *Input) ordered() []Interval {
	out := make([]Interval, 0, len(in.Intervals))
	for _, iv := range in.Intervals {
		finite := !math.IsNaN(iv.RateMMH-iv.RateMMH) && !math.IsInf(iv.EndMin, 0)
		if !finite || !(iv.EndMin > iv.StartMin) || iv.StartMin >= in.RainMin {
			continue
		}
		if iv.EndMin > in.RainMin+endSlackMin {
			if iv.EndMin-in.RainMin > overtimeShare*(in.RainMin-iv.StartMin) {
				continue
			}
			iv = in.underRain(iv)
		}
		out = append(out, iv)
	}
	slices.SortFunc(out, func(a, b Interval) int {
		return cmp.Or(cmp.Compare(a.StartMin, b.StartMin), cmp.Compare(a.EndMin, b.EndMin), cmp.Compare(a.RateMMH, b.RateMMH), cmp.Compare(a.U, b.U))
	})
	return out
}

// underRain returns an interval that reaches a little beyond the end of rain,
// cut off there. Between none and all of the flow of that time went on: the
// rate under rain lies between the whole interval's mean and all of its water
// over the part under rain, anywhere (rectangular, GUM 4.3.7).
func (in *Input) underRain(iv Interval) Interval {
	most := iv.RateMMH * (iv.EndMin - iv.StartMin) / (in.RainMin - iv.StartMin)
	iv.U = math.Hypot(iv.U, (most-iv.RateMMH)/math.Sqrt(12))
	iv.RateMMH = (iv.RateMMH + most) / 2
	iv.EndMin = in.RainMin
	return iv
}

// within estimates when in the first interval with water runoff began: as if
// it had run at the next interval's rate from then on.
func within(ordered []Interval, wet int) float64 {
	iv := ordered[wet]
	if wet+1 == len(ordered) || !(ordered[wet+1].RateMMH > 0) {
		return iv.StartMin
	}
	share := math.Min(1, iv.RateMMH/ordered[wet+1].RateMMH)
	return iv.EndMin - share*(iv.EndMin-iv.StartMin)
}

// begin returns the time at which runoff is known to have begun, if it is, and
// the index of the first interval with runoff; a bottle that overflowed or was
// spilled held some, whatever it read. A first bottle that is not dry
// and does not start with the rain was started at first flow.
func (in *Input) begin(ordered []Interval) (quantity.Optional, int) {
	wet := 0
	for wet < len(ordered) && !(ordered[wet].RateMMH > 0) && !ordered[wet].LowerBound {
		wet++
	}
	if !in.OnsetMin.OK && wet == 0 && len(ordered) > 0 && ordered[0].StartMin > endSlackMin {
		return quantity.Some(ordered[0].StartMin), wet
	}
	return in.OnsetMin, wet
}

// split gives the water of an interval to the part of it after the onset.
func (in *Input) split(iv Interval, onsetMin float64) Interval {
	whole, part := iv.EndMin-iv.StartMin, iv.EndMin-onsetMin
	iv.RateMMH *= whole / part
	iv.U = math.Hypot(iv.U*whole/part, iv.RateMMH*in.UOnsetMin/part)
	iv.StartMin = onsetMin
	return iv
}

func (in *Input) mean(iv Interval) fit.Mean {
	u := iv.U
	if !(u > leastU*in.IntensityMMH) {
		u = leastU * in.IntensityMMH
	}
	return fit.Mean{Start: iv.StartMin, End: min(iv.EndMin, in.RainMin), Value: in.IntensityMMH - iv.RateMMH, U: u}
}
