package rainfall

import (
	"errors"
	"fmt"
	"math"
	"sort"
)

// ErrCourse is returned for a course of rain that cannot be.
var ErrCourse = errors.New("course of rain")

// Course is rain that was measured as it fell: the depth since its start at
// times in ascending order. Between them it rains evenly.
type Course struct {
	TimeMin []float64
	DepthMM []float64 // not falling

	ratesMMH []float64 // between the times, where rates were logged; else they follow from the depths
}

// NewCourse returns a course from running totals at equal steps, the first at
// time 0. Units: any unit of depth, min; rates come out in that unit per hour.
// Errors: ErrCourse for fewer than two totals, a step that is not positive, and
// totals that fall or are not finite.
func NewCourse(total []float64, stepMin float64) (Course, error) {
	if len(total) < 2 || !(stepMin > 0) || math.IsInf(stepMin, 1) {
		return Course{}, fmt.Errorf("%w: %d totals every %v min", ErrCourse, len(total), stepMin)
	}
	c := Course{TimeMin: make([]float64, len(total)), DepthMM: total}
	for i, d := range total {
		c.TimeMin[i] = stepMin * float64(i)
		if math.IsNaN(d) || math.IsInf(d, 0) || i > 0 && d < total[i-1] {
			return Course{}, fmt.Errorf("%w: total %d is %v", ErrCourse, i, d)
		}
	}
	return c, nil
}

// Intensity returns the mean intensity of interval i, the first being 1.
//
//	i = 60 (P(t_i) - P(t_(i-1))) / (t_i - t_(i-1))
//
// Errors: ErrCourse for an interval that the course does not have.
func (c Course) Intensity(i int) (float64, error) {
	if i < 1 || i >= len(c.TimeMin) {
		return 0, fmt.Errorf("%w: no interval %d", ErrCourse, i)
	}
	return 60 * (c.DepthMM[i] - c.DepthMM[i-1]) / (c.TimeMin[i] - c.TimeMin[i-1]), nil
}

// LargestMean returns the largest mean intensity over any stretch of windowMin.
//
//	60 max over t of (P(t + w) - P(t)) / w
//
// The stretch may begin at any time: its ends are interpolated, not snapped to
// readings. The largest always begins or ends at a reading, since P is a chain
// of straight lines. A window longer than the course holds all of its depth.
// Units: w in min, result in depth per hour.
// Errors: ErrCourse for a window that is not positive, and an empty course.
func (c Course) LargestMean(windowMin float64) (float64, error) {
	n := len(c.TimeMin)
	if n < 2 || len(c.DepthMM) != n || !(windowMin > 0) || math.IsInf(windowMin, 1) {
		return 0, fmt.Errorf("%w: window of %v min over %d readings", ErrCourse, windowMin, n)
	}
	_, depth := c.largest(windowMin)
	return 60 * depth / windowMin, nil
}

// largest returns the start and the depth of the stretch of a length that holds
// most rain, the first of those that hold as much.
func (c Course) largest(windowMin float64) (start, depth float64) {
	start = c.TimeMin[0]
	for _, t := range c.TimeMin {
		for _, from := range [2]float64{t, t - windowMin} {
			if d := c.at(from+windowMin) - c.at(from); d > depth {
				start, depth = from, d
			}
		}
	}
	return start, depth
}

// at returns the depth at a time: nothing before the course, all of it after.
func (c Course) at(t float64) float64 {
	n := len(c.TimeMin)
	switch {
	case t <= c.TimeMin[0]:
		return c.DepthMM[0]
	case t >= c.TimeMin[n-1]:
		return c.DepthMM[n-1]
	}
	i := sort.SearchFloat64s(c.TimeMin, t)
	t0, t1 := c.TimeMin[i-1], c.TimeMin[i]
	return c.DepthMM[i-1] + (c.DepthMM[i]-c.DepthMM[i-1])*(t-t0)/(t1-t0)
}
