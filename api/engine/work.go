package engine

import (
	"cmp"
	"context"
	"encoding/gob"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strconv"

	"sheetwash/analysis"
	"sheetwash/analysis/rainfall"
	"sheetwash/analysis/result"
	"sheetwash/api/batch"
	"sheetwash/api/jobs"
	"sheetwash/api/problem"
	"sheetwash/api/report"
	"sheetwash/api/report/page"
	"sheetwash/api/store"
	"sheetwash/ingest"
)

// Work is what the jobs of an analysis do.
func (e *Engine) Work() jobs.Work { return jobs.Work{Dataset: e.dataset, Fold: e.fold} }

// part is what the job of a dataset keeps.
type part struct {
	Part     analysis.Part
	Findings []result.Finding
	Record   batch.DatasetRecord
	Facts    page.Dataset
}

// member is a dataset of an analysis: its record, and the name that its rows have.
type member struct {
	store.Dataset
	name string
}

// cast is what every job of an analysis must know of all its datasets. It is read
// once: what datasets hold never changes.
type cast struct {
	members      []member
	calibrations []rainfall.Calibration
}

func (e *Engine) castOf(ctx context.Context, id string, all []store.AnalysisDataset) (*cast, error) {
	if c, ok := e.casts.Get(id); ok {
		return c, nil
	}
	c := &cast{}
	var err error
	if c.members, err = e.members(ctx, all); err != nil {
		return nil, err
	}
	if c.calibrations, err = e.calibrations(ctx, c.members); err != nil {
		return nil, err
	}
	e.casts.Add(id, c)
	return c, nil
}

// members reads the records of the datasets of an analysis. Datasets of one name
// are told apart by a number, in the order of the request.
func (e *Engine) members(ctx context.Context, all []store.AnalysisDataset) ([]member, error) {
	out := make([]member, len(all))
	taken := map[string]bool{}
	for i, d := range all {
		record, err := e.Store.Dataset(ctx, store.Everything, d.DatasetID)
		if err != nil {
			return nil, fmt.Errorf("dataset %s: %w", d.DatasetID, err)
		}
		name := record.Name
		for n := 2; taken[name]; n++ {
			name = record.Name + " (" + strconv.Itoa(n) + ")"
		}
		taken[name] = true
		out[i] = member{record, name}
	}
	return out, nil
}

// dataset analyses one dataset of an analysis and keeps its part.
func (e *Engine) dataset(ctx context.Context, a store.Analysis, all []store.AnalysisDataset, position int) (string, json.RawMessage, error) {
	q, d, calibrations, err := e.load(ctx, a, all, position)
	if err != nil {
		return refusal(err)
	}
	if !d.Stands() {
		return refusal(problem.Rejected(findings(worst(d.Findings)), len(d.Findings), "the dataset %q has errors", d.Name))
	}
	p := part{Findings: d.Findings, Record: q.Record(&d), Facts: page.FactsOf(d.Name, d.Digest, d.Dataset)}
	if p.Part, err = q.Analyse(ctx, &d, calibrations); err != nil {
		return "", nil, err
	}
	b, err := e.keep(ctx, func(w io.Writer) error { return gob.NewEncoder(w).Encode(&p) })
	return b.Digest, nil, err
}

// refusal is a problem of the data as the job records it; another error is
// returned as it is, to be tried again.
func refusal(err error) (string, json.RawMessage, error) {
	known := problem.From(err)
	if known.Code == problem.Internal {
		return "", nil, err
	}
	text, jsonErr := json.Marshal(known.Details("", ""))
	return "", text, jsonErr
}

// worst puts errors before warnings and notes.
func worst(list []result.Finding) []result.Finding {
	rank := map[string]int{"error": 0, "warning": 1}
	out := slices.Clone(list)
	slices.SortStableFunc(out, func(a, b result.Finding) int {
		ra, okA := rank[a.Severity]
		rb, okB := rank[b.Severity]
		if !okA {
			ra = len(rank)
		}
		if !okB {
			rb = len(rank)
		}
		return cmp.Compare(ra, rb)
	})
	return out
}

