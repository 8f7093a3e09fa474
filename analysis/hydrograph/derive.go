package hydrograph

import (
	"math"
	"strconv"

	"sheetwash/analysis/derivation"
	"sheetwash/analysis/experiment"
	"sheetwash/analysis/result"
)

// RainNodes is how the rain of the plot came about.
type RainNodes struct{ Depth, Intensity, Minutes derivation.Node }

// Derivations gives the derivations of the values of a Hydrograph.
type Derivations struct {
	h      *Hydrograph
	run    *experiment.Run
	rain   RainNodes
	wet    map[int]bool  // bottles that hold water, by sample
	inside map[int][]int // bottles whose water was added to that of another, by its sample
	m      masses
	area   derivation.Node
	words  result.Flags // what reading again would flag
	// Of each interval: how its volume came about, and for readings its rate.
	volumes, rates []derivation.Node
}

// Derive returns the derivations of the values of the hydrograph, which must be
// that of the run.
func (h *Hydrograph) Derive(run *experiment.Run, rain RainNodes) *Derivations {
	again := *h // reading the bottles adds flags
	again.Flags = nil
	d := &Derivations{h: h, run: run, rain: rain, wet: map[int]bool{}, m: newMasses(run, h)}
	for _, b := range again.readBottles(run) {
		d.wet[b.sample] = b.wet
	}
	d.area = derivation.Read("area", h.AreaM2, "m2", h.AreaM2*h.UAreaRel, place(h.plot.Place, "area"))
	d.area.Note = "horizontal projection"
	if h.FromReadings {
		d.deriveReadings()
	} else {
		d.deriveBottles()
	}
	return d
}

// Volume returns how the volume of the stream came about.
func (d *Derivations) Volume() derivation.Node {
	h := d.h
	n := derivation.Of("volume", h.VolumeML, "mL", derivation.Sum, d.volumes...).With(h.UVolumeML)
	n.Method = h.Source()
	for i := range h.plot.Samples {
		s := &h.plot.Samples[i]
		if s.Stream != h.Stream || h.FromReadings {
			continue
		}
		why := ""
		switch {
		case s.Exclude:
			why = "set aside in the data"
			if s.ExcludeReason != "" {
				why += ": " + s.ExcludeReason
			}
		case s.Flag == experiment.FlagLost:
			why = "the bottle was lost: its interval is a gap"
		case !hasWater(s) && s.Flag != experiment.FlagTrace:
			why = "the row says nothing of water"
		}
		if why != "" {
			at := place(s.Place, "")
			n.LeftOut = append(n.LeftOut, derivation.Omission{What: span("row", s.StartMin, s.EndMin), Why: why, From: &at})
		}
	}
	return n
}

// Depth returns how the depth of the stream came about.
func (d *Derivations) Depth(name string) derivation.Node {
	n := derivation.Formula(name, d.h.depthMM(d.h.VolumeML), "mm", "volume / (1000 * area)", d.Volume(), d.area)
	n.U = derivation.Number(d.h.Depth().U)
	n.Method = d.h.Source()
	return n
}

// Metric returns the derivation of a value of AppendRows or AppendDrainageRow;
// false where there is none of that metric and method.
func (d *Derivations) Metric(m result.Metric, method string, value float64) (derivation.Node, bool) {
	h, name := d.h, string(m)
	var n derivation.Node
	switch m {
	case result.RunoffDepth, result.DrainageDepth:
		n = d.Depth(name)
		n.Source = "definition; gaps by the trapezoidal rule"
	case result.InfiltrationDepth:
		n = derivation.Formula(name, h.InfiltrationDepth().Value.V, "mm", "rain_depth - runoff_depth", d.rain.Depth, d.Depth("runoff_depth"))
		n.Source = "water balance without storage"
	case result.RunoffCoefficient:
		n = derivation.Formula(name, h.Coefficient().Value.V, "1", "runoff_depth / rain_depth", d.Depth("runoff_depth"), d.rain.Depth)
		n.Source = "definition"
	case result.FinalRunoffRate:
		n = d.finalRate(name)
	case result.PeakRunoffRate:
		n = d.peakRate(name)
	case result.TimeToRunoff:
		n = d.TimeToRunoff(method)
	case result.TimeToPonding:
		n = derivation.Read(name, h.plot.PondingMin.V, "min", h.errs.OnsetMin, place(h.plot.Place, "ponding_start"))
	default:
		return d.losses(m, method, value)
	}
	return n, true
}

