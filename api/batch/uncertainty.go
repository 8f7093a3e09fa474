package batch

import (
	"fmt"
	"slices"
	"strings"

	"sheetwash/analysis/experiment"
)

// Uncertainty is one standard uncertainty of a request.
type Uncertainty struct {
	experiment.Uncertainty
	value float64 // inside units
}

// NewUncertainty checks a standard uncertainty by its name in analysis.yaml, in
// the unit that the name says.
func NewUncertainty(name string, value float64) (Uncertainty, error) {
	all := experiment.Uncertainties()
	i := slices.IndexFunc(all, func(u experiment.Uncertainty) bool { return u.Name == name })
	switch {
	case i < 0:
		return Uncertainty{}, fmt.Errorf("there is no uncertainty %q; the names are %s", name, strings.Join(UncertaintyNames(), ", "))
	case !(value >= 0 && value <= all[i].Most):
		return Uncertainty{}, fmt.Errorf("the uncertainty %s = %v is no number from 0 to %g", name, value, all[i].Most)
	}
	return Uncertainty{all[i], value * all[i].Scale}, nil
}

// UncertaintyNames lists the names, those of the results contract first.
func UncertaintyNames() []string {
	var names []string
	for _, u := range experiment.Uncertainties() {
		names = append(names, u.Name)
	}
	return names
}

// withErrors returns the dataset with the uncertainties of the request in place
// of its own.
func withErrors(d *experiment.Dataset, settings []Uncertainty) (*experiment.Dataset, error) {
	if len(settings) == 0 {
		return d, nil
	}
	parts := d.Parts()
	for _, s := range settings {
		*s.Of(&parts.Errors) = s.value
	}
	return experiment.New(parts)
}
