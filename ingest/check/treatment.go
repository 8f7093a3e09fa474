package check

import (
	"strings"

	"sheetwash/ingest/issue"
)

// treatmentSpelling reports treatments that differ only in case, blanks,
// hyphens or underscores, at the first row of the later spelling.
func treatmentSpelling(d *Draft, into *issue.List) {
	c := d.Plots.Column("treatment")
	firstOf := map[string]int{}
	spelling := map[string]string{}
	for i := range d.Plots.N {
		w := c.Word(i)
		if w == "" {
			continue
		}
		if _, seen := firstOf[w]; seen {
			continue
		}
		firstOf[w] = i
		k := fold(w)
		if other, seen := spelling[k]; seen {
			report(into, TreatmentSpelling, d.Plots, i, "treatment", "%q and %q (row %d) differ only in spelling and are kept apart: write them alike if they are the same treatment", w, other, d.Plots.Row(firstOf[other]))
			continue
		}
		spelling[k] = w
	}
}

// fold leaves only what distinguishes two treatments.
func fold(s string) string {
	return strings.Map(func(r rune) rune {
		switch r {
		case ' ', '\t', '-', '_', '.', '\u00a0', '\u2010', '\u2011', '\u2013':
			return -1
		}
		return r
	}, strings.ToLower(s))
}
