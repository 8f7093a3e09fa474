package inference

import "math"

// CensoredParameters returns where the likelihood of CensoredDifference has its
// maximum: the mean of y, the difference of the means, and the standard deviation
// that both share. It reports false where CensoredDifference has no such maximum.
func CensoredParameters(x, y []Bounds) (meanY, difference, sigma float64, ok bool) {
	if len(x) < 2 || len(y) < 2 || known(x) == 0 || known(y) == 0 || known(x)+known(y) < 3 {
		return 0, 0, 0, false
	}
	f, scale, ok := newDifferenceFit(x, y)
	if !ok {
		return 0, 0, 0, false
	}
	f.start()
	if !f.maximise(-1) || f.theta[2] < math.Log(minSigma) {
		return 0, 0, 0, false
	}
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, sample := range [2][]Bounds{x, y} {
		for _, b := range sample {
			for _, v := range [2]float64{b.Low, b.High} {
				if !math.IsInf(v, 0) {
					lo, hi = min(lo, v), max(hi, v)
				}
			}
		}
	}
	return lo + (hi-lo)/2 + scale*f.theta[0], scale * f.theta[1], scale * math.Exp(f.theta[2]), true
}
