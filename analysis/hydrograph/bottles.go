package hydrograph

import (
	"cmp"
	"math"
	"slices"
	"sort"

	"sheetwash/analysis/experiment"
	"sheetwash/analysis/internal/gum"
	"sheetwash/analysis/result"
)

// sameMin is the difference below which two times are one: 0.06 ms.
const sameMin = 1e-6

// bottle is a sample with its volume.
type bottle struct {
	start, end float64
	ml, u      float64 // suspension
	uStart     float64 // of the start, min
	wet        bool    // holds water beyond its reading error
	lower      bool
	sample     int
	flags      result.Flags
}

func (b *bottle) minutes() float64  { return b.end - b.start }
func (b *bottle) mlPerMin() float64 { return b.ml / (b.end - b.start) }

// readBottles returns the bottles of the stream whose volume is known, in order
// of time and without overlap. Rows that carry sediment only, lost, excluded and
// unread bottles are not among them: what they leave is a gap.
func (h *Hydrograph) readBottles(run *experiment.Run) []bottle {
	var out []bottle
	var m masses
	for i := range h.plot.Samples {
		s := &h.plot.Samples[i]
		if s.Stream != h.Stream || s.Exclude || s.Flag == experiment.FlagLost {
			continue
		}
		b := bottle{start: s.StartMin, end: s.EndMin, uStart: h.errs.BottleChange, sample: i, lower: s.Flag.LowerBound()}
		switch {
		case s.VolumeML.OK:
			b.ml = s.VolumeML.V
			b.u = gum.Combined(h.errs.VolumeRel*b.ml, h.errs.VolumeML)
			b.wet = b.ml > 0
		case s.GrossG.OK && s.TareG.OK:
			if m.samples == nil {
				m = newMasses(run, h)
			}
			b.ml, b.u = m.volume(s, &b.flags)
			b.wet = b.ml > 2*b.u
		case s.Flag == experiment.FlagTrace:
			b.u, b.wet = h.errs.VolumeML, true
		default:
			continue
		}
		if s.Flag != experiment.FlagOK {
			b.flags.Add(s.Flag.String())
			b.wet = true
		}
		if out == nil {
			out = make([]bottle, 0, len(h.plot.Samples)-i)
		}
		out = append(out, b)
	}
	h.Flags.Add(m.flags...)
	return h.inOrder(out)
}

// inOrder sorts bottles by time and resolves overlaps. Overlapping times cannot
// both be right: the water of both is kept, the later bottle is taken to begin
// where the earlier one ends, one inside another is added to it, and either is
// flagged overlap.
func (h *Hydrograph) inOrder(bottles []bottle) []bottle {
	if !slices.IsSortedFunc(bottles, byTime) {
		slices.SortStableFunc(bottles, byTime)
	}
	out := bottles[:0]
	for _, b := range bottles {
		if len(out) == 0 || b.start >= out[len(out)-1].end-sameMin {
			out = append(out, b)
			continue
		}
		h.Flags.Add("overlap")
		last := &out[len(out)-1]
		if b.end > last.end+sameMin {
			b.start = last.end
			b.flags.Add("overlap")
			out = append(out, b)
			continue
		}
		last.ml += b.ml
		last.u = math.Hypot(last.u, b.u)
		last.wet = last.wet || b.wet
		last.lower = last.lower || b.lower
		last.flags.Add("overlap")
	}
	return out
}

func byTime(a, b bottle) int {
	return cmp.Or(cmp.Compare(a.start, b.start), cmp.Compare(a.end, b.end))
}

// remark says why nothing is known of the water of a row.
type remark struct {
	start, end float64
	latest     float64 // the latest end of this and earlier remarks
	word       string
}

// readRemarks gathers the remarks of the stream by ascending start.
func (h *Hydrograph) readRemarks() {
	for i := range h.plot.Samples {
		s := &h.plot.Samples[i]
		if s.Stream != h.Stream {
			continue
		}
		word := ""
		switch water := hasWater(s); {
		case s.Exclude && (water || !hasSediment(s)):
			word = "excluded"
		case water || s.Exclude:
		case s.Flag == experiment.FlagLost || s.Flag.LowerBound():
			word = s.Flag.String()
		case !hasSediment(s) && s.Flag == experiment.FlagOK:
			word = "volume_missing"
		}
		if word != "" {
			h.remarks = append(h.remarks, remark{start: s.StartMin, end: s.EndMin, word: word})
		}
	}
	slices.SortStableFunc(h.remarks, func(a, b remark) int { return cmp.Compare(a.start, b.start) })
	for k := range h.remarks {
		h.remarks[k].latest = max(h.remarks[k].end, h.remarks[max(0, k-1)].latest)
	}
}

