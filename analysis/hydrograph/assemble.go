package hydrograph

import (
	"math"

	"sheetwash/analysis/experiment"
	"sheetwash/analysis/result"
)

// assembly joins bottles to a course without gaps, and keeps for each bottle
// the weight of its volume in the total: one, plus what it lends to the gaps
// beside it.
type assembly struct {
	h       *Hydrograph
	bottles []bottle
	weight  []float64
	squares float64 // of the uncertainties of interpolation, mL^2
}

// assemble makes the hydrograph of bottles, of which there is at least one.
//
// Volume over a gap is by the trapezoidal rule from the neighbouring mean rates,
//
//	V_gap = g (r_before + r_after) / 2,  u = g |r_after - r_before| / sqrt(12)
//
// with the gap's length g and rates r in mL/min: the truth is taken to lie
// anywhere between the two. A dry bottle lends the rate 0. Where the onset was
// noted inside a gap or a first bottle, flow begins there: the bottle's rate is
// taken from then on. A bottle that ends before the rain does leaves its rate to
// hold until the end of rain (flag collection_ended_early).
// Source: trapezoidal rule; rectangular distribution [GUM2008] 4.3.7.
func (h *Hydrograph) assemble(bottles []bottle) {
	a := assembly{h: h, bottles: bottles, weight: make([]float64, len(bottles))}
	h.Intervals = make([]Interval, 0, len(bottles)+4)
	h.NMeasured = len(bottles)
	h.Status = Dry
	for i := range bottles {
		a.weight[i] = 1
		if bottles[i].wet {
			h.Status = Flowing
		}
	}
	if h.Status == Dry {
		if words := h.unread(bottles[len(bottles)-1].end); len(words) > 0 {
			h.Status = NoData
			h.Flags.Add("gap")
			h.Flags.Add(words...)
		}
	}
	onset, noted := a.splitAtOnset()
	a.lead(onset, noted)
	for i := range bottles {
		if i > 0 && bottles[i].start > bottles[i-1].end+sameMin {
			a.gap(i, onset, noted)
		}
		a.add(i)
	}
	a.trail()
	a.total()
	if h.Status == Dry {
		h.Flags.Add("no_runoff")
	}
}

// splitAtOnset cuts the bottle that was under the lip at the noted onset, unless
// earlier bottles hold water (flag water_before_onset).
func (a *assembly) splitAtOnset() (onset float64, noted bool) {
	h := a.h
	if h.Stream != experiment.Runoff || h.plot.Onset != experiment.OnsetNoted {
		if h.plot.Onset == experiment.OnsetNone && h.Stream == experiment.Runoff && h.first.wet && h.first.startMin < h.rain.DurationMin-sameMin {
			h.Flags.Add("water_without_onset")
		}
		return 0, false
	}
	onset = h.plot.OnsetMin
	for i := range a.bottles {
		b := &a.bottles[i]
		switch {
		case b.end <= onset+sameMin && b.wet:
			h.Flags.Add("water_before_onset")
			return onset, true
		case b.end > onset+sameMin:
			if b.wet && b.start < onset-sameMin {
				b.start, b.uStart = onset, h.errs.OnsetMin
				b.flags.Add("from_onset")
			}
			return onset, true
		}
	}
	return onset, true
}

// lead fills the time from the start of rain to a first bottle that starts later.
//
// Flow before a noted onset, and before a dry bottle, is none; a bottle that starts
// within twice the error of the two times after the onset was put up at it. A lost row, or
// room for just one bottle of the same length, says that the first bottle is
// missing: flow rises through its time from nothing (flag leading_gap). Else
// the bottle is taken to have been put up when flow began (flag start_assumed).
func (a *assembly) lead(onset float64, noted bool) {
	b := &a.bottles[0]
	if b.start <= sameMin {
		return
	}
	var words result.Flags
	a.h.missing(&words, 0, b.start)
	switch {
	case !b.wet || noted && onset >= b.start-2*math.Hypot(a.h.errs.OnsetMin, a.h.errs.BottleChange)-sameMin,
		!noted && b.start <= a.h.slackMin():
		a.noFlow(0, b.start)
	case noted:
		a.noFlow(0, onset)
		a.bridge(-1, 0, onset, b.start, "leading_gap")
	case len(words) > 0 || a.h.Stream == experiment.Runoff && math.Abs(b.start-b.minutes()) <= 0.02*b.minutes():
		a.bridge(-1, 0, 0, b.start, "leading_gap")
	case a.h.Stream != experiment.Runoff:
		a.noFlow(0, b.start)
	default:
		a.noFlow(0, b.start)
		a.h.Flags.Add("start_assumed")
	}
}

