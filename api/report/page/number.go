package page

import (
	"math"

	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
	"sheetwash/api/report"
	"sheetwash/api/report/words"
)

// scale is a unit of the reader: how values and differences of values go over.
type scale struct {
	word  string // as written
	times float64
}

// scales returns the scale of every canonical unit that an analysis holds. The
// conversions of results have no offset, so that a factor tells all.
func scales(a *result.Analysis, u report.Units) map[string]scale {
	out := map[string]scale{}
	add := func(unit string) {
		if _, ok := out[unit]; ok {
			return
		}
		factor, word, err := u.Convert(1, unit)
		if err != nil {
			factor, word = 1, unit
		}
		out[unit] = scale{word, factor}
	}
	for _, unit := range []string{"min", "mm", "mm/h", "mL", "g/L"} {
		add(unit)
	}
	for i := range a.Plots {
		add(a.Plots[i].Unit)
	}
	for i := range a.Fits {
		add(a.Fits[i].Unit)
	}
	for i := range a.Treatments {
		add(a.Treatments[i].Unit)
	}
	for i := range a.Comparisons {
		add(a.Comparisons[i].Unit)
	}
	for i := range a.Calibrations {
		add(a.Calibrations[i].Unit)
	}
	return out
}

// scaleOf returns how numbers in a canonical unit are written. A share is written
// in percent.
func (s *Site) scaleOf(m result.Metric, unit string) scale {
	if m == result.RunoffCoefficient && unit == "1" {
		return scale{"%", 100}
	}
	if c, ok := s.scales[unit]; ok {
		return c
	}
	return scale{unit, 1}
}

// of returns a value in the unit of the reader.
func (c scale) of(v float64) float64 { return v * c.times }

func (c scale) optional(o quantity.Optional) quantity.Optional {
	if !o.OK {
		return o
	}
	return quantity.Some(c.of(o.V))
}

// name is the unit as it is read; a plain number has none.
func (c scale) name() string {
	if c.word == "1" {
		return ""
	}
	return readable(c.word)
}

// readable spells units with the signs of print.
func readable(unit string) string {
	switch unit {
	case "g/m2":
		return "g/m²"
	case "g/(m2.h)":
		return "g/(m² h)"
	case "kg.s/m4":
		return "kg s/m⁴"
	case "J/m2":
		return "J/m²"
	case "MJ.mm/(ha.h)":
		return "MJ mm/(ha h)"
	case "1":
		return ""
	}
	return unit
}

// number is a value of a row, rounded by its uncertainty, both in canonical units.
// Without an uncertainty it has three significant digits.
func (s *Site) number(key, col string, c scale, v float64, u quantity.Optional) part {
	p := part{Text: words.Rounded(c.of(v), c.optional(u)), Key: key, Col: col, Unit: c.word}
	if !u.OK || u.V == 0 {
		p.Text = words.Significant(c.of(v), 3)
	}
	return p
}

// value is the value of a plot's row, without its unit.
func (s *Site) value(r *result.PlotRow) phrase {
	c := s.scaleOf(r.Metric, r.Unit)
	p := s.number(r.Key(), "value", c, r.Value.V, r.U)
	switch {
	case r.Censored == result.Right && r.Metric == result.TimeToRunoff:
		p.Text = words.Figure(c.of(r.Value.V), 3)
		return join(say("none in "), phrase{p})
	case r.Censored == result.Right:
		return join(say("at least "), phrase{p})
	case r.Censored == result.Left:
		return join(say("at most "), phrase{p})
	}
	return phrase{p}
}

// bounds is the interval of an estimate, empty where it has none.
func (s *Site) bounds(key string, c scale, low, high, u quantity.Optional) phrase {
	n := func(col string, o quantity.Optional) phrase { return phrase{s.number(key, col, c, o.V, u)} }
	switch {
	case low.OK && high.OK:
		return join(n("low", low), say(" to "), n("high", high))
	case low.OK:
		return join(say("over\u00a0"), n("low", low))
	case high.OK:
		return join(say("below\u00a0"), n("high", high))
	}
	return nil
}

// absent says why a value is missing.
func absent(f result.Flags) string {
	for _, w := range reasons {
		if f.Has(w.flag) {
			return w.words
		}
	}
	for _, flag := range f {
		for _, w := range result.FlagWords() {
			if w.Word == result.WordOf(flag) {
				return w.Meaning
			}
		}
	}
	return "not known"
}

// reasons are the flags of missing values in the order of their weight.
var reasons = []struct{ flag, words string }{
	{"pending", "being dried"},
	{"not_noted", "not noted"},
	{"none_ran_off", "no runoff"},
	{"no_runoff", "no runoff"},
	{"no_sediment_data", "not weighed"},
	{"no_data", "no data"},
}

// finite reports whether a number can be drawn.
func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

// noted writes a number that somebody noted, as exact as it was noted and at most
// four significant digits.
func noted(v float64) string { return words.Figure(v, 4) }

// inUnit converts a noted number between UCUM units; the value is unchanged, and in
// its own unit, where that cannot be.
func inUnit(v float64, from, to, word, fallback string) string {
	f, err1 := quantity.Parse(from)
	t, err2 := quantity.Parse(to)
	if err1 == nil && err2 == nil {
		if c, err := f.To(t); err == nil {
			return noted(c.Apply(v)) + " " + word
		}
	}
	return noted(v) + " " + fallback
}
