package result

import (
	"net/url"
	"strconv"
	"strings"
)

// The result tables whose rows have a derivation.
const (
	TableHydrograph   = "hydrograph"
	TablePlots        = "plot_results"
	TableFits         = "fits"
	TableTreatments   = "treatment_results"
	TableComparisons  = "comparisons"
	TableCalibrations = "calibrations"
	TableSeason       = "season_results" // below this name in analysis.json
)

// keyColumns holds the columns that tell the rows of a table apart.
var keyColumns = map[string][]string{
	TableHydrograph:   {"dataset", "run", "plot", "stream", "start_min"},
	TablePlots:        {"dataset", "run", "plot", "metric", "method"},
	TableFits:         {"dataset", "run", "plot", "model", "parameter"},
	TableTreatments:   {"scope", "treatment", "metric", "statistic", "method"},
	TableComparisons:  {"scope", "metric", "treatment", "reference", "effect", "method"},
	TableCalibrations: {"dataset", "calibration", "metric"},
	TableSeason:       {"scope", "metric", "method"},
}

// KeyColumns returns the columns of a result table that tell its rows apart, in
// the order in which a key has them; nil for a table without keys.
func KeyColumns(table string) []string { return keyColumns[table] }

// Key renders the key of a row: its table and the values of its key columns,
// joined by a slash, each escaped as a segment of a URL's path.
func Key(table string, values ...string) string {
	var b strings.Builder
	b.WriteString(table)
	for _, v := range values {
		b.WriteByte('/')
		b.WriteString(url.PathEscape(v))
	}
	return b.String()
}

// ParseKey takes a key apart. It reports false where the table has no keys, a
// value is not escaped as it should be, or their number is not that of its columns.
func ParseKey(key string) (table string, values []string, ok bool) {
	parts := strings.Split(key, "/")
	table = parts[0]
	if len(parts)-1 != len(keyColumns[table]) || len(parts) == 1 {
		return table, nil, false
	}
	for _, p := range parts[1:] {
		v, err := url.PathUnescape(p)
		if err != nil {
			return table, nil, false
		}
		values = append(values, v)
	}
	return table, values, true
}

// Key returns the key of the row.
func (r *PlotRow) Key() string {
	return Key(TablePlots, r.Dataset, r.Run, r.Plot, string(r.Metric), r.Method)
}

// Key returns the key of the row.
func (r *FitRow) Key() string {
	return Key(TableFits, r.Dataset, r.Run, r.Plot, r.Model, r.Parameter)
}

// Key returns the key of the row.
func (r *TreatmentRow) Key() string {
	return Key(TableTreatments, r.Scope, r.Treatment, string(r.Metric), r.Statistic, r.Method)
}

// Key returns the key of the row.
func (r *ComparisonRow) Key() string {
	return Key(TableComparisons, r.Scope, string(r.Metric), r.Treatment, r.Reference, r.Effect, r.Method)
}

// Key returns the key of the row.
func (r *CalibrationRow) Key() string {
	return Key(TableCalibrations, r.Dataset, r.Calibration, string(r.Metric))
}

// Key returns the key of the row.
func (r *SeasonRow) Key() string { return Key(TableSeason, r.Scope, string(r.Metric), r.Method) }

// StepKey returns the key of a step of the course: it is known by its start.
func (c *Course) StepKey(s *Step) string {
	return Key(TableHydrograph, c.Dataset, c.Run, c.Plot, c.Stream, strconv.FormatFloat(s.StartMin, 'g', -1, 64))
}