// gap fills the time between bottle i-1 and bottle i.
func (a *assembly) gap(i int, onset float64, noted bool) {
	from, to := a.bottles[i-1].end, a.bottles[i].start
	if noted && !a.bottles[i-1].wet && onset > from+sameMin {
		flow := min(onset, to)
		a.noFlow(from, flow)
		from = flow
	}
	if to > from+sameMin {
		a.bridge(i-1, i, from, to, "")
	}
}

func (a *assembly) noFlow(from, to float64) {
	if to > from+sameMin {
		a.h.Intervals = append(a.h.Intervals, Interval{StartMin: from, EndMin: to, Kind: NoFlow, Sample: -1})
	}
}

// bridge interpolates between the rates of two bottles; -1 stands for no flow. A
// gap no longer than the error of its times is filled as well, but flagged
// bottle_change in its own row only.
func (a *assembly) bridge(before, after int, from, to float64, word string) {
	g := to - from
	var rb, ra, ub, ua float64
	lend := func(i int) (rate, u float64) {
		if i < 0 || !a.bottles[i].wet {
			return 0, 0
		}
		b := &a.bottles[i]
		a.weight[i] += g / (2 * b.minutes())
		return b.mlPerMin(), b.u / b.minutes()
	}
	rb, ub = lend(before)
	ra, ua = lend(after)
	spread := g * math.Abs(ra-rb) / math.Sqrt(12)
	a.squares += spread * spread
	iv := Interval{StartMin: from, EndMin: to, VolumeML: g * (rb + ra) / 2, Kind: Interpolated, Sample: -1}
	iv.UVolumeML = math.Hypot(spread, g/2*math.Hypot(ub, ua))
	iv.RateMMH, iv.URateMMH = a.h.rateMMH(iv.VolumeML, g), a.h.rateMMH(iv.UVolumeML, g)
	a.h.InterpolatedML += iv.VolumeML
	if g <= a.h.slackMin() {
		iv.Flags.Add("bottle_change")
	} else {
		iv.Flags.Add("gap", "interpolated", word)
		a.h.missing(&iv.Flags, from, to)
		a.h.Flags.Add(iv.Flags...)
	}
	a.h.Intervals = append(a.h.Intervals, iv)
}

// add appends the interval of bottle i.
//
//	u(q)^2 = (0.06 u(V) / (A d))^2 + (q u(d) / d)^2
//
// with u(d) from the bottle change at each end, or from the onset at the first.
func (a *assembly) add(i int) {
	h, b := a.h, &a.bottles[i]
	d := b.minutes()
	iv := Interval{StartMin: b.start, EndMin: b.end, VolumeML: b.ml, UVolumeML: b.u, LowerBound: b.lower, Sample: b.sample, Flags: b.flags}
	iv.RateMMH = h.rateMMH(b.ml, d)
	iv.URateMMH = math.Hypot(h.rateMMH(b.u, d), iv.RateMMH*math.Hypot(b.uStart, h.errs.BottleChange)/d)
	h.LowerBound = h.LowerBound || b.lower
	if b.lower {
		h.Flags.Add(h.plot.Samples[b.sample].Flag.String())
	}
	h.Intervals = append(h.Intervals, iv)
}

