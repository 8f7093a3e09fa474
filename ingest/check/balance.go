package check

import (
	"math"

	"sheetwash/ingest/issue"
)

// volumeAgainstRain compares what was caught with what rained on the plot.
func volumeAgainstRain(d *Draft, into *issue.List) {
	b := readBottles(d)
	for p := range d.Plots.N {
		area, ok1 := d.Plots.Column("area").Value(p)
		rate, ok2 := plotIntensity(d, p)
		rain, ok3 := rainMin(d, p)
		if !ok1 || !ok2 || !ok3 || area <= 0 {
			continue
		}
		perMin := rate / 60 * area * 1000 // mL of rain on the plot per minute; 1 mm on 1 m2 is 1000 mL
		total, odd := 0.0, false
		for _, row := range d.Links.Samples(p) {
			i := int(row)
			v, ok := b.water(i)
			start, end, timed := b.interval(i)
			if !ok || !timed || b.exclude.True(i) || b.stream.Word(i) != "runoff" || b.flag.Word(i) == "lost" {
				continue
			}
			total += v
			if v > 20*perMin*(end-start) {
				odd = true
				column := "volume"
				if !b.volume.Has(i) {
					column = "gross_mass"
				}
				report(into, VolumeOdd, d.Samples, i, column, "%s mL in %s min is more than 20 times the rain on the plot (%s mL): check the units of volume, area and times",
					figure(v), figure(end-start), figure(perMin*(end-start)))
			}
		}
		// Two standard uncertainties of intensity and area.
		allowed := 1 + 2*math.Hypot(d.Errors.IntensityRel, d.Errors.AreaRel)
		if depth := perMin * rain; !odd && total > allowed*depth {
			report(into, RunoffExceedsRain, d.Plots, p, "area", "%s L ran off, but only %s L rained on the plot: check area, intensity and whether rain beside the plot ran into the funnel", figure(total/1000), figure(depth/1000))
		}
	}
}
