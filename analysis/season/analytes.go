package season

import (
	"cmp"
	"maps"
	"slices"

	"sheetwash/analysis/result"
)

// catalogueOf returns the catalogue of metrics with those of the analytes of the
// rows behind it, by name. An analyte has one unit: where datasets differ
// in a unit that is no mass per volume, the one of most plots, and the others leave the statistics.
func catalogueOf(rows []result.PlotRow) []result.MetricInfo {
	counts := map[result.Metric]map[string]int{}
	for i := range rows {
		r := &rows[i]
		if !r.Headline || r.Excluded || !result.IsAnalyte(r.Metric) {
			continue
		}
		if counts[r.Metric] == nil {
			counts[r.Metric] = map[string]int{}
		}
		counts[r.Metric][r.Unit]++
	}
	all := result.Catalogue()
	if len(counts) == 0 {
		return all
	}
	all = slices.Clone(all)
	for _, m := range slices.Sorted(maps.Keys(counts)) {
		units := slices.SortedFunc(maps.Keys(counts[m]), func(a, b string) int {
			return cmp.Or(cmp.Compare(counts[m][b], counts[m][a]), cmp.Compare(a, b))
		})
		if info, ok := result.AnalyteInfo(m, units[0]); ok {
			all = append(all, info)
		}
	}
	return all
}
