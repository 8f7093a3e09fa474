package page

import (
	"html/template"
	"slices"

	"sheetwash/analysis/experiment"
	"sheetwash/analysis/result"
	"sheetwash/api/report"
)

// Input is what the pages of an analysis are made of.
type Input struct {
	Analysis *result.Analysis
	Datasets []Dataset // in the order of the analysis; what is not known is left out
	Units    report.Units
	Program  Program
	Settings []Setting // of the analysis, as a reader would repeat them
	Command  string    // that makes the tables again; "": not known
	// Link returns where a page lies; "" or a nil Link: it has no page.
	Link func(Target) string
	// Explain returns a fold-out with the derivation of a number of a result table,
	// by the key that it has in the package result; "" or a nil Explain: there is none.
	Explain func(key string) template.HTML
}

// Program is the build that computed.
type Program struct{ Name, Version, Revision string }

// Setting is a setting of the analysis with its value, both as words.
type Setting struct{ Name, Value string }

// Dataset is what went in: its name, the digest of its bytes, and what was noted of
// runs and plots. The runs need neither samples nor series.
type Dataset struct {
	Name, SHA256 string
	Refused      bool
	Runs         []experiment.Run
	Cans         []experiment.Can
}

// DatasetOf takes the facts out of a dataset and leaves its readings.
func DatasetOf(d *experiment.Dataset) Dataset {
	out := Dataset{Name: d.Name(), SHA256: d.Digest(), Cans: d.Cans()}
	for _, r := range d.Runs() {
		r.Blanks, r.Series = nil, nil
		r.Plots = slices.Clone(r.Plots)
		for i := range r.Plots {
			r.Plots[i].Samples, r.Plots[i].Series = nil, nil
		}
		out.Runs = append(out.Runs, r)
	}
	return out
}

// Kind is the kind of a page.
type Kind string

// The kinds of pages.
const (
	SeasonPage Kind = "season"
	EventPage  Kind = "event"
	RunPage    Kind = "run"
)

// Target names a page. A season page is that of the whole analysis.
type Target struct {
	Kind          Kind
	Season, Event string // of an event
	Dataset, Run  string // of a run
}
