package rainfall

import (
	"math"
	"slices"

	"sheetwash/analysis/experiment"
)

// Repeatability is how well a simulator makes the same rain again after it was
// stopped, set up and started: the standard deviation of the spatial mean between
// its calibrations.
type Repeatability struct {
	Rel float64 // over the mean of the calibrations
	DF  float64 // degrees of freedom; 0: stated, not estimated
}

// RepeatabilityOf returns the repeatability of a calibration's simulator, from
// all of its calibrations that have a date, those of the control chart, and false where these are
// fewer than two.
//
//	r = s / m,  s^2 = sum (m_j - m)^2 / (k - 1),  m = mean of the k spatial means m_j
//
// What differs between them is in it: the setting of the pressure, and the scatter of the cans
// of each catch. Of two calibrations s is their distance over 1.128, the unbiased estimate, since with one degree of
// freedom the formula of Welch and Satterthwaite makes intervals that hold too seldom (91.6 to 92.4 % of 95).
// Source: type A evaluation, [GUM2008] 4.2.2; d2 of a pair, 2/sqrt(pi), as in IndividualsChart.
func RepeatabilityOf(c *Calibration, all []Calibration) (Repeatability, bool) {
	if c.Simulator == "" || c.Date.IsZero() {
		return Repeatability{}, false
	}
	n, m := 0.0, 0.0
	each := func(f func(v float64)) {
		for i := range all {
			if o := &all[i]; o.Simulator == c.Simulator && !o.Date.IsZero() {
				f(o.MeanMMH)
			}
		}
	}
	each(func(v float64) { n, m = n+1, m+v })
	if m /= n; n < 2 || !(m > 0) {
		return Repeatability{}, false
	}
	var squares float64
	each(func(v float64) { squares += (v - m) * (v - m) })
	if n == 2 {
		squares *= math.Pi / 2 // |m_1 - m_2| = sqrt(2) s, and sqrt(2) sqrt(pi/2) / 2 = sqrt(pi)/2
	}
	return Repeatability{Rel: math.Sqrt(squares/(n-1)) / m, DF: n - 1}, true
}

// repeat adds to the error of an intensity from catch cans that the run is not
// the calibration: both are draws of what the simulator does.
//
//	u_between(i) = sqrt(2) r i
//
// It is common to the plots of the run. Without a repeatability the simulator is
// taken to repeat exactly (flag repeatability_unknown). Source: [GUM2008] 5.1.2 for the difference of two
// independent draws of one distribution.
func (r *Rain) repeat(by Repeatability, known bool) {
	if !known {
		r.Flags.Add(flagRepeatability)
		return
	}
	r.UBetween, r.DFBetween = math.Sqrt2*by.Rel*r.IntensityMMH, by.DF
}

// flagRepeatability marks rain from the only calibration of its simulator.
const flagRepeatability = "repeatability_unknown"

// restate puts the repeatability that a profile states in place of that of the
// calibrations.
func (r *Rain) restate(rig *experiment.Rig) {
	if r.Source != SourceCalibration || !rig.RepeatabilityRel.OK {
		return
	}
	r.Flags = slices.DeleteFunc(slices.Clone(r.Flags), func(w string) bool { return w == flagRepeatability })
	r.repeat(Repeatability{Rel: rig.RepeatabilityRel.V}, true)
	*r = r.withDepth()
}