// load reads the dataset at a position of an analysis and judges whether it stands
// with the catch cans of all of them.
func (e *Engine) load(ctx context.Context, a store.Analysis, all []store.AnalysisDataset, position int) (batch.Request, batch.Dataset, []rainfall.Calibration, error) {
	return e.loadWith(ctx, a, all, position, func(m member) ([]batch.Exclusion, error) { return e.exclusions(ctx, m.ID) })
}

// loadWith is load with the plots that exclude sets aside.
func (e *Engine) loadWith(ctx context.Context, a store.Analysis, all []store.AnalysisDataset, position int, exclude func(member) ([]batch.Exclusion, error)) (batch.Request, batch.Dataset, []rainfall.Calibration, error) {
	fail := func(err error) (batch.Request, batch.Dataset, []rainfall.Calibration, error) {
		return batch.Request{}, batch.Dataset{}, nil, err
	}
	season, err := e.Store.Season(ctx, store.Everything, a.SeasonID)
	if err != nil {
		return fail(err)
	}
	q, err := e.request(a.Parameters, season.TimeZone)
	if err != nil {
		return fail(err)
	}
	c, err := e.castOf(ctx, a.ID, all)
	if err != nil {
		return fail(err)
	}
	m := c.members[position]
	if all[position].DatasetState == store.DatasetDeleted {
		return fail(problem.New(problem.Deleted, "the dataset %q has been deleted", m.Name))
	}
	d, err := e.readRecord(ctx, q, m)
	if err != nil {
		return fail(err)
	}
	exclusions, err := exclude(m)
	if err != nil {
		return fail(err)
	}
	if err := d.Exclude(exclusions); err != nil {
		return fail(err)
	}
	d.RefuseUncalibrated(c.calibrations)
	return q, d, c.calibrations, nil
}

// readRecord reads the files of a dataset, which it fetches to this machine.
func (e *Engine) readRecord(ctx context.Context, q batch.Request, m member) (batch.Dataset, error) {
	dir, err := os.MkdirTemp(e.Temp, "sheetwash-")
	if err != nil {
		return batch.Dataset{}, err
	}
	defer os.RemoveAll(dir)
	var files []ingest.File
	for i, f := range m.Files {
		p := filepath.Join(dir, strconv.Itoa(i))
		if err := e.fetch(ctx, f.SHA256, p); err != nil {
			return batch.Dataset{}, fmt.Errorf("fetch %s of dataset %s: %w", f.Name, m.ID, err)
		}
		files = append(files, ingest.File{Name: f.Name, Path: p})
	}
	return q.ReadFiles(ctx, m.name, files)
}

