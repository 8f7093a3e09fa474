package hydrograph

import (
	"sheetwash/analysis/derivation"
	"sheetwash/analysis/experiment"
)

// Step returns the derivations of the row of the hydrograph table of interval i:
// its rate, and beside it the other columns. concentration is that of its
// sediment, or nil.
func (d *Derivations) Step(i int, concentration *derivation.Node) derivation.Node {
	h := d.h
	iv := &h.Intervals[i]
	n := d.Rate(i).Named("rate_mm_h").With(iv.URateMMH)
	volume := d.volumes[i].Named("volume_ml")
	var total float64
	for k := range i + 1 {
		total += h.Intervals[k].VolumeML
	}
	cumulative := derivation.Formula("cumulative_mm", h.depthMM(total), "mm", "volume / (1000 * area)",
		derivation.Of("volume", total, "mL", derivation.Sum, d.volumes[:i+1]...), d.area)
	n.Beside = append(n.Beside, volume, cumulative, d.RainBetween("intensity_mm_h", iv.StartMin, iv.EndMin))
	if h.withinRain(iv) && h.Stream == experiment.Runoff {
		end := min(iv.EndMin, h.rain.DurationMin)
		n.Beside = append(n.Beside, derivation.Formula("infiltration_mm_h", h.rain.Between(iv.StartMin, end)-iv.RateMMH, "mm/h", "intensity - rate",
			d.RainBetween("intensity", iv.StartMin, end), d.Rate(i)))
	}
	if concentration != nil {
		n.Beside = append(n.Beside, concentration.Named("concentration_g_l"))
	}
	return n
}

// RainBetween returns how the mean intensity over an interval came about.
func (d *Derivations) RainBetween(name string, from, to float64) derivation.Node {
	r := &d.h.rain
	v := r.Between(from, to)
	if !(to > from) {
		return derivation.Setting(name, v, "mm/h", "")
	}
	length := derivation.Setting("minutes", to-from, "min", "")
	if r.RatesMMH == nil {
		return derivation.Formula(name, v, "mm/h", "intensity * under_rain / minutes", d.rain.Intensity.Named("intensity"),
			derivation.Setting("under_rain", max(0, min(to, r.DurationMin)-max(from, 0)), "min", "of the interval"), length)
	}
	rates, lengths := derivation.ListOf("rate", "mm/h"), derivation.ListOf("length", "min")
	for i, rate := range r.RatesMMH {
		if part := min(to, r.EdgesMin[i+1]) - max(from, r.EdgesMin[i]); part > 0 {
			rates.Inputs = append(rates.Inputs, derivation.Setting("rate", rate, "mm/h", "of the logged rain"))
			lengths.Inputs = append(lengths.Inputs, derivation.Setting("length", part, "min", ""))
		}
	}
	if len(rates.Inputs) == 0 {
		return derivation.Setting(name, v, "mm/h", "no rain falls")
	}
	return derivation.Formula(name, v, "mm/h", "dot(rate, length) / minutes", rates, lengths, length)
}
