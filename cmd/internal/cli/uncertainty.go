package cli

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"sheetwash/analysis/experiment"
)

// instrument is a standard uncertainty that --error can set, by the name that
// it has in analysis.yaml.
type instrument struct {
	name  string
	scale float64 // inside units in one of the flag's
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

// setting is one --error of the command line.
type setting struct {
	instrument
	value float64 // inside units
}

// parseSettings reads settings such as volume_rel=0.01.
func parseSettings(texts []string) ([]setting, error) {
	var out []setting
	for _, text := range texts {
		name, number, ok := strings.Cut(text, "=")
		i := slices.IndexFunc(instruments, func(in instrument) bool { return in.name == strings.TrimSpace(name) })
		if !ok || i < 0 {
			return nil, fmt.Errorf("--error %q: write NAME=NUMBER with one of the names %s", text, instrumentNames())
		}
		v, err := strconv.ParseFloat(strings.TrimSpace(number), 64)
		if err != nil || !(v >= 0 && v <= 1e6) {
			return nil, fmt.Errorf("--error %q: %q is no number from 0 up", text, number)
		}
		out = append(out, setting{instruments[i], v * instruments[i].scale})
	}
	return out, nil
}

func instrumentNames() string {
	var names []string
	for _, in := range instruments {
		names = append(names, in.name)
	}
	return strings.Join(names, ", ")
}

// applySettings returns the dataset with the uncertainties of the command line
// in place of its own.
func applySettings(d *experiment.Dataset, settings []setting) (*experiment.Dataset, error) {
	if len(settings) == 0 {
		return d, nil
	}
	m := d.Errors()
	for _, s := range settings {
		*s.of(&m) = s.value
	}
	return experiment.New(experiment.Parts{Name: d.Name(), Digest: d.Digest(), Runs: d.Runs(), Cans: d.Cans(), Errors: m})
}
