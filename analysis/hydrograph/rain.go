package hydrograph

import (
	"math"
	"sort"

	"sheetwash/analysis/internal/gum"
)

// Between returns the mean intensity over an interval, mm/h, with none before
// rain on and after rain off. An empty interval has the intensity 0.
func (r *Rain) Between(startMin, endMin float64) float64 {
	if !(endMin > startMin) {
		return 0
	}
	if r.RatesMMH == nil {
		return r.IntensityMMH * max(0, min(endMin, r.DurationMin)-max(startMin, 0)) / (endMin - startMin)
	}
	var sum float64
	for i := max(0, sort.SearchFloat64s(r.EdgesMin, startMin)-1); i < len(r.RatesMMH) && r.EdgesMin[i] < endMin; i++ {
		sum += r.RatesMMH[i] * max(0, min(endMin, r.EdgesMin[i+1])-max(startMin, r.EdgesMin[i]))
	}
	return sum / (endMin - startMin)
}

// df returns the degrees of freedom of a standard uncertainty that holds the
// rain's depth with a sensitivity. Source: gum.WelchSatterthwaite.
func (r *Rain) df(u, sensitivity float64) float64 {
	c := math.Abs(sensitivity)
	return gum.WelchSatterthwaite(u, []float64{c * r.UDepth, c * r.UDepthShared}, []float64{r.DF, r.DFShared})
}
