package erosion

import (
	"cmp"
	"math"
	"slices"

	"sheetwash/analysis/experiment"
	"sheetwash/analysis/internal/gum"
	"sheetwash/analysis/quantity"
)

// Rating is the relation of concentration to turbidity of one dataset, fitted to its own
// bottles.
//
//	ln C = a + b (ln T - m),  C = s exp(a + b (ln T - m))
//
// T in NTU, C in g/L, m the mean of ln T, s the mean of exp(residual), which
// takes the bias of the logarithm back [Duan1983]. Least squares on logarithms:
// the scatter of such pairs grows with concentration. Source: [Rasmussen2009].
type Rating struct {
	N               int
	A, B, MeanLnNTU float64
	Smear           float64
	SD              float64 // of residuals, relative; n - 2 degrees of freedom
	Sxx             float64 // sum of squares of ln T about their mean
	LowNTU, HighNTU float64 // range of the pairs: nothing is said outside
	Refused         string  // flag that says why there is no rating; "" where there is one

	pairs []Pair // by turbidity
}

// Pair is a turbidity and the concentration that was weighed or stated beside it.
type Pair struct {
	NTU, GL float64

	sample *experiment.Sample // that it was read from; nil: it was not
}

// Pairs returns the pairs of the bottles of runoff in runs, none of them excluded, whose
// own water and sediment are known.
func Pairs(runs []experiment.Run) []Pair {
	var out []Pair
	for r := range runs {
		for p := range runs[r].Plots {
			for i := range runs[r].Plots[p].Samples {
				if pair, ok := pairOf(&runs[r].Plots[p].Samples[i]); ok {
					out = append(out, pair)
				}
			}
		}
	}
	return out
}

func pairOf(s *experiment.Sample) (Pair, bool) {
	if s.Stream != experiment.Runoff || s.Exclude || !s.TurbidityNTU.OK || !(s.TurbidityNTU.V > 0) {
		return Pair{}, false
	}
	c := s.ConcentrationGL.V
	if !s.ConcentrationGL.OK {
		g, _, ok := dryMass(s, experiment.ErrorModel{})
		ml := s.VolumeML.V
		if !s.VolumeML.OK && s.GrossG.OK && s.TareG.OK {
			ml = s.GrossG.V - s.TareG.V // a g of suspension is a mL to a few percent
		}
		if !ok || !(ml > 0) {
			return Pair{}, false
		}
		c = 1000 * g / ml
	}
	return Pair{s.TurbidityNTU.V, c, s}, c > 0
}

// FitRating fits the rating of a dataset. Fewer than six pairs make none
// (rating_too_few), nor do pairs whose turbidity is all alike or whose
// concentration does not rise with it (rating_not_rising).
func FitRating(pairs []Pair) *Rating {
	r := &Rating{N: len(pairs)}
	if r.N < experiment.RatingPairs {
		r.Refused = "rating_too_few"
		return r
	}
	pairs = slices.Clone(pairs) // sums do not depend on the order of the files
	slices.SortFunc(pairs, func(a, b Pair) int { return cmp.Or(cmp.Compare(a.NTU, b.NTU), cmp.Compare(a.GL, b.GL)) })
	r.pairs = pairs
	n := float64(r.N)
	r.LowNTU, r.HighNTU = pairs[0].NTU, pairs[len(pairs)-1].NTU
	for _, p := range pairs {
		r.MeanLnNTU += math.Log(p.NTU) / n
		r.A += math.Log(p.GL) / n
	}
	var sxy float64
	for _, p := range pairs {
		d := math.Log(p.NTU) - r.MeanLnNTU
		r.Sxx += d * d
		sxy += d * (math.Log(p.GL) - r.A)
	}
	if !(r.Sxx > 0) || !(sxy > 0) {
		r.Refused = "rating_not_rising"
		return r
	}
	r.B = sxy / r.Sxx
	var squares float64
	for _, p := range pairs {
		e := math.Log(p.GL) - r.A - r.B*(math.Log(p.NTU)-r.MeanLnNTU)
		squares += e * e
		r.Smear += math.Exp(e) / n
	}
	r.SD = math.Sqrt(squares / (n - 2))
	return r
}

// Concentration returns the concentration of a turbidity, g/L, with its interval of
// prediction at a level.
//
//	low, high = C exp(-+ t SD sqrt(1 + 1/n + (ln T - m)^2 / Sxx)),  t with n - 2 degrees of freedom
//
// Without a rating, and outside the range of its pairs, there is none; the
// flag says why. Source: interval of prediction of a straight line, on logarithms.
func (r *Rating) Concentration(ntu, level float64) (gl, low, high float64, flag string) {
	switch {
	case r == nil:
		return 0, 0, 0, "rating_too_few"
	case r.Refused != "":
		return 0, 0, 0, r.Refused
	case !(ntu >= r.LowNTU && ntu <= r.HighNTU):
		return 0, 0, 0, "rating_out_of_range"
	}
	d := math.Log(ntu) - r.MeanLnNTU
	c := r.Smear * math.Exp(r.A+r.B*d)
	half := gum.Coverage(level, float64(r.N-2)) * r.SD * math.Sqrt(1+1/float64(r.N)+d*d/r.Sxx)
	return c, c * math.Exp(-half), c * math.Exp(half), ""
}

// readRated makes a pool of each bottle that has a turbidity, no sediment of its own, and no pool over
// its interval (flag turbidity_rating).
func (l *load) readRated() {
	weighed := len(l.pools)
	for i := range l.in.Plot.Samples {
		s := &l.in.Plot.Samples[i]
		if s.Stream != experiment.Runoff || s.Exclude || !s.TurbidityNTU.OK || l.covered(s, weighed) {
			continue
		}
		if p, ok := l.rated(s.TurbidityNTU.V); ok {
			p.start, p.end = s.StartMin, s.EndMin
			l.pools = append(l.pools, p)
		}
	}
	if len(l.pools) > weighed {
		slices.SortStableFunc(l.pools, byTime)
	}
}

// covered reports whether one of the first n pools overlaps the interval of a row.
func (l *load) covered(s *experiment.Sample, n int) bool {
	for k := range l.pools[:n] {
		if p := &l.pools[k]; p.start < s.EndMin-sameMin && p.end > s.StartMin+sameMin {
			return true
		}
	}
	return false
}

// rated is a pool with the concentration that the rating gives a turbidity.
func (l *load) rated(ntu float64) (pool, bool) {
	c, _, _, flag := l.in.Rating.Concentration(ntu, l.in.Level)
	if flag != "" {
		l.flags.Add(flag)
		return pool{}, false
	}
	l.flags.Add("turbidity_rating")
	l.usesRating = true
	return pool{stated: quantity.Some(c), rated: true, dLnNTU: math.Log(ntu) - l.in.Rating.MeanLnNTU}, true
}

// uRating returns the standard uncertainty that the rating's own parameters give
// the mass, g: it is common to all bottles of the dataset and does not average out.
//
//	u^2 = SD^2 ((sum w_k C_k)^2 / n + (sum w_k C_k d_k)^2 / Sxx)
//
// with volumes w_k and distances d_k = ln T_k - m. Source: variances of the
// parameters of a straight line about its mean.
func (l *load) uRating() float64 {
	if !l.usesRating {
		return 0
	}
	var sum, slope float64
	for k := range l.pools {
		if p := &l.pools[k]; p.rated {
			m := p.conc * p.weightML / 1000
			sum, slope = sum+m, slope+m*p.dLnNTU
		}
	}
	r := l.in.Rating
	return r.SD * math.Sqrt(sum*sum/float64(r.N)+slope*slope/r.Sxx)
}
