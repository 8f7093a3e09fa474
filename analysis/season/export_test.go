package season

import (
	"slices"

	"sheetwash/analysis/inference"
	"sheetwash/analysis/result"
)

// CompareIn returns the comparisons of one scope only: the study simulates a
// million seasons.
func CompareIn(name string, rows []result.PlotRow, settings Settings) ([]result.ComparisonRow, error) {
	z, err := inference.NormalQuantile(1 - (1-settings.Level)/2)
	if err != nil {
		return nil, err
	}
	d := gather(rows)
	ranking, err := d.references(settings)
	if err != nil {
		return nil, err
	}
	var out []result.ComparisonRow
	for _, s := range d.scopes() {
		if s.name == name {
			out = slices.Concat(s.compare(nil, frame{level: settings.Level, z: z, named: settings.named()}, ranking, 1)...)
		}
	}
	return out, nil
}
