package hydrograph

import (
	"math"

	"sheetwash/analysis/experiment"
	"sheetwash/analysis/result"
)

// Settings are the choices that the methods leave open.
type Settings struct {
	Level          float64 // of intervals
	ThresholdShare float64 // of the intensity, that the rate passes at the time to runoff by threshold
	SlopeWindowMin float64 // of the least-squares slopes of cumulative readings
	LeastPeakMin   float64 // shortest collection that counts for the peak
	FinalWindowMin float64 // before the end of rain, for the final rate
}

// DefaultSettings returns 95 % intervals, a threshold of 5 %, slopes over 60 s,
// peaks of bottles of 30 s and more (a bottle change of 1 s at each end is then
// under 5 %) and a final rate over the last 10 min.
func DefaultSettings() Settings {
	return Settings{Level: 0.95, ThresholdShare: 0.05, SlopeWindowMin: 1, LeastPeakMin: 0.5, FinalWindowMin: 10}
}

// Rain is the rain of the plot, as far as a hydrograph needs it.
type Rain struct {
	IntensityMMH float64 // mean from rain on to rain off
	DurationMin  float64
	DepthMM      float64
	// UDepthShared is the standard uncertainty of the depth that all plots of the
	// run have in common, UDepth the plot's own, with DFShared and DF degrees of
	// freedom (0: known). mm.
	UDepthShared, DFShared, UDepth, DF float64
	// EdgesMin and RatesMMH are the course of a rain that is not constant; nil else.
	EdgesMin, RatesMMH []float64
}

// Kind says where the volume of an interval comes from.
type Kind uint8

// The kinds of interval. Only Measured ones were caught and read.
const (
	Measured     Kind = iota
	NoFlow            // before the onset, or no runoff at all: zero by observation
	Interpolated      // not collected: from the neighbouring rates
	Held              // not collected until the end of rain: the last rate held
)

// Interval is a stretch of time with its mean rate.
type Interval struct {
	StartMin, EndMin    float64
	VolumeML, UVolumeML float64 // of the suspension; u: reading only
	// RateMMH is the mean rate. URateMMH is the part of its standard uncertainty
	// that is independent of other intervals: volume and timing. The area's is
	// common to the plot, see Hydrograph.UAreaRel.
	RateMMH, URateMMH float64
	Kind              Kind
	LowerBound        bool // overflow, spilled or leak: the true volume is at least this
	Sample            int  // index in Plot.Samples, -1 for none
	Flags             result.Flags
}

// Minutes returns the length of the interval.
func (iv *Interval) Minutes() float64 { return iv.EndMin - iv.StartMin }

// Status says what is known of a stream.
type Status uint8

// The states of a stream. Dry is an observation; NoData is none. What was read
// may be dry and the stream still be NoData: where bottles that could not be read
// stand after the dry ones, nobody knows what ran off.
const (
	NoData Status = iota
	Dry
	Flowing
)

// Hydrograph is the course of one stream of one plot from the start of rain.
// Its intervals are in order and without gaps from the start of rain on.
type Hydrograph struct {
	Stream       experiment.Stream
	Status       Status
	FromReadings bool // intervals from a logger, not from bottles
	Intervals    []Interval
	AreaM2       float64
	UAreaRel     float64 // relative standard uncertainty of the area, common to the plot
	VolumeML     float64 // all intervals
	UVolumeML    float64 // standard uncertainty of VolumeML: readings, timing and interpolation
	UChangeML    float64 // its part that may run past at bottle changes, with its sediment
	NMeasured    int     // bottles or windows of readings that were read
	// InterpolatedML and HeldML are the parts of VolumeML that were not caught.
	InterpolatedML, HeldML float64
	LowerBound             bool // VolumeML is at least this
	Flags                  result.Flags

	rain    Rain
	plot    *experiment.Plot
	errs    experiment.ErrorModel
	set     Settings
	first   firstWater
	remarks []remark    // on rows whose water is not known, by start
	fine    []ratePoint // moving slopes of readings, for the onset
}

// Of returns the runoff hydrograph of a plot.
//
// Where there are bottles and readings both, the readings make the hydrograph
// if they cover the run as far as the bottles do, and the bottles serve the
// concentrations; readings whose volume over the bottles' intervals differs by
// more than 5 % from theirs are flagged readings_disagree. A plot without
// either, whose crew noted that there was no runoff, is Dry; else it is NoData. So
// is one whose bottles were dry as far as they could be read (see Status).
func Of(run *experiment.Run, plot *experiment.Plot, rain Rain, errs experiment.ErrorModel, s Settings) Hydrograph {
	return of(experiment.Runoff, run, plot, rain, errs, s)
}

// OfDrainage returns the like for the water that drained through the plot. No
// flow is assumed before the first bottle, and nothing is held to the end of rain.
func OfDrainage(run *experiment.Run, plot *experiment.Plot, rain Rain, errs experiment.ErrorModel, s Settings) Hydrograph {
	return of(experiment.Drainage, run, plot, rain, errs, s)
}

func of(stream experiment.Stream, run *experiment.Run, plot *experiment.Plot, rain Rain, errs experiment.ErrorModel, s Settings) Hydrograph {
	h := Hydrograph{Stream: stream, AreaM2: plot.AreaM2, UAreaRel: errs.AreaRel, rain: rain, plot: plot, errs: errs, set: s}
	h.readRemarks()
	bottles := h.readBottles(run)
	h.first = firstWaterOf(bottles, h.unreadWater())
	if series := runoffSeries(plot.Series, stream); series != nil && covers(series, bottles, rain.DurationMin) {
		h.fromReadings(run, series)
		h.compare(bottles)
		return h
	}
	if len(bottles) > 0 {
		h.assemble(bottles)
		return h
	}
	if stream == experiment.Runoff && plot.Onset == experiment.OnsetNone {
		h.Status = Dry
		h.Intervals = []Interval{{EndMin: rain.DurationMin, Kind: NoFlow, Sample: -1, Flags: result.Flags{"no_runoff"}}}
		h.Flags.Add("no_runoff")
		return h
	}
	h.Flags.Add("no_bottles")
	return h
}

// rateMMH turns a volume over a time into a rate over the plot.
//
//	q = 0.06 V / (A d)
//
// Units: V in mL, A in m2, d in min, q in mm/h; 1 mL on 1 m2 is 0.001 mm.
func (h *Hydrograph) rateMMH(volumeML, minutes float64) float64 {
	return 0.06 * volumeML / (h.AreaM2 * minutes)
}

// slackMin is the difference below which two noted times may be the same, min:
// twice the standard uncertainty of the difference of two bottle changes.
func (h *Hydrograph) slackMin() float64 { return 2*math.Sqrt2*h.errs.BottleChange + sameMin }

// withinRain reports whether an interval ends by the end of rain, but for the
// error of a noted time.
func (h *Hydrograph) withinRain(iv *Interval) bool {
	return iv.EndMin <= h.rain.DurationMin+h.slackMin()
}

// depthMM turns a volume into a depth over the plot.
func (h *Hydrograph) depthMM(volumeML float64) float64 { return volumeML / (1000 * h.AreaM2) }
