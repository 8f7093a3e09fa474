package fit

import "testing"

// Intervals of 1 min whose least sum of squares, by a search over a grid of kappa and
// lag, is 2.549 on the straight line (kappa 0) with a lag of 0.85 min; on the way
// there is a curve of kappa 1.7 with 4.476, at the best lag for which a line fits worse.
func TestOptimumOnStraightLine(t *testing.T) {
	d := &Decline{From: 22.933, To: 30, Onset: 22.933, Ceiling: 71.2, LagScale: 0.75, Starts: []int{0}}
	const u = 0.21116083320663803
	for i, v := range []float64{61.29348534251052, 52.36979254267962, 49.49344178106247, 48.139743750702536, 47.28054728394435, 46.544976208086695} {
		d.Data = append(d.Data, Mean{Start: 23 + float64(i), End: 24 + float64(i), Value: v, U: u})
	}
	d.Data = append(d.Data, Mean{Start: 29, End: 30, Value: 45.9211830898349, U: 0.16693729638797308})
	o := NewSearch(d, Exponential).From(0).Optimum()
	if o.Kappa != 0 || o.Penalised > 2.5491 || !d.HeldAt(o).Kappa {
		t.Errorf("the least is %v at kappa %v, lag %v", o.Penalised, o.Kappa, o.Lag)
	}
}
