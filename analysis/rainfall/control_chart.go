package rainfall

import (
	"cmp"
	"math"
	"slices"
)

// Chart is a control chart of individual values: do the calibrations of a
// simulator stay within their own scatter over the season?
type Chart struct {
	Centre, Low, High float64 // mean of all, and three standard deviations about it
	SD                float64 // of all about their mean (n-1)
	Values            []float64
	// Out marks values beyond the limits, Run those that end eight or more in a
	// row on one side of the centre.
	Out, Run []bool
	// CanSignal: the chart is long enough for its last value to be beyond limits
	// that hold this value as well.
	CanSignal bool
}

// runLength is how many values in a row on one side of the centre are a shift:
// chance makes eight once in 128 (Western Electric 1956, rule 4).
const runLength = 8

// IndividualsChart returns the control chart of values in the order of time.
//
//	limits = mean -+ 2.66 MR,  MR = mean of |x_i - x_(i-1)|
//
// 2.66 is 3/d2 with d2 = 2/sqrt(pi), the mean range of two normal values in their
// standard deviations. Limits and centre are of the values themselves, none of a
// specification. A lone outlier at the end widens them by its own step: it
// lies beyond only if (n-1)^2 > 2.66 n, so that no chart of fewer than five values
// can signal (CanSignal); in the middle of a series it takes eight.
// Source: [Shewhart1931], [WesternElectric1956], individuals and moving range.
// With fewer than two values there is no chart: false.
func IndividualsChart(values []float64) (Chart, bool) {
	n := len(values)
	if n < 2 {
		return Chart{Values: values}, false
	}
	m := mean(values)
	c := Chart{Centre: m, SD: math.Sqrt(sumSquares(values, m) / float64(n-1)), Values: values, Out: make([]bool, n), Run: make([]bool, n)}
	var ranges float64
	for i := 1; i < n; i++ {
		ranges += math.Abs(values[i] - values[i-1])
	}
	half := 3 * math.Sqrt(math.Pi) / 2 * ranges / float64(n-1)
	c.Low, c.High = c.Centre-half, c.Centre+half
	c.CanSignal = float64((n-1)*(n-1)) > 1.5*math.Sqrt(math.Pi)*float64(n)
	side, length := 0.0, 0
	for i, v := range values {
		c.Out[i] = v < c.Low || v > c.High
		s := math.Copysign(1, v-c.Centre)
		if v == c.Centre || s != side {
			length = 0
		}
		side = s
		length++
		c.Run[i] = length >= runLength && v != c.Centre
	}
	return c, true
}

// season charts the calibrations of simulators.
type season struct {
	charts map[string]simulatorChart
}

// simulatorChart is the chart of one simulator, and where each calibration stands in it.
type simulatorChart struct {
	Chart
	at        map[calibrationKey]int
	ok        bool
	pressures bool // the calibrations name unlike pressures
}

type calibrationKey struct{ dataset, id string }

// chartsOf returns the charts of the simulators that calibrations name, over a
// season. Calibrations without a date are in no chart.
func chartsOf(calibrations, all []Calibration) season {
	of := map[string][]*Calibration{}
	for i := range calibrations {
		if c := &calibrations[i]; c.Simulator != "" && !c.Date.IsZero() {
			of[c.Simulator] = nil
		}
	}
	for i := range all {
		c := &all[i]
		if _, wanted := of[c.Simulator]; wanted && !c.Date.IsZero() {
			of[c.Simulator] = append(of[c.Simulator], c)
		}
	}
	s := season{charts: map[string]simulatorChart{}}
	for simulator, list := range of {
		inTime(list)
		chart := simulatorChart{at: map[calibrationKey]int{}}
		values := make([]float64, len(list))
		for k, c := range list {
			values[k] = c.MeanMMH
			chart.at[calibrationKey{c.Dataset, c.ID}] = k
			chart.pressures = chart.pressures || c.PressureKPa != list[0].PressureKPa
		}
		chart.Chart, chart.ok = IndividualsChart(values)
		s.charts[simulator] = chart
	}
	return s
}

// inTime sorts calibrations by date, those of one date by dataset and then as they stood.
func inTime(list []*Calibration) {
	slices.SortStableFunc(list, func(a, b *Calibration) int {
		return cmp.Or(a.Date.Compare(b.Date), cmp.Compare(a.Dataset, b.Dataset))
	})
}

// of returns the chart of a calibration's simulator and the calibration's place in it.
func (s season) of(c *Calibration) (simulatorChart, int, bool) {
	chart := s.charts[c.Simulator]
	at, found := chart.at[calibrationKey{c.Dataset, c.ID}]
	return chart, at, found && chart.ok && !c.Date.IsZero()
}
