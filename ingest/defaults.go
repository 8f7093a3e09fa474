package ingest

import (
	"fmt"

	"sheetwash/ingest/check"
	"sheetwash/ingest/issue"
	"sheetwash/ingest/schema"
)

// defaultEvents gives runs without an event the dataset's name, with one note.
func defaultEvents(d *check.Draft, into *issue.List) {
	f := d.Runs
	if f.N == 0 {
		return
	}
	c := f.Column("event")
	if c == nil {
		c = &check.Column{Name: "event", Kind: schema.Text}
		pad(c, f.N)
		f.Add(c)
	}
	code, n, first := int32(-1), 0, 0
	for i := range f.N {
		if c.Has(i) {
			continue
		}
		if code < 0 {
			code, first = int32(len(c.Words)), i
			c.Words = append(c.Words, d.Dataset)
		}
		c.States()[i], c.Code[i] = check.Present, code
		n++
	}
	if n > 0 {
		into.Add(issue.Issue{Code: EventDefault, Severity: issue.Note, File: f.Part(first).File, Table: f.Table,
			Message: fmt.Sprintf("event is not given for %d runs: the name of the dataset, %q, is taken", n, d.Dataset)})
	}
}

// raiseIntensity makes an intensity that stands with the plots of a joined
// table, and is equal for all plots of a run, the intensity of the run.
func raiseIntensity(d *check.Draft, into *issue.List) {
	plots := d.Plots.Column("intensity")
	if plots == nil || d.Runs.Column("intensity") != nil {
		return
	}
	of := map[string]int{} // run: row of plots with its intensity; -1: unlike or missing
	run := d.Plots.Column("run")
	for i := range d.Plots.N {
		w := run.Word(i)
		j, seen := of[w]
		switch {
		case !plots.Has(i), seen && j >= 0 && plots.Num[j] != plots.Num[i]:
			of[w] = -1
		case !seen:
			of[w] = i
		}
	}
	c := &check.Column{Name: "intensity", Kind: schema.Number, Unit: plots.Unit}
	pad(c, d.Runs.N)
	raised := 0
	for i := range d.Runs.N {
		if j, ok := of[d.Runs.Column("run").Word(i)]; ok && j >= 0 {
			c.Num[i], c.States()[i] = plots.Num[j], check.Present
			raised++
		}
	}
	if raised == 0 {
		return
	}
	d.Runs.Add(c)
	for i := range d.Plots.N {
		if j, ok := of[run.Word(i)]; ok && j >= 0 {
			plots.States()[i] = check.Absent
		}
	}
	into.Add(issue.Issue{Code: RunIntensity, Severity: issue.Note, File: d.Plots.Part(0).File, Table: "plots", Column: "intensity",
		Message: fmt.Sprintf("intensity is equal for all plots of a run (%d runs): it is taken as the run's own, and its error as shared by its plots", raised)})
}
