package cli

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"

	"golang.org/x/sync/errgroup"

	"sheetwash/analysis/result"
	"sheetwash/api/batch"
	"sheetwash/api/report"
	"sheetwash/api/report/rscript"
)

// provenanceFile says what the result tables follow from.
const provenanceFile = "analysis.json"

// outputs lists the files of a job, the tables first.
func (j *job) outputs() []string {
	var out []string
	for _, f := range j.formats {
		for _, t := range report.Tables(j.units) {
			out = append(out, f.FileName(t.Name))
		}
	}
	if j.rScript {
		out = append(out, rscript.FileName)
	}
	return append(out, provenanceFile)
}

// clear refuses to start where a result is there already, before any work. A
// folder in the place of a table is not replaced by --force either.
func (j *job) clear() error {
	if j.dryRun || j.toStandardOut {
		return nil
	}
	for _, name := range j.outputs() {
		full := filepath.Join(j.out, name)
		info, err := os.Lstat(full)
		switch {
		case err != nil:
		case info.IsDir():
			return conflict(fmt.Errorf("%s is a folder", full))
		case !j.force:
			return conflict(fmt.Errorf("%s is there already; --force replaces the tables of %s", full, j.out))
		}
	}
	return nil
}

// write makes the files of the job appear, all prepared before the first is
// shown, and returns their names.
func (j *job) write(s *streams, all *batch.Season, a *result.Analysis) ([]string, error) {
	switch {
	case j.toStandardOut:
		return nil, report.Write(s.out, a, j.table, j.options(j.formats[0]))
	case j.dryRun:
		return j.outputs(), nil
	}
	if err := os.MkdirAll(j.out, 0o755); err != nil {
		return nil, onDisk(err)
	}
	ready, err := j.prepare(all, a)
	defer func() {
		for _, p := range ready {
			p.drop()
		}
	}()
	if err != nil {
		return nil, err
	}
	for _, p := range ready {
		if err := p.show(); err != nil {
			return nil, onDisk(err)
		}
	}
	if err := removeCheckpoints(j.out); err != nil {
		return nil, onDisk(err)
	}
	return j.outputs(), nil
}

// prepare writes every file beside its name, several at a time. What was written
// before an error is returned with it.
func (j *job) prepare(all *batch.Season, a *result.Analysis) ([]*pending, error) {
	type output struct {
		name  string
		write func(io.Writer) error
	}
	var outputs []output
	for _, f := range j.formats {
		for _, t := range report.Tables(j.units) {
			outputs = append(outputs, output{f.FileName(t.Name), func(w io.Writer) error { return report.Write(w, a, t.Name, j.options(f)) }})
		}
	}
	if j.rScript {
		outputs = append(outputs, output{rscript.FileName, func(w io.Writer) error { return rscript.Write(w, a, j.SeasonPlan().Level) }})
	}
	outputs = append(outputs, output{provenanceFile, j.Provenance(thisProgram(), j.units, j.Records(all.Datasets)).With(a).Write})
	slots := make([]*pending, len(outputs))
	var g errgroup.Group
	g.SetLimit(j.Workers)
	for i, o := range outputs {
		g.Go(func() error {
			p, err := prepare(filepath.Join(j.out, o.name), o.write)
			if err != nil {
				return onDisk(err)
			}
			slots[i] = p
			return nil
		})
	}
	err := g.Wait()
	return slices.DeleteFunc(slots, func(p *pending) bool { return p == nil }), err
}

func (j *job) options(f report.Format) report.Options {
	return report.Options{Format: f, Units: j.units, Workers: j.Workers}
}
