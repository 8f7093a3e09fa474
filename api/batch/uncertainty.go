package batch

import (
	"fmt"
	"slices"
	"strings"

	"sheetwash/analysis/experiment"
)

// instrument is a standard uncertainty that a request can set, by the name that
// it has in analysis.yaml.
type instrument struct {
	name  string
	scale float64 // inside units in one of the name's
	of    func(*experiment.ErrorModel) *float64
}

// instruments lists them in the order of the results contract.
var instruments = []instrument{
	{"volume_rel", 1, func(m *experiment.ErrorModel) *float64 { return &m.VolumeRel }},
	{"volume_ml", 1, func(m *experiment.ErrorModel) *float64 { return &m.VolumeML }},
	{"mass_g", 1, func(m *experiment.ErrorModel) *float64 { return &m.MassG }},
	{"sediment_g", 1, func(m *experiment.ErrorModel) *float64 { return &m.SedimentG }},
	{"bottle_change_s", 1.0 / 60, func(m *experiment.ErrorModel) *float64 { return &m.BottleChange }},
	{"onset_s", 1.0 / 60, func(m *experiment.ErrorModel) *float64 { return &m.OnsetMin }},
	{"area_rel", 1, func(m *experiment.ErrorModel) *float64 { return &m.AreaRel }},
	{"intensity_rel", 1, func(m *experiment.ErrorModel) *float64 { return &m.IntensityRel }},
}

// Uncertainty is one standard uncertainty of a request.
type Uncertainty struct {
	instrument
	value float64 // inside units
}

// NewUncertainty checks a standard uncertainty by its name in analysis.yaml, in
// the unit that the name says.
func NewUncertainty(name string, value float64) (Uncertainty, error) {
	i := slices.IndexFunc(instruments, func(in instrument) bool { return in.name == name })
	switch {
	case i < 0:
		return Uncertainty{}, fmt.Errorf("there is no uncertainty %q; the names are %s", name, strings.Join(UncertaintyNames(), ", "))
	case !(value >= 0 && value <= 1e6):
		return Uncertainty{}, fmt.Errorf("the uncertainty %s = %v is no number from 0 to 1e6", name, value)
	}
	return Uncertainty{instruments[i], value * instruments[i].scale}, nil
}

// UncertaintyNames lists the names in the order of the results contract.
func UncertaintyNames() []string {
	var names []string
	for _, in := range instruments {
		names = append(names, in.name)
	}
	return names
}

// withErrors returns the dataset with the uncertainties of the request in place
// of its own.
func withErrors(d *experiment.Dataset, settings []Uncertainty) (*experiment.Dataset, error) {
	if len(settings) == 0 {
		return d, nil
	}
	m := d.Errors()
	for _, s := range settings {
		*s.of(&m) = s.value
	}
	return experiment.New(experiment.Parts{Name: d.Name(), Digest: d.Digest(), Runs: d.Runs(), Cans: d.Cans(), Rigs: d.Rigs(), Errors: m})
}
