package page

import (
	"fmt"
	"slices"

	"sheetwash/analysis/derivation"
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
	// Explain returns the derivation of a row of a result table, by the key that it
	// has in the package result, for a fold-out of the page; nil: there is none.
	Explain func(key string) *derivation.Node
	// Why returns where another page tells the derivation; it goes before Explain.
	Why   func(key string) string
	Frame Frame
}

// Frame is what a service puts around a page. A page that is a file has none.
type Frame struct {
	Menu    []Link // above everything
	Notices []Notice
}

// Link is a text that leads somewhere.
type Link struct{ Text, Href string }

// Notice is a message above a page: what is going on, or wrong.
type Notice struct {
	Text   string
	Bad    bool
	Share  float64 // of the work that is done; below 0: none is going on
	Links  []Link
	Button *Button // nil: none
}

// Button asks the service for something.
type Button struct{ Text, Action string }

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

// FactsOf is a dataset under its name and digest; one that is nil was refused.
func FactsOf(name, digest string, d *experiment.Dataset) Dataset {
	out := Dataset{Refused: true}
	if d != nil {
		out = DatasetOf(d)
	}
	out.Name, out.SHA256 = name, digest
	return out
}

// Settings are those of an analysis in the words of a report; windows are in minutes.
func Settings(level, thresholdShare, smoothingMin, finalMin float64) []Setting {
	return []Setting{
		{Name: "level of the intervals", Value: fmt.Sprint(level)},
		{Name: "share of the intensity that counts as runoff in the threshold method", Value: fmt.Sprint(thresholdShare)},
		{Name: "window of smoothing, s", Value: fmt.Sprint(smoothingMin * 60)},
		{Name: "window of the final rate, min", Value: fmt.Sprint(finalMin)},
	}
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
