package check

import (
	"slices"

	"sheetwash/ingest/issue"
	"sheetwash/ingest/schema"
)

// required reports empty cells of required columns. Exceptions of the data
// dictionary: a blank has no plot; blanks and remainders need no end.
func required(d *Draft, into *issue.List) {
	for _, f := range []*Frame{d.Runs, d.Plots, d.Cans} {
		t, ok := schema.Find(f.Table)
		if !ok {
			continue
		}
		for _, c := range t.Columns {
			if c.Required {
				code := CellMissing
				if slices.Contains(t.Key, c.Name) || c.Name == "calibration" {
					code = KeyMissing
				}
				missing(d, f, c.Name, code, into)
			}
		}
	}
	missing(d, d.Samples, "run", KeyMissing, into)
	missing(d, d.Samples, "stream", CellMissing, into)
	requiredOfSamples(d, into)
}

func missing(d *Draft, f *Frame, column string, code issue.Code, into *issue.List) {
	c := f.Column(column)
	if c == nil && d.Broken[f.Table] {
		return // a finding says that the column is not there, or what is wrong with it
	}
	for i := range f.N {
		if c.Is(i) == Absent || c.Is(i) == NotHappened {
			report(into, code, f, i, column, "%s is empty: fill it in", column)
		}
	}
}

func requiredOfSamples(d *Draft, into *issue.List) {
	f := d.Samples
	plot, end, stream := f.Column("plot"), f.Column("end"), f.Column("stream")
	for i := range f.N {
		s := stream.Word(i)
		if s != "blank" && plot.Is(i) == Absent && !(plot == nil && d.Broken[f.Table]) {
			report(into, SampleNoPlot, f, i, "plot", "plot is empty: fill it in; only a blank belongs to the run as a whole")
		}
		if s != "blank" && s != "remainder" && end.Is(i) == Absent && !(end == nil && d.Broken[f.Table]) {
			report(into, CellMissing, f, i, "end", "end is empty: fill in when the bottle was taken away")
		}
	}
}
