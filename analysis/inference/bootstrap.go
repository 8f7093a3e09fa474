package inference

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"sheetwash/analysis/quantity"
)

// Resampled is a bootstrap of a statistic with the three classic intervals. The
// bias-corrected one (BCa) is that of Interval.
type Resampled struct {
	Interval
	PercentileLow, PercentileHigh quantity.Optional
	BasicLow, BasicHigh           quantity.Optional
	Acceleration                  quantity.Optional // from the jackknife
	BelowEstimate                 float64           // share of resamples below the estimate
	Resamples                     int               // distinct ones by exact enumeration, else drawn
	Ordered                       float64           // ordered resamples these stand for, n^n, by exact enumeration
	Exact                         bool
	BootMean                      float64
	weighted                      weightedSample
}

// exactBootstrapMost is the largest sample whose resamples are enumerated: seven
// values have 1716 distinct ones.
const exactBootstrapMost = 7

// Bootstrap returns a statistic with its BCa interval. Samples of up to seven
// values are enumerated in full, so that there is no chance in the answer; larger
// ones are resampled with the seed.
//
//	z0 = Phi^-1(share of resamples below the estimate)
//	a  = sum d³ / (6 (sum d²)^1.5),  d_i = mean of jackknife values - theta_(i)
//	limits at Phi(z0 + (z0 + z)/(1 - a (z0 + z)))
//
// Source: Efron (1987), Journal of the American Statistical Association 82:171-185;
// enumeration as Fisher & Hall (1991), Journal of Statistical Planning and Inference 27:157-169; quantiles of
// type 6 on the normal scale between order statistics for drawn resamples (Davison & Hinkley 1997, eq. 5.8), weighted
// for enumerated ones. It covers too little for small skewed samples and is no
// default here. One value: flag one_value. Equal values: flag no_spread. Errors: ErrInput for NaN, the level or resamples < 100.
func Bootstrap(y []float64, statistic func([]float64) float64, level float64, resamples int, seed uint64) (Resampled, error) {
	if err := checkFinite("y", y); err != nil {
		return Resampled{}, err
	}
	if err := checkLevel(level); err != nil {
		return Resampled{}, err
	}
	if resamples < 100 && len(y) > exactBootstrapMost {
		return Resampled{}, fmt.Errorf("%w: %d resamples", ErrInput, resamples)
	}
	r := Resampled{Interval: Interval{Level: level, N: len(y)}}
	switch len(y) {
	case 0:
		r.Flags.Add(FlagNoData)
		return r, nil
	case 1:
		r.Value = quantity.Some(statistic(y))
		r.Flags.Add(FlagOneValue)
		return r, nil
	}
	estimate := statistic(y)
	r.Value = quantity.Some(estimate)
	if slices.Min(y) == slices.Max(y) {
		r.Flags.Add(FlagNoSpread)
		return r, nil
	}
	r.weighted, r.Exact = weightedSample{}, len(y) <= exactBootstrapMost
	if r.Exact {
		r.weighted = enumerate(y, statistic)
		r.Ordered = r.weighted.total
	} else {
		r.weighted = draw(y, statistic, resamples, seed)
	}
	r.Resamples = len(r.weighted.value)
	r.finish(y, statistic, estimate)
	return r, nil
}

// finish fills spread and limits.
func (r *Resampled) finish(y []float64, statistic func([]float64) float64, estimate float64) {
	w := r.weighted
	r.BootMean = w.mean()
	ss := 0.0
	for i, v := range w.value {
		ss += w.weight[i] * (v - r.BootMean) * (v - r.BootMean)
	}
	divisor := w.total
	if !r.Exact {
		divisor--
	}
	r.SD = quantity.Some(math.Sqrt(ss / divisor))
	r.SE = r.SD
	for i, v := range w.value {
		if v < estimate {
			r.BelowEstimate += w.weight[i] / w.total
		}
	}
	low, high := (1-r.Level)/2, (1+r.Level)/2
	pl, ph := w.quantile(low, r.Exact), w.quantile(high, r.Exact)
	r.PercentileLow, r.PercentileHigh = quantity.Some(pl), quantity.Some(ph)
	r.BasicLow, r.BasicHigh = quantity.Some(2*estimate-ph), quantity.Some(2*estimate-pl)
	a := jackknifeAcceleration(y, statistic)
	r.Acceleration = quantity.Some(a)
	z0, err := NormalQuantile(r.BelowEstimate)
	if err != nil {
		r.Flags.Add(FlagNotDefined) // the estimate is at an end of its resamples
		return
	}
	at := func(p float64) quantity.Optional {
		z, _ := NormalQuantile(p)
		s := NormalCDF(z0 + (z0+z)/(1-a*(z0+z)))
		if !(s > 0 && s < 1) {
			return quantity.None()
		}
		return quantity.Some(w.quantile(s, r.Exact))
	}
	r.Low, r.High = at(low), at(high)
	if r.Bounded() && r.Low.V == r.High.V {
		r.Low, r.High = quantity.None(), quantity.None()
		r.Flags.Add(FlagNoSpread)
	}
}

// Quantile returns a quantile of the resamples, of type 7 over the ordered
// resamples for enumerated ones.
func (r Resampled) Quantile(p float64) quantity.Optional {
	if len(r.weighted.value) == 0 {
		return quantity.None()
	}
	return quantity.Some(r.weighted.quantile(p, r.Exact))
}

