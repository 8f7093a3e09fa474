package ingest

import (
	"slices"

	"sheetwash/analysis/experiment"
	"sheetwash/ingest/check"
	"sheetwash/ingest/issue"
)

// RequireCalibration rejects, of a season's outcomes, those with a plot whose
// intensity only catch cans can tell and for which no dataset of the season has
// any: cans of the run's simulator, from a day not after the run. It is called
// once, after all datasets of the season have been read.
func RequireCalibration(outcomes []*Outcome) {
	var cans []experiment.Can
	for _, o := range outcomes {
		if o.Dataset != nil {
			cans = append(cans, o.Dataset.Cans()...)
		}
	}
	for _, o := range outcomes {
		if o.Dataset == nil || len(o.NeedsCalibration) == 0 {
			continue
		}
		var missing issue.List
		for _, run := range o.Dataset.Runs() {
			if slices.Contains(o.NeedsCalibration, run.ID) && !calibrated(run, cans) {
				missing.Add(issue.Issue{Code: check.PlotNoIntensity, Severity: issue.Error, File: run.Place.File, Table: "runs", Row: run.Place.Row, Column: "intensity",
					Message: "no rain intensity is known for run " + run.ID + ", and the season has no catch cans of simulator " + quoted(run.Simulator) + " from before it: fill in intensity, or add the cans"})
			}
		}
		if missing.Errors() == 0 {
			continue
		}
		for _, i := range o.Issues {
			missing.Add(i)
		}
		o.Issues, o.Dataset = missing.All(), nil
	}
}

func calibrated(run experiment.Run, cans []experiment.Can) bool {
	return slices.ContainsFunc(cans, func(c experiment.Can) bool {
		return c.Simulator == run.Simulator && (c.Date.IsZero() || run.Started.IsZero() || !c.Date.After(run.Started))
	})
}

func quoted(s string) string {
	if s == "" {
		return "(not named)"
	}
	return s
}
