package report

import (
	"fmt"
	"strings"
	"sync"

	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// Units is the system of units of the written tables.
type Units uint8

// The systems: canonical units, and US customary units for the metrics that
// have one in the catalogue. Everything else keeps its canonical unit.
const (
	SI Units = iota
	US
)

// String returns the word of the --units flag.
func (u Units) String() string { return [...]string{"si", "us"}[u] }

// ParseUnits reads si or us.
func ParseUnits(word string) (Units, error) {
	for _, u := range []Units{SI, US} {
		if strings.EqualFold(strings.TrimSpace(word), u.String()) {
			return u, nil
		}
	}
	return SI, fmt.Errorf("units %q are neither si nor us", word)
}

// words spells the US units of the unit column as the trade writes them.
var words = map[string]string{
	"[in_i]": "in", "[in_i]/h": "in/h", "[oz_av]": "oz", "[ston_av]/[acr_us]": "ton/acre",
	"[gal_us]/min": "gal/min", "[foz_us]": "fl_oz",
}

// suffixes are the endings of column names that name a unit, longest first.
var suffixes = []struct{ si, us string }{{"_mm_h", "_in_h"}, {"_mm", "_in"}, {"_ml", "_fl_oz"}}

// target is what a canonical unit becomes.
type target struct {
	code string // UCUM
	word string // in the unit column
	quantity.Conversion
}

// customary lists what becomes of each canonical unit in US units: the pairs of
// the catalogue, and the volume of a bottle.
var customary = sync.OnceValue(func() map[string]string {
	out := map[string]string{"mL": "[foz_us]"}
	for _, m := range result.Catalogue() {
		if m.SI != m.US {
			out[m.SI] = m.US
		}
	}
	return out
})

// targets returns what becomes of the canonical units that change. A unit that
// is not among them stays. The error names a unit of the catalogue without a
// factor: a fault of this program.
func (u Units) targets() (map[string]*target, error) {
	if u == SI {
		return nil, nil
	}
	out := map[string]*target{}
	for si, us := range customary() {
		c, err := conversion(si, us)
		if err != nil {
			return nil, fmt.Errorf("convert %s to %s: %w", si, us, err)
		}
		t := &target{code: us, word: words[us], Conversion: c}
		if t.word == "" {
			t.word = us
		}
		out[si] = t
	}
	return out, nil
}

// Convert returns a value of canonical unit si in the system's unit, and the
// word for that unit.
func (u Units) Convert(value float64, si string) (float64, string, error) {
	t, err := u.targets()
	if err != nil {
		return 0, "", err
	}
	if to, ok := t[si]; ok {
		return to.Apply(value), to.word, nil
	}
	return value, si, nil
}

// column returns the name and the UCUM unit of a column in the system.
func (u Units) column(name, unit string) (string, string) {
	if u == SI {
		return name, unit
	}
	us, changes := customary()[unit]
	if !changes {
		return name, unit
	}
	for _, s := range suffixes {
		if stem, ok := strings.CutSuffix(name, s.si); ok {
			return stem + s.us, us
		}
	}
	return name, us
}

// conversion returns the exact conversion between two UCUM codes.
func conversion(from, to string) (quantity.Conversion, error) {
	f, err := quantity.Parse(from)
	if err != nil {
		return quantity.Conversion{}, err
	}
	t, err := quantity.Parse(to)
	if err != nil {
		return quantity.Conversion{}, err
	}
	return f.To(t)
}
