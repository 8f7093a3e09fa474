package ingest

import (
	"sheetwash/ingest/check"
)

// withoutBare leaves out the rows of samples that name a run and a plot and say
// nothing of a bottle, if they come from one of the files: in a joined table such
// a row states a plot that had no bottles.
func withoutBare(f *check.Frame, files map[string]bool) *check.Frame {
	var keep []int
	for i := range f.N {
		if !files[f.Part(i).File] || !bare(f, i) {
			keep = append(keep, i)
		}
	}
	if len(keep) == f.N {
		return f
	}
	out := placesOf(f, keep)
	for _, c := range f.Columns {
		out.Add(selected(c, keep))
	}
	return out
}

// bare reports whether a row has its key and no other cell.
func bare(f *check.Frame, i int) bool {
	for _, c := range f.Columns {
		isKey := c.Name == "run" || c.Name == "plot"
		if isKey != c.Has(i) || !isKey && c.Is(i) != check.Absent {
			return false
		}
	}
	return true
}

// selected returns the cells of some rows of a column.
func selected(c *check.Column, rows []int) *check.Column {
	out := &check.Column{Name: c.Name, Kind: c.Kind, Open: c.Open, Unit: c.Unit, Words: c.Words}
	pad(out, len(rows))
	if c.U != nil {
		out.U = make([]float64, len(rows))
	}
	for j, i := range rows {
		if out.State[j] = c.Is(i); c.Has(i) {
			copyCell(out, j, c, i)
		}
	}
	return out
}
