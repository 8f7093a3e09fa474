package hydrograph

import (
	"cmp"
	"slices"

	"sheetwash/analysis/derivation"
	"sheetwash/analysis/result"
)

// losses returns the derivation of a value of the rain's losses; false where there
// is none of that metric and method.
func (d *Derivations) losses(m result.Metric, method string, v float64) (derivation.Node, bool) {
	name := string(m)
	switch m {
	case result.RainDepthToRunoff:
		return d.rainToRunoff(name, method, v), true
	case result.CurveNumber:
		ratio, ok := map[string]float64{MethodAbstraction020: Abstraction020, MethodAbstraction005: Abstraction005}[method]
		return d.curveNumber(name, ratio, v), ok
	case result.PhiIndex:
		return d.phiIndex(name, v), true
	case result.WIndex:
		n := derivation.Formula(name, v, "mm/h", "(rain_depth - runoff_depth) / (minutes / 60)", d.rain.Depth, d.Depth("runoff_depth"), d.rain.Minutes.Named("minutes"))
		n.Source = "Horton 1933, with nothing left on the surface"
		return n, true
	}
	return derivation.Node{}, false
}

func (d *Derivations) rainToRunoff(name, method string, v float64) derivation.Node {
	time := d.TimeToRunoff(method)
	var n derivation.Node
	if d.h.rain.RatesMMH == nil {
		n = derivation.Formula(name, v, "mm", "intensity * max(0, min(time_to_runoff, minutes)) / 60", d.rain.Intensity.Named("intensity"), time, d.rain.Minutes.Named("minutes"))
	} else {
		n = derivation.Formula(name, v, "mm", "mean_rain * time_to_runoff / 60", d.RainBetween("mean_rain", 0, *time.Value), time)
	}
	n.Source = "definition"
	return n
}

// curveNumber follows RetentionOf and CurveNumberOf, or their limit for a plot
// that did not run off.
func (d *Derivations) curveNumber(name string, ratio, v float64) derivation.Node {
	share := derivation.Setting("ratio", ratio, "1", "initial abstraction over retention, by the method")
	h := d.h
	p, q := h.rain.DepthMM, h.depthMM(h.VolumeML)
	if q <= 0 {
		n := derivation.Formula(name, v, "1", "25400 / (254 + rain_depth / ratio)", d.rain.Depth, share)
		n.Source, n.Note = "NEH 630, equations 10-9 and 10-13", "nothing ran off: the abstraction is at least the rain"
		return n
	}
	part := derivation.Formula("part", (1-ratio)*q, "mm", "(1 - ratio) * runoff_depth", share, d.Depth("runoff_depth"))
	s, _ := RetentionOf(p, q, ratio)
	retention := derivation.Formula("retention", s, "mm",
		"max(0, (2 * ratio * rain_depth + part - sqrt(part * part + 4 * ratio * rain_depth * runoff_depth)) / (2 * ratio * ratio))",
		share, d.rain.Depth, part, d.Depth("runoff_depth"))
	n := derivation.Formula(name, v, "1", "25400 / (254 + retention)", retention)
	n.Source = "NEH 630, equations 10-10 to 10-13; Hawkins et al. 2002"
	return n
}

// phiIndex follows PhiIndex: the stretches of rain above it make the runoff.
func (d *Derivations) phiIndex(name string, v float64) derivation.Node {
	h := d.h
	steps := h.rain.steps()
	slices.SortStableFunc(steps, func(a, b RainStep) int { return cmp.Compare(b.Depth*a.Hours, a.Depth*b.Hours) })
	rate := func(s RainStep) derivation.Node {
		return derivation.Setting("rate", s.Depth/s.Hours, "mm/h", "of the logged rain")
	}
	if h.depthMM(h.VolumeML) <= 0 {
		n := derivation.Of(name, v, "mm/h", derivation.Largest)
		for _, s := range steps {
			n.Inputs = append(n.Inputs, rate(s))
		}
		return n.Noting("nothing ran off: the loss was at least the largest intensity")
	}
	depths, hours := derivation.ListOf("depth", "mm"), derivation.ListOf("hours", "h")
	var left int
	for _, s := range steps {
		if s.Depth/s.Hours < v {
			left++
			continue
		}
		depths.Inputs = append(depths.Inputs, derivation.Setting("depth", s.Depth, "mm", "of the logged rain at "+number(s.Depth/s.Hours)+" mm/h"))
		hours.Inputs = append(hours.Inputs, derivation.Setting("hours", s.Hours, "h", "of that stretch"))
	}
	n := derivation.Formula(name, v, "mm/h", "(sum(depth) - runoff_depth) / sum(hours)", depths, d.Depth("runoff_depth"), hours)
	if left > 0 {
		n.LeftOut = append(n.LeftOut, derivation.Omission{What: number(float64(left)) + " stretches of rain", Why: "their intensity is below the index: all of it is lost"})
	}
	n.Source = "after Horton 1933"
	return n
}
