package erosion

import (
	"cmp"
	"math"
	"slices"
	"sort"

	"sheetwash/analysis/experiment"
	"sheetwash/analysis/internal/gum"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// pool is the sediment of one bottle, or of several that went to one dish.
type pool struct {
	start, end float64
	massG, uG  float64           // dry mass, blank deducted
	stated     quantity.Optional // concentration as stated, g/L; massG then follows
	blank      bool              // a blank was deducted
	bottleML   float64           // volume of the row itself, 0: none that could be read
	// Of the flow in the interval:
	caughtML, uCaughtML float64
	conc, uConc         float64 // g/L; valid if caughtML > 0
	node                float64 // cumulative volume at its middle, mL
	weightML            float64 // volume that its concentration stands for
	flows               int     // pieces of flow with water
	dissolvedG          float64 // deducted for the solids of the supply water
	rated               bool    // stated is the rating's answer to a turbidity
	dLnNTU              float64 // of a rated one: ln T about the rating's mean
}

// load gathers the sediment of one plot.
type load struct {
	in      *Input
	pools   []pool
	pieces  []piece
	blankG  float64
	uBlankG float64
	blanked bool
	pending bool
	flags   result.Flags
	massG   float64
	totalML float64
	interpG float64 // part of massG that was interpolated
	squares float64 // of the uncertainties of interpolation, g^2
	loose   float64 // mass of pools without water, g
	looseSq float64
	lower   bool

	usesRating bool
	commonRel  float64 // relative error that all stated concentrations share
}

// gather reads pools and spreads them over the flow. It reports false where nothing was
// weighed, or no flow is known.
func (l *load) gather() bool {
	l.readPools()
	if len(l.pools) == 0 {
		l.readLogged()
	}
	if len(l.pools) == 0 || l.in.Flow == nil {
		return false
	}
	l.cut()
	l.concentrations()
	return l.spread()
}

// readPools collects the rows of runoff that tell of sediment, in their order.
//
// Where the run asks for it, the mean of the run's blanks is deducted from every
// weighed mass (flag blank_subtracted; no_blank where there is none). A mass
// below zero keeps its sign: within twice its standard uncertainty it is a
// non-detect (flag non_detect), below that a fault of balance or tare (flag
// negative_mass).
func (l *load) readPools() {
	in := l.in
	l.readBlanks()
	for i := range in.Plot.Samples {
		s := &in.Plot.Samples[i]
		if s.Stream != experiment.Runoff || s.Exclude {
			continue
		}
		m, u, ok := dryMass(s, in.Errors)
		if !ok && !s.ConcentrationGL.OK {
			continue
		}
		p := pool{start: s.StartMin, end: s.EndMin, massG: m, uG: u, bottleML: readable(s, in.Errors)}
		if !ok {
			p.stated = s.ConcentrationGL
		} else if l.blanked {
			p.blank, p.massG = true, m-l.blankG
		}
		if p.massG < 0 {
			l.flagNegative(&p, gum.Combined(p.uG, l.uBlankG))
		}
		if l.pools == nil {
			l.pools = make([]pool, 0, len(in.Plot.Samples)-i)
		}
		l.pools = append(l.pools, p)
	}
	if !slices.IsSortedFunc(l.pools, byTime) {
		slices.SortStableFunc(l.pools, byTime)
	}
	l.readRated()
	if l.pending = l.awaits(); l.pending {
		l.flags.Add("pending")
	}
}

func byTime(a, b pool) int {
	return cmp.Or(cmp.Compare(a.start, b.start), cmp.Compare(a.end, b.end))
}

// awaits reports whether sediment waits to be dried: the cell of a bottle with
// water is empty and no pool covers it, or all cells are empty.
func (l *load) awaits() bool {
	latest := make([]float64, len(l.pools)) // end of the pools so far, which are in order of their starts
	for k := range l.pools {
		latest[k] = max(l.pools[k].end, latest[max(0, k-1)])
	}
	for i := range l.in.Plot.Samples {
		s := &l.in.Plot.Samples[i]
		if s.Stream != experiment.Runoff || s.Exclude || !s.SedimentPending || len(l.pools) > 0 && !holdsWater(s) {
			continue
		}
		n := sort.Search(len(l.pools), func(k int) bool { return l.pools[k].start >= s.EndMin-sameMin })
		if n == 0 || latest[n-1] <= s.StartMin+sameMin {
			return true
		}
	}
	return false
}

func holdsWater(s *experiment.Sample) bool {
	return s.VolumeML.V > 0 && s.VolumeML.OK || s.GrossG.OK && s.TareG.OK && s.GrossG.V > s.TareG.V
}

// readable returns the volume of a row, mL, or 0 where it has none beyond twice
// its reading error.
func readable(s *experiment.Sample, errs experiment.ErrorModel) float64 {
	if v := s.VolumeML; v.OK && v.V > 2*math.Hypot(errs.VolumeRel*v.V, errs.VolumeML) {
		return v.V
	}
	return 0
}

// dryMass returns the oven-dry sediment of a row, g, with its standard
// uncertainty: as stated, or the difference of two masses of its dish or filter.
func dryMass(s *experiment.Sample, errs experiment.ErrorModel) (g, u float64, ok bool) {
	if s.SedimentG.OK {
		return s.SedimentG.V, errs.SedimentG, true
	}
	if s.SedimentGrossG.OK && s.SedimentTareG.OK {
		return s.SedimentGrossG.V - s.SedimentTareG.V, errs.SedimentG * math.Sqrt2, true
	}
	return 0, 0, false
}

// readBlanks takes the mean of the run's blanks. Its standard uncertainty is
// their scatter, or their reading error where that is larger, over sqrt(n); it is
// common to all pools.
func (l *load) readBlanks() {
	run := l.in.Run
	if !run.SubtractBlank {
		return
	}
	var sum, squares, read, n float64
	for i := range run.Blanks {
		if g, u, ok := dryMass(&run.Blanks[i], l.in.Errors); ok && !run.Blanks[i].Exclude {
			sum, squares, read, n = sum+g, squares+g*g, max(read, u), n+1
		}
	}
	if n == 0 {
		l.flags.Add("no_blank")
		return
	}
	l.blanked, l.blankG = true, sum/n
	scatter := 0.0
	if n > 1 {
		scatter = math.Sqrt(max(0, squares-sum*sum/n) / (n - 1))
	}
	l.uBlankG = max(scatter, read) / math.Sqrt(n)
	l.flags.Add("blank_subtracted")
}