// missing adds to words why nothing is known between two times: the remarks on
// the rows that stand there.
func (h *Hydrograph) missing(words *result.Flags, startMin, endMin float64) {
	first := sort.Search(len(h.remarks), func(k int) bool { return h.remarks[k].latest > startMin+sameMin })
	for k := first; k < len(h.remarks) && h.remarks[k].start < endMin-sameMin; k++ {
		if h.remarks[k].end > startMin+sameMin {
			words.Add(h.remarks[k].word)
		}
	}
}

// hasSediment reports whether a row says something of sediment.
func hasSediment(s *experiment.Sample) bool {
	return s.SedimentG.OK || s.SedimentGrossG.OK || s.ConcentrationGL.OK || s.SedimentPending
}

// firstWater is what bottles tell of the beginning of flow.
type firstWater struct {
	bottles   int // read, or known to have held water
	read      int
	wet       bool
	lowMin    float64 // end of the last dry bottle before the first wet one, or 0
	highMin   float64 // end of the first wet bottle
	startMin  float64 // start of the first wet bottle
	dryEndMin float64 // end of the last bottle where all are dry
}

// firstWaterOf joins the bottles that were read with those that held water and
// were not, both in order of time.
func firstWaterOf(read, unread []bottle) firstWater {
	bottles := read
	if len(unread) > 0 {
		bottles = slices.Concat(read, unread)
		slices.SortStableFunc(bottles, byTime)
	}
	f := firstWater{bottles: len(bottles), read: len(read)}
	for i := range bottles {
		b := &bottles[i]
		if b.wet {
			f.wet, f.startMin, f.highMin = true, b.start, b.end
			return f
		}
		f.lowMin, f.dryEndMin = b.end, b.end
	}
	return f
}

// unreadWater returns the bottles that ran over, were spilled or leaked and
// whose volume is not known: they held water, however much it was.
func (h *Hydrograph) unreadWater() []bottle {
	var out []bottle
	for i := range h.plot.Samples {
		s := &h.plot.Samples[i]
		if s.Stream == h.Stream && !s.Exclude && s.Flag.LowerBound() && !hasWater(s) {
			out = append(out, bottle{start: s.StartMin, end: s.EndMin, wet: true, sample: i})
		}
	}
	return out
}

// hasWater reports whether a row says how much water was caught.
func hasWater(s *experiment.Sample) bool {
	return s.VolumeML.OK || s.GrossG.OK && s.TareG.OK
}

// unread says why it is not known whether water ran off, for a stream whose
// bottles were dry as far as they could be read: bottles that held water, or
// rows after the last dry bottle and before the end of rain that were lost, set
// aside or not read, or that hold sediment.
func (h *Hydrograph) unread(dryEndMin float64) result.Flags {
	var words result.Flags
	for _, b := range h.unreadWater() {
		words.Add(h.plot.Samples[b.sample].Flag.String())
	}
	end := h.rain.DurationMin
	if h.plot.Onset == experiment.OnsetNone && h.Stream == experiment.Runoff || end-dryEndMin <= h.slackMin() {
		return words
	}
	h.missing(&words, dryEndMin, end)
	for i := range h.plot.Samples {
		s := &h.plot.Samples[i]
		switch {
		case s.Stream != h.Stream || s.Exclude || hasWater(s) || s.EndMin <= dryEndMin+sameMin || s.StartMin >= end-sameMin:
		case h.weighedSediment(s):
			words.Add("sediment_without_water")
		case s.StartMin >= dryEndMin-sameMin && s.Flag == experiment.FlagOK:
			words.Add("volume_missing")
		}
	}
	return words
}

// weighedSediment reports whether a row holds sediment beyond its error.
func (h *Hydrograph) weighedSediment(s *experiment.Sample) bool {
	switch {
	case s.SedimentG.OK:
		return s.SedimentG.V > 2*h.errs.SedimentG
	case s.SedimentGrossG.OK && s.SedimentTareG.OK:
		return s.SedimentGrossG.V-s.SedimentTareG.V > 2*math.Sqrt2*h.errs.SedimentG
	}
	return s.ConcentrationGL.OK && s.ConcentrationGL.V > 0
}
