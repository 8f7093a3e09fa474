package inference

import (
	"math"

	"github.com/montanaflynn/stats"

	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// Description is what a sample looks like. Variance and what follows from it
// divide by n-1.
type Description struct {
	N                int
	Mean             quantity.Optional
	Variance, SD, SE quantity.Optional // missing for n < 2
	CV               quantity.Optional // SD over mean, a fraction; missing for a mean of zero
	Min, Max, Median quantity.Optional
	IQR              quantity.Optional // of type 7 quantiles
	MAD              quantity.Optional // median absolute deviation times 1.4826
	Flags            result.Flags
}

// madScale makes the median absolute deviation estimate the standard deviation
// of a normal sample: 1/Phi^-1(3/4), to the digits in use since Hampel (1974).
const madScale = 1.4826

// Describe returns the description of a sample. Errors: ErrInput for NaN.
func Describe(y []float64) (Description, error) {
	if err := checkFinite("y", y); err != nil {
		return Description{}, err
	}
	d := Description{N: len(y)}
	if d.N == 0 {
		d.Flags.Add(FlagNoData)
		return d, nil
	}
	mean, ss := moments(y)
	d.Mean = quantity.Some(mean)
	d.Min, d.Max = optional(stats.Min(y)), optional(stats.Max(y))
	d.Median = optional(stats.Median(y))
	d.IQR = quantity.Some(quantile7(y, 0.75) - quantile7(y, 0.25))
	d.MAD = optional(stats.MedianAbsoluteDeviation(y)).Map(func(v float64) float64 { return madScale * v })
	if d.N < 2 {
		d.Flags.Add(FlagOneValue)
		return d, nil
	}
	n := float64(d.N)
	d.Variance = quantity.Some(ss / (n - 1))
	d.SD = d.Variance.Map(math.Sqrt)
	d.SE = quantity.Some(d.SD.V / math.Sqrt(n))
	if mean != 0 {
		d.CV = quantity.Some(d.SD.V / mean)
	}
	return d, nil
}

// Mean returns the arithmetic mean, missing for no values. Errors: ErrInput for NaN.
func Mean(y []float64) (quantity.Optional, error) {
	if err := checkFinite("y", y); err != nil || len(y) == 0 {
		return quantity.None(), err
	}
	m, _ := moments(y)
	return quantity.Some(m), nil
}

// SD returns the standard deviation with n-1, missing for fewer than two values.
// Errors: ErrInput for NaN.
func SD(y []float64) (quantity.Optional, error) {
	if err := checkFinite("y", y); err != nil || len(y) < 2 {
		return quantity.None(), err
	}
	_, ss := moments(y)
	return quantity.Some(math.Sqrt(ss / float64(len(y)-1))), nil
}

// moments returns the mean and the sum of squared deviations from it.
//
// The mean is that of montanaflynn/stats, corrected by the mean of the
// residuals; the sum of squares is the corrected two-pass algorithm of
// Chan, Golub & LeVeque (1983), The American Statistician 37:242-247, whose error
// does not grow with the ratio of mean to spread.
func moments(y []float64) (mean, ss float64) {
	m, err := stats.Mean(y)
	if err != nil {
		return 0, 0
	}
	n := float64(len(y))
	var c, e float64 // sum of residuals and its lost part (Neumaier 1974)
	for _, v := range y {
		r := v - m
		t := c + r
		if math.Abs(c) >= math.Abs(r) {
			e += (c - t) + r
		} else {
			e += (r - t) + c
		}
		c = t
		ss += r * r
	}
	c += e
	return m + c/n, max(0, ss-c*c/n)
}

// spread reports whether deviations of the size sd are more than the rounding of
// values near mean.
func spread(mean, sd float64) bool {
	const roundings = 10
	return sd > roundings*0x1p-52*math.Abs(mean)
}

// Lag1Autocorrelation returns sum((y[i]-m)(y[i+1]-m))/sum((y[i]-m)^2), the
// autocorrelation of neighbours as NIST defines it; missing for fewer than two
// values or all equal.
func Lag1Autocorrelation(y []float64) (quantity.Optional, error) {
	if err := checkFinite("y", y); err != nil {
		return quantity.None(), err
	}
	m, ss := moments(y)
	if len(y) < 2 || ss == 0 {
		return quantity.None(), nil
	}
	var s float64
	for i := 1; i < len(y); i++ {
		s += (y[i-1] - m) * (y[i] - m)
	}
	return quantity.Some(s / ss), nil
}

func optional(v float64, err error) quantity.Optional {
	if err != nil {
		return quantity.None()
	}
	return quantity.Some(v)
}
