package check

import (
	"slices"

	"sheetwash/ingest/issue"
)

// outlierK is how far the water of one bottle may be from its run's median, K.
// Supply water drifts by a degree or two within a run; a lost leading digit
// (2.7 for 22.7) is ten or more off.
const outlierK = 5

// temperatures reports water temperatures that are impossible, implausible, or
// far from the other bottles of the run.
func temperatures(d *Draft, into *issue.List) {
	for _, f := range []*Frame{d.Runs, d.Samples} {
		c := f.Column("water_temperature")
		for i := range f.N {
			v, ok := c.Value(i)
			switch {
			case !ok:
			case v < -5 || v > 60:
				report(into, TemperatureRange, f, i, "water_temperature", "a water temperature of %s Cel is impossible here: correct the value or its unit", figure(v))
			case v < 0 || v > 45:
				report(into, TemperatureOdd, f, i, "water_temperature", "a water temperature of %s Cel is unusual: check it", figure(v))
			}
		}
	}
	temperatureOutliers(d, into)
}

func temperatureOutliers(d *Draft, into *issue.List) {
	f := d.Samples
	c := f.Column("water_temperature")
	if c == nil {
		return
	}
	byRun := make([][]int, d.Runs.N)
	for i := range d.Samples.N {
		r := d.Links.RunOfSample(i)
		if r >= 0 && c.Has(i) {
			byRun[r] = append(byRun[r], i)
		}
	}
	for _, rows := range byRun {
		if len(rows) < 4 {
			continue
		}
		values := make([]float64, len(rows))
		for k, i := range rows {
			values[k] = c.Num[i]
		}
		slices.Sort(values)
		median := (values[(len(values)-1)/2] + values[len(values)/2]) / 2
		for _, i := range rows {
			if v := c.Num[i]; v > median+outlierK || v < median-outlierK {
				report(into, TemperatureOutlier, f, i, "water_temperature", "%s Cel is far from the median of the run, %s Cel: look for a lost digit; it is used as it stands", figure(v), figure(median))
			}
		}
	}
}