// trail fills the time from the last bottle to the end of rain, and the time of
// lost bottles of the recession. Nothing is held where it is not known whether
// water ran off.
//
// The held rate is that of the last bottle; the trend between the last two
// bottles, carried on, is its standard uncertainty. A lost recession is taken to
// fall from the last rate to nothing.
func (a *assembly) trail() {
	h := a.h
	n := len(a.bottles) - 1
	b := &a.bottles[n]
	end := b.end
	if h.Status == NoData {
		return
	}
	if g := h.rain.DurationMin - end; g > h.slackMin() {
		if h.Stream == experiment.Runoff {
			a.hold(n, g)
			end = h.rain.DurationMin
		} else {
			h.Flags.Add("collection_ended_early")
		}
	}
	last := end
	for i := range h.plot.Samples {
		s := &h.plot.Samples[i]
		water := hasWater(s)
		if s.Stream == h.Stream && s.EndMin > last && (s.Flag == experiment.FlagLost || s.Exclude && water) {
			last = s.EndMin
		}
	}
	if last > end+sameMin && b.wet {
		a.bridge(n, -1, end, last, "")
	}
}

func (a *assembly) hold(n int, g float64) {
	h, b := a.h, &a.bottles[n]
	iv := Interval{StartMin: b.end, EndMin: h.rain.DurationMin, Kind: Held, Sample: -1, Flags: result.Flags{"gap", "held"}}
	if b.wet {
		a.weight[n] += g / b.minutes()
		iv.VolumeML = g * b.mlPerMin()
		var trend float64
		if n > 0 {
			p := &a.bottles[n-1]
			slope := (b.mlPerMin() - p.mlPerMin()) / ((b.start + b.end - p.start - p.end) / 2)
			trend = g * math.Abs(slope) * (g + b.minutes()) / 2
		}
		a.squares += trend * trend
		iv.UVolumeML = math.Hypot(trend, g*b.u/b.minutes())
		iv.RateMMH, iv.URateMMH = h.rateMMH(iv.VolumeML, g), h.rateMMH(iv.UVolumeML, g)
		h.HeldML += iv.VolumeML
	}
	n0 := len(iv.Flags)
	h.missing(&iv.Flags, b.end, h.rain.DurationMin)
	if len(iv.Flags) == n0 {
		iv.Flags.Add("collection_ended_early")
	}
	h.Intervals = append(h.Intervals, iv)
	h.Flags.Add(iv.Flags...)
}

// total adds up the volumes and their errors.
//
//	u(V)^2 = sum (w_i u_i)^2 + sum u_gap^2 + sum ((w_i - 1) V_i u(d_i) / d_i)^2 + (tau sum r_j)^2
//
// w_i is one plus the share of gaps that bottle i stands for, u_i its reading
// error. The last term is the bottle change between bottles that follow each
// other without a gap: what runs past at a change, tau = 1 s of flow at the mean
// rate r_j of the two, is missed in each change alike and adds up; it does not
// average out. A time read wrong between two such bottles moves water from one
// to the other and leaves the total as it is. An empty bottle has no reading error.
// Source: [GUM2008] 5.1.2, 5.2.2 with the correlations said.
func (a *assembly) total() {
	h := a.h
	for i := range h.Intervals {
		h.VolumeML += h.Intervals[i].VolumeML
	}
	squares := a.squares
	var changes float64
	for i := range a.bottles {
		b := &a.bottles[i]
		if b.ml == 0 && !b.wet {
			continue
		}
		d := b.minutes()
		read := a.weight[i] * b.u
		lent := (a.weight[i] - 1) * b.ml * math.Hypot(b.uStart, h.errs.BottleChange) / d
		squares += read*read + lent*lent
		if i > 0 && a.bottles[i-1].wet && b.start <= a.bottles[i-1].end+sameMin {
			changes += (b.mlPerMin() + a.bottles[i-1].mlPerMin()) / 2
		}
	}
	h.UChangeML = changes * h.errs.BottleChange
	h.UVolumeML = math.Sqrt(squares + h.UChangeML*h.UChangeML)
}
