package cli

import (
	"encoding/json"
	"fmt"
	"path/filepath"

	"sheetwash/analysis/result"
	"sheetwash/api/batch"
)

// tell says what came out: the summary on standard output, the findings and
// where the tables are on standard error.
func (j *job) tell(s *streams, all *batch.Season, a *result.Analysis, files []string) error {
	switch {
	case s.json && !j.toStandardOut:
		return j.tellJSON(s, all, a, files)
	case s.quiet:
		return nil
	}
	printFindings(s.err, a.Findings, s.color(s.err))
	s.say("%s", j.datasetsLine(all))
	if j.toStandardOut {
		return nil
	}
	if len(a.Treatments) > 0 {
		sum := newSummary(a, j.units, s.color(s.out))
		if _, err := fmt.Fprintf(s.out, "\n%s\n%s\n", sum.table(), sum.sentences()); err != nil {
			return onDisk(err)
		}
	}
	if j.dryRun {
		s.say("Nothing was written (--dry-run).")
	} else {
		s.say("%s", wrap(fmt.Sprintf("Wrote %d files to %s.", len(files), j.out), 79, "  "))
	}
	return nil
}

// datasetsLine counts the datasets and names the refused ones.
func (j *job) datasetsLine(all *batch.Season) string {
	line := fmt.Sprintf("%d of %d datasets analyzed.", len(all.Datasets)-all.Refused(), len(all.Datasets))
	if all.Refused() == 0 {
		return line
	}
	line += " Refused:"
	for i := range all.Datasets {
		if d := &all.Datasets[i]; !d.Stands() {
			line += " " + d.Name
		}
	}
	return wrap(line, 79, "  ")
}

// tellJSON answers in the shape of the service's analyses.
func (j *job) tellJSON(s *streams, all *batch.Season, a *result.Analysis, files []string) error {
	type state struct {
		Name   string `json:"name"`
		SHA256 string `json:"sha256"`
		State  string `json:"state"`
	}
	answer := struct {
		State    string `json:"state"`
		Progress struct {
			Done   int `json:"done"`
			Total  int `json:"total"`
			Failed int `json:"failed"`
		} `json:"progress"`
		Findings map[string]int `json:"findings"`
		Datasets []state        `json:"datasets"`
		Files    []string       `json:"files"`
		Written  bool           `json:"written"`
	}{State: "successful", Findings: map[string]int{}, Datasets: []state{}, Files: []string{}, Written: !j.dryRun}
	for _, severity := range severities {
		answer.Findings[severity] = countOf(a.Findings, severity)
	}
	for i := range all.Datasets {
		d := state{all.Datasets[i].Name, all.Datasets[i].Digest, "analyzed"}
		if !all.Datasets[i].Stands() {
			d.State = "refused"
		}
		answer.Datasets = append(answer.Datasets, d)
	}
	p := &answer.Progress
	p.Total, p.Failed = len(all.Datasets), all.Refused()
	p.Done = p.Total - p.Failed
	if p.Done == 0 {
		answer.State = "failed"
	}
	for _, f := range files {
		answer.Files = append(answer.Files, filepath.ToSlash(filepath.Join(j.out, f)))
	}
	e := json.NewEncoder(s.out)
	e.SetIndent("", "  ")
	return e.Encode(answer)
}