// finalRate is the mean of the last intervals by their lengths.
func (d *Derivations) finalRate(name string) derivation.Node {
	h := d.h
	if h.Status == Dry && !h.FromReadings {
		return d.none(name, "mm/h")
	}
	rates, lengths := derivation.ListOf("rate", "mm/h"), derivation.ListOf("length", "min")
	first, last := h.finalIntervals()
	for i := first; i <= last; i++ {
		if h.Intervals[i].Kind == Measured {
			rates.Inputs = append(rates.Inputs, d.Rate(i))
			lengths.Inputs = append(lengths.Inputs, d.minutes(i).Again("length"))
		}
	}
	n := derivation.Formula(name, h.FinalRate().Value.V, "mm/h", "dot(rate, length) / sum(length)", rates, lengths)
	n.LeftOut = append(n.LeftOut, derivation.Omission{
		What: "intervals before " + number(h.Intervals[first].StartMin) + " min, and those that end after the rain",
		Why:  "the final window is the last " + number(h.set.FinalWindowMin) + " min before the end of the last interval by the end of rain",
	})
	n.Source = "definition"
	return n
}

// peakRate is the largest rate of one interval.
func (d *Derivations) peakRate(name string) derivation.Node {
	h := d.h
	if h.Status == Dry {
		return d.none(name, "mm/h")
	}
	n := derivation.Of(name, h.PeakRate().Value.V, "mm/h", derivation.Largest)
	short := 0
	for i := range h.Intervals {
		iv := &h.Intervals[i]
		switch {
		case iv.Kind != Measured:
		case iv.Minutes() < h.set.LeastPeakMin-sameMin:
			short++
		default:
			n.Inputs = append(n.Inputs, d.Rate(i))
		}
	}
	if short > 0 {
		n.LeftOut = append(n.LeftOut, derivation.Omission{
			What: strconv.Itoa(short) + " intervals shorter than " + number(h.set.LeastPeakMin) + " min",
			Why:  "the error of a bottle change would be too large a share",
		})
	}
	n.Source = "definition"
	return n
}

// none is the value of a stream that was seen to be dry.
func (d *Derivations) none(name, unit string) derivation.Node {
	n := derivation.Setting(name, 0, unit, "no water ran off: every bottle is dry within its reading error")
	if d.h.plot.Onset == experiment.OnsetNone {
		at := place(d.h.plot.Place, "runoff_start")
		n.From, n.Note = &at, "no runoff was noted"
	}
	return n
}

// Rate returns how the rate of an interval came about.
func (d *Derivations) Rate(i int) derivation.Node {
	h := d.h
	iv := &h.Intervals[i]
	if d.rates != nil {
		return d.rates[i]
	}
	if iv.Kind == NoFlow {
		return d.volumes[i].Named("rate").With(0)
	}
	n := derivation.Formula("rate", iv.RateMMH, "mm/h", "0.06 * volume / (area * minutes)", d.volumes[i], d.area, d.minutes(i)).
		With(math.Hypot(iv.URateMMH, iv.RateMMH*h.UAreaRel))
	n.Note = span(kindWord(iv.Kind), iv.StartMin, iv.EndMin)
	return n
}

func kindWord(k Kind) string {
	switch k {
	case NoFlow:
		return "no flow"
	case Interpolated:
		return "gap, interpolated"
	case Held:
		return "not collected, last rate held"
	default:
		return ""
	}
}

func place(p experiment.Place, column string) derivation.Place {
	return derivation.Place{File: p.File, Row: p.Row, Column: column}
}

func span(what string, from, to float64) string {
	between := number(from) + " to " + number(to) + " min"
	if what == "" {
		return between
	}
	return what + " from " + between
}

func number(v float64) string { return strconv.FormatFloat(v, 'g', 6, 64) }

// Volumes returns how the volume of each interval came about.
func (d *Derivations) Volumes() []derivation.Node { return d.volumes }

// Area returns how the area of the plot came about.
func (d *Derivations) Area() derivation.Node { return d.area }

// Known reports whether anything is known of the stream.
func (d *Derivations) Known() bool { return d.h.NMeasured > 0 }
