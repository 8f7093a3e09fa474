package check

import "sheetwash/ingest/issue"

// exclusions reports rows that are left out without saying why.
func exclusions(d *Draft, into *issue.List) {
	for _, f := range []*Frame{d.Plots, d.Samples} {
		exclude, reason := f.Column("exclude"), f.Column("exclude_reason")
		for i := range f.N {
			if exclude.True(i) && reason.Word(i) == "" {
				report(into, ExcludeNoReason, f, i, "exclude", "excluded without a reason: fill in exclude_reason")
			}
		}
	}
}
