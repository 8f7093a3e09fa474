package batch

import (
	"context"
	"fmt"

	"sheetwash/analysis/experiment"
	"sheetwash/ingest"
	"sheetwash/ingest/issue"
)

// datasetSeveral says that an upload holds more than one dataset.
const datasetSeveral issue.Code = "dataset.several"

// ReadFiles reads the one dataset among files and calls it name. Files that hold
// several datasets are refused. The error is for files that cannot be opened, and
// that of ctx.
func (q Request) ReadFiles(ctx context.Context, name string, files []ingest.File) (Dataset, error) {
	sources, loose, err := ingest.FindFiles(name, files, ingest.FindOptions{Mapping: q.Mapping, Limits: q.Limits})
	if err != nil {
		return Dataset{}, err
	}
	defer closeAll(sources)
	d := Dataset{Name: name}
	switch {
	case loose.Errors() > 0 || len(sources) == 0:
	case len(sources) > 1:
		loose.Add(issue.Issue{Code: datasetSeveral, Severity: issue.Error,
			Message: fmt.Sprintf("this holds %d datasets, from %q to %q: send each by itself", len(sources), sources[0].Name, sources[len(sources)-1].Name)})
	default:
		src := sources[0]
		src.Name = name
		if d, err = q.Read(ctx, src); err != nil {
			return d, err
		}
	}
	d.Findings = append(rows(name, loose.All()), d.Findings...)
	return d, nil
}

// Exclusion takes one plot out of the statistics.
type Exclusion struct {
	Run    string `json:"run"`
	Plot   string `json:"plot"`
	Reason string `json:"reason"`
}

// Exclude marks plots of a dataset that stands as excluded, in addition to those
// that its files exclude. A plot that it does not have is passed over.
func (d *Dataset) Exclude(list []Exclusion) error {
	if !d.Stands() || len(list) == 0 {
		return nil
	}
	reasons := make(map[[2]string]string, len(list))
	for _, x := range list {
		reasons[[2]string{x.Run, x.Plot}] = x.Reason
	}
	runs := append([]experiment.Run(nil), d.Runs()...)
	for r := range runs {
		runs[r].Plots = append([]experiment.Plot(nil), runs[r].Plots...)
		for p := range runs[r].Plots {
			plot := &runs[r].Plots[p]
			if reason, ok := reasons[[2]string{runs[r].ID, plot.ID}]; ok {
				plot.Exclude, plot.ExcludeReason = true, reason
			}
		}
	}
	parts := d.Parts()
	parts.Name, parts.Digest, parts.Runs = d.Name, d.Digest, runs
	changed, err := experiment.New(parts)
	if err != nil {
		return fmt.Errorf("exclude plots: %w", err)
	}
	d.Dataset, d.Excluded = changed, list
	return nil
}
