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
	diluted  *fit.Mean  // the interval in which runoff began at an unknown time
	fromMin  float64    // runoff had begun by then
	onsetMin float64    // when it began, as well as is known
	after    int        // intervals left out since they reach beyond the end of rain
	negative bool       // some f is below 0
}

// leastU is the smallest uncertainty that an interval is given, as a share of
// the intensity: exact readings would leave the fit without a scale.
const leastU = 1e-5

func (in *Input) usable() usable {
	var u usable
	ordered := make([]Interval, 0, len(in.Intervals))
	for _, iv := range in.Intervals {
		switch {
		case !(iv.EndMin > iv.StartMin) || math.IsNaN(iv.RateMMH) || math.IsInf(iv.RateMMH, 0):
		case iv.StartMin >= in.RainMin:
		case iv.EndMin > in.RainMin+endSlackMin:
			u.after++
		default:
			ordered = append(ordered, iv)
		}
	}
	slices.SortFunc(ordered, func(a, b Interval) int {
		return cmp.Or(cmp.Compare(a.StartMin, b.StartMin), cmp.Compare(a.EndMin, b.EndMin), cmp.Compare(a.RateMMH, b.RateMMH))
	})
	onset, wet := in.begin(ordered)
	u.fromMin = onset.Or(0)
	u.onsetMin = u.fromMin
	if !onset.OK && wet < len(ordered) {
		iv := ordered[wet]
		m := in.mean(iv)
		u.diluted = &m
		u.fromMin = iv.EndMin
		u.onsetMin = iv.StartMin
		if wet+1 < len(ordered) && ordered[wet+1].RateMMH > 0 {
			share := math.Min(1, iv.RateMMH/ordered[wet+1].RateMMH)
			u.onsetMin = iv.EndMin - share*(iv.EndMin-iv.StartMin)
		}
	}
	u.means = make([]fit.Mean, 0, len(ordered))
	for _, iv := range ordered {
		if onset.OK && iv.StartMin < onset.V && iv.EndMin > onset.V {
			iv = in.split(iv, onset.V)
		}
		if iv.StartMin < u.fromMin-1e-9 || !(iv.EndMin > iv.StartMin) {
			continue
		}
		m := in.mean(iv)
		u.negative = u.negative || m.Value < 0
		if iv.LowerBound {
			u.atMost = append(u.atMost, m)
		} else {
			u.means = append(u.means, m)
		}
	}
	return u
}

// begin returns the time at which runoff is known to have begun, if it is, and
// the index of the first interval with runoff. A first bottle that is not dry
// and does not start with the rain was started at first flow.
func (in *Input) begin(ordered []Interval) (quantity.Optional, int) {
	wet := 0
	for wet < len(ordered) && !(ordered[wet].RateMMH > 0) {
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
	return fit.Mean{Start: iv.StartMin, End: math.Min(iv.EndMin, in.RainMin), Value: in.IntensityMMH - iv.RateMMH, U: u}
}