func (e *Engine) fetch(ctx context.Context, digest, p string) error {
	r, err := e.Blobs.Open(ctx, digest)
	if err != nil {
		return err
	}
	defer r.Close()
	f, err := os.OpenFile(p, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	_, err = io.Copy(f, r)
	return cmp.Or(err, f.Close())
}

// exclusions lists the plots of a dataset that were excluded over the service or
// in its files.
func (e *Engine) exclusions(ctx context.Context, dataset string) ([]batch.Exclusion, error) {
	var out []batch.Exclusion
	for p := (store.Page{Limit: 1000}); ; {
		list, err := e.Store.Plots(ctx, store.Everything, store.Filter{Datasets: []string{dataset}}, p)
		if err != nil {
			return nil, err
		}
		for _, r := range list.Rows {
			if r.Excluded {
				out = append(out, batch.Exclusion{Run: r.Run, Plot: r.Plot, Reason: r.ExcludeReason})
			}
		}
		if !list.More {
			break
		}
		p.After = list.Next
	}
	slices.SortFunc(out, func(a, b batch.Exclusion) int {
		return cmp.Or(cmp.Compare(a.Run, b.Run), cmp.Compare(a.Plot, b.Plot))
	})
	return out, nil
}

// calibrations gathers the catch cans of the datasets, in the order of their names.
func (e *Engine) calibrations(ctx context.Context, members []member) ([]rainfall.Calibration, error) {
	ordered := slices.Clone(members)
	slices.SortStableFunc(ordered, func(a, b member) int { return cmp.Compare(a.name, b.name) })
	var out []rainfall.Calibration
	for _, m := range ordered {
		if m.CalibrationsBlob == "" || m.State == store.DatasetDeleted {
			continue
		}
		data, err := e.read(ctx, m.CalibrationsBlob)
		if err != nil {
			return nil, err
		}
		list, err := cans(data)
		if err != nil {
			return nil, fmt.Errorf("catch cans of dataset %s: %w", m.ID, err)
		}
		out = append(out, rainfall.Calibrations(m.name, list)...)
	}
	return out, nil
}

// fold joins the parts of an analysis into its tables. A dataset that was refused
// is read again for its findings.
func (e *Engine) fold(ctx context.Context, a store.Analysis, all []store.AnalysisDataset) ([]store.ResultTable, json.RawMessage, error) {
	q, err := e.request(a.Parameters, "")
	if err != nil {
		return nil, nil, err
	}
	loaded := make([]part, len(all))
	for i, d := range all {
		if d.State == store.PartDone {
			err = e.loadPart(ctx, d.PartBlob, &loaded[i])
		} else {
			err = e.refused(ctx, a, all, i, &loaded[i])
		}
		if err != nil {
			return nil, nil, err
		}
	}
	slices.SortStableFunc(loaded, func(a, b part) int { return cmp.Compare(a.Record.Name, b.Record.Name) })
	var parts []analysis.Part
	var records []batch.DatasetRecord
	var found []result.Finding
	var facts []page.Dataset
	for _, p := range loaded {
		if p.Part.Dataset != "" {
			parts = append(parts, p.Part)
		}
		records, found, facts = append(records, p.Record), append(found, p.Findings...), append(facts, p.Facts)
	}
	results, err := folded(q, parts, found)
	if err != nil {
		_, bad, err := refusal(err)
		if bad != nil {
			err = jobs.Rejection{Problem: bad}
		}
		return nil, nil, err
	}
	provenance, err := json.Marshal(q.Provenance(e.Program, report.SI, records).With(results))
	if err != nil {
		return nil, nil, err
	}
	tables, err := e.keepResults(ctx, a.ID, results)
	if err != nil {
		return nil, nil, err
	}
	made, err := e.keepPages(ctx, a.ID, results, facts)
	return append(tables, made), provenance, err
}

// folded joins parts. Parameters that do not fit the data, such as a reference
// treatment that nobody rained on, are a malformed_request: another try would not mend them.
func folded(q batch.Request, parts []analysis.Part, found []result.Finding) (*result.Analysis, error) {
	a, err := q.Fold(parts, found)
	if errors.Is(err, analysis.ErrPlan) {
		return nil, problem.Because(err, problem.MalformedRequest, "the parameters do not fit the data: %v", err)
	}
	return a, err
}

func (e *Engine) loadPart(ctx context.Context, digest string, into *part) error {
	r, err := e.Blobs.Open(ctx, digest)
	if err != nil {
		return fmt.Errorf("open part: %w", err)
	}
	defer r.Close()
	if err := gob.NewDecoder(r).Decode(into); err != nil {
		return fmt.Errorf("read part: %w", err)
	}
	return nil
}

// refused fills a part with what is known of a dataset without one.
func (e *Engine) refused(ctx context.Context, a store.Analysis, all []store.AnalysisDataset, position int, into *part) error {
	q, d, _, err := e.load(ctx, a, all, position)
	if err == nil {
		into.Findings, into.Record = d.Findings, q.Record(&d)
		into.Record.State = "refused"
		into.Facts = page.FactsOf(d.Name, d.Digest, nil)
		return nil
	}
	if problem.From(err).Code == problem.Internal {
		return err
	}
	c, err := e.castOf(ctx, a.ID, all)
	if err == nil {
		m := c.members[position]
		into.Record = batch.DatasetRecord{Name: m.name, SHA256: m.SHA256, State: "refused"}
		into.Facts = page.FactsOf(m.name, m.SHA256, nil)
	}
	return err
}