// Range returns the smallest and the largest resampled statistic.
func (r Resampled) Range() (low, high quantity.Optional) {
	if n := len(r.weighted.value); n > 0 {
		return quantity.Some(r.weighted.value[0]), quantity.Some(r.weighted.value[n-1])
	}
	return quantity.None(), quantity.None()
}

func jackknifeAcceleration(y []float64, statistic func([]float64) float64) float64 {
	n := len(y)
	leave := make([]float64, n)
	rest := make([]float64, 0, n)
	for i := range y {
		rest = append(append(rest[:0], y[:i]...), y[i+1:]...)
		leave[i] = statistic(rest)
	}
	m, _ := moments(leave)
	squares, cubes := make([]float64, n), make([]float64, n)
	for i, v := range leave {
		d := m - v
		squares[i], cubes[i] = d*d, d*d*d
	}
	s2 := compensatedSum(squares)
	if s2 == 0 {
		return 0
	}
	return compensatedSum(cubes) / (6 * math.Pow(s2, 1.5)) // cubes of either sign nearly cancel
}

// weightedSample is a sample in ascending order with a weight for each value.
type weightedSample struct {
	value, weight []float64
	total         float64
}

func (w weightedSample) mean() float64 {
	s := 0.0
	for i, v := range w.value {
		s += w.weight[i] * v
	}
	return s / w.total
}

// quantile is of type 7 over the repeated values, or for drawn ones of type 6 with
// interpolation on the normal scale.
func (w weightedSample) quantile(p float64, exact bool) float64 {
	if !exact {
		n := w.total
		h := (n + 1) * p
		k := math.Floor(nudge(h))
		switch {
		case k < 1:
			return w.value[0]
		case k >= n:
			return w.value[len(w.value)-1]
		}
		a, b := w.value[int(k)-1], w.value[int(k)]
		if h == k || a == b {
			return a
		}
		zl, _ := NormalQuantile(k / (n + 1))
		zh, _ := NormalQuantile((k + 1) / (n + 1))
		z, _ := NormalQuantile(p)
		return a + (z-zl)/(zh-zl)*(b-a)
	}
	h := nudge((w.total-1)*p + 1)
	lo := math.Floor(h)
	a, b := w.at(lo), w.at(lo+1)
	return a + (h-lo)*(b-a)
}

// at returns the k-th of the repeated values, counted from 1.
func (w weightedSample) at(k float64) float64 {
	sum := 0.0
	for i, v := range w.value {
		sum += w.weight[i]
		if k <= sum {
			return v
		}
	}
	return w.value[len(w.value)-1]
}

// enumerate returns the statistic of every distinct resample, weighted by the
// number of ordered resamples that have its values.
func enumerate(y []float64, statistic func([]float64) float64) weightedSample {
	n := len(y)
	factorial := make([]float64, n+1)
	factorial[0] = 1
	for i := 1; i <= n; i++ {
		factorial[i] = factorial[i-1] * float64(i)
	}
	type one struct{ value, weight float64 }
	var all []one
	sample := make([]float64, 0, n)
	var fill func(i, left int, weight float64)
	fill = func(i, left int, weight float64) {
		if i == n-1 {
			for range left {
				sample = append(sample, y[i])
			}
			all = append(all, one{statistic(sample), weight / factorial[left]})
			sample = sample[:len(sample)-left]
			return
		}
		for k := 0; k <= left; k++ {
			fill(i+1, left-k, weight/factorial[k])
			sample = append(sample, y[i])
		}
		sample = sample[:len(sample)-left-1]
	}
	fill(0, n, factorial[n])
	slices.SortStableFunc(all, func(a, b one) int {
		switch {
		case a.value < b.value:
			return -1
		case a.value > b.value:
			return 1
		}
		return 0
	})
	w := weightedSample{}
	for _, o := range all {
		weight := math.Round(o.weight)
		w.value, w.weight = append(w.value, o.value), append(w.weight, weight)
		w.total += weight
	}
	return w
}

func draw(y []float64, statistic func([]float64) float64, resamples int, seed uint64) weightedSample {
	source := rand.New(rand.NewPCG(seed, 0x9e3779b97f4a7c15))
	w := weightedSample{total: float64(resamples)}
	sample := make([]float64, len(y))
	for range resamples {
		for i := range sample {
			sample[i] = y[source.IntN(len(y))]
		}
		w.value, w.weight = append(w.value, statistic(sample)), append(w.weight, 1)
	}
	slices.Sort(w.value)
	return w
}

// Median is the middle value, the mean of the two middle ones for an even number.
func Median(y []float64) (quantity.Optional, error) { return Quantile(y, 0.5, Linear) }

// compensatedSum adds without losing the digits that terms of unlike sign take
// from each other. Source: Neumaier (1974), Zeitschrift für Angewandte Mathematik und Mechanik 54:39-51.
func compensatedSum(y []float64) float64 {
	var s, lost float64
	for _, v := range y {
		t := s + v
		if math.Abs(s) >= math.Abs(v) {
			lost += (s - t) + v
		} else {
			lost += (v - t) + s
		}
		s = t
	}
	return s + lost
}
