package mapping

import (
	"slices"

	"sheetwash/ingest/schema"
	"sheetwash/ingest/table"
	"sheetwash/ingest/units"
)

// Recognise returns which tables of the data dictionary a table holds, judged
// by its name and its headers: "plots" for plots.csv, or runs, plots and samples
// for a single joined table. A table named after one of the dictionary's is
// that table, and holds those above it as well (runs in plots; runs and plots
// in samples) where their required columns are there: the caller leaves out
// the ones that the dataset has a table of its own for. The answer is in the
// order of the dictionary and empty if nothing fits.
func Recognise(name string, fields []table.Field) []string {
	has := func(tableName string, columns ...string) bool {
		t, _ := schema.Find(tableName)
		return !slices.ContainsFunc(columns, func(c string) bool { return !hasColumn(t, fields, c) })
	}
	runs := has("runs", "run", "rain_duration")
	plots := has("plots", "run", "plot", "treatment", "area")
	samples := has("samples", "run", "plot", "stream", "end")
	var out []string
	add := func(t string, ok bool) {
		if ok {
			out = append(out, t)
		}
	}
	switch name {
	case "runs", "cans", "readings":
		return []string{name}
	case "plots":
		add("runs", runs)
		return append(out, "plots")
	case "samples":
		add("runs", runs)
		add("plots", plots)
		return append(out, "samples")
	}
	channels := slices.ContainsFunc(fields, func(f table.Field) bool {
		t, _ := schema.Find("readings")
		h, ok := units.Split(f.Name, func(n string) bool { _, ok := findTarget(t, n); return ok })
		_, channel := schema.ChannelUnit(h.Name)
		return ok && channel
	})
	switch {
	case has("readings", "run", "time") && (has("readings", "channel", "value") || channels):
		return []string{"readings"}
	case has("cans", "calibration", "duration"):
		return []string{"cans"}
	}
	add("runs", runs)
	add("plots", plots)
	add("samples", samples)
	return out
}

// hasColumn reports whether a header stands for the column.
func hasColumn(t *schema.Table, fields []table.Field, column string) bool {
	return slices.ContainsFunc(fields, func(f table.Field) bool {
		h, ok := units.Split(f.Name, func(n string) bool { _, ok := t.Column(n); return ok })
		return ok && h.Name == column
	})
}
