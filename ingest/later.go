package ingest

import (
	"errors"
	"time"

	"sheetwash/ingest/check"
	"sheetwash/ingest/issue"
	"sheetwash/ingest/units"
)

// resolveTimes decodes the clock times and stamps of a frame, now that the runs
// are known. starts holds the start of rain of each run that has one.
func resolveTimes(b *builder, frame *check.Frame, starts map[string]time.Time, into *issue.List) {
	run := frame.Column("run")
	for _, w := range b.later {
		c := frame.Column(w.column)
		rule := w.rule.rule()
		rule.Start, rule.Started = starts[run.Word(w.row)], false
		if !rule.Start.IsZero() {
			rule.Started = true
		}
		v, err := units.Time(w.text, rule)
		if err == nil {
			c.Num[w.row], c.States()[w.row] = v, check.Present
			continue
		}
		p := frame.Part(w.row)
		is := issue.Issue{Code: CellNotATime, Severity: issue.Error, File: p.File, Table: frame.Table, Row: frame.Row(w.row),
			Column: w.rule.header(), Value: w.text, Message: timeAdvice(w.column)}
		if errors.Is(err, units.ErrNoStart) {
			is.Code = TimeNoStart
			is.Message = "a clock time or stamp needs the start of the run: fill in started of run " + run.Word(w.row) + ", or give the time from the start of rain"
		}
		is.Message = frame.AtLine(w.row, is.Message)
		into.Add(is)
	}
}

// startsOf returns the start of rain of each run that has one.
func startsOf(runs *check.Frame) map[string]time.Time {
	out := make(map[string]time.Time, runs.N)
	run, started := runs.Column("run"), runs.Column("started")
	for i := range runs.N {
		if started.Has(i) {
			out[run.Word(i)] = started.Stamp[i]
		}
	}
	return out
}
