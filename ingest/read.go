package ingest

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"os"
	"path"
	"slices"
	"time"

	"sheetwash/analysis/experiment"
	"sheetwash/ingest/check"
	"sheetwash/ingest/issue"
	"sheetwash/ingest/mapping"
	"sheetwash/ingest/rig"
	"sheetwash/ingest/schema"
	"sheetwash/ingest/table"
)

// Options says how a dataset is read. Zero fields take their defaults.
type Options struct {
	Workers int            // goroutines that decode; default 1
	Mapping string         // path of a mapping that goes before the dataset's own; "": none
	MaxRows int64          // rows of one table other than readings; default 20 million
	BinMin  float64        // width of a time bin of logger channels, min; default that of package readings
	Zone    *time.Location // of stamps without an offset, where neither mapping nor analysis.yaml says; nil: UTC
	Limits  Limits
	Checks  bool // only findings and the structure are wanted: the Dataset holds runs and plots without their bottles
}

func (o Options) orDefault() Options {
	o.Workers = max(1, o.Workers)
	o.MaxRows = cmp.Or(o.MaxRows, 20_000_000)
	o.Limits = o.Limits.orDefault()
	return o
}

// Outcome is what reading one dataset gave.
type Outcome struct {
	Name             string
	Dataset          *experiment.Dataset // nil where there are errors
	Issues           []issue.Issue       // in the order of issue.List.All
	Digest           string              // SHA-256 of the dataset's bytes, hex
	Rows             int64               // rows of all tables, readings included
	Settings         Settings
	NeedsCalibration []string // runs, sorted, whose intensity only catch cans of the season can tell
}

// Read reads and checks one dataset. What is wrong with it is in the Outcome;
// the error is for I/O and ctx.
func Read(ctx context.Context, src Source, opt Options) (*Outcome, error) {
	r := &reading{src: src, opt: opt.orDefault()}
	defer r.close()
	if err := r.run(ctx); err != nil {
		return nil, fmt.Errorf("read dataset %s: %w", src.Name, err)
	}
	return r.out, nil
}

// reading is one call of Read.
type reading struct {
	src    Source
	opt    Options
	files  []file // on disk
	dir    string // temporary; "": none
	issues issue.List
	tables tables
	draft  *check.Draft
	out    *Outcome
}

func (r *reading) close() {
	r.tables.close()
	if r.dir != "" {
		os.RemoveAll(r.dir)
	}
}

func (r *reading) run(ctx context.Context) error {
	r.out = &Outcome{Name: r.src.Name}
	for _, i := range r.src.issues {
		r.issues.Add(i)
	}
	if err := r.unpack(ctx); err != nil {
		return err
	}
	digests := startDigest(ctx, r.files, r.opt.Mapping)
	err := r.read(ctx)
	digest, derr := digests.wait()
	if err = cmp.Or(err, derr); err != nil {
		return err
	}
	r.out.Digest = digest
	if r.issues.Errors() == 0 && r.draft != nil {
		r.out.NeedsCalibration = check.NeedsCalibration(r.draft)
		r.out.Dataset, err = assemble(r.draft, digest, !r.opt.Checks)
		switch {
		case errors.Is(err, experiment.ErrInvalid):
			r.issues.Add(issue.Issue{Code: DatasetInvalid, Severity: issue.Error, Message: err.Error() + ": check the numbers of this row"})
		case err != nil:
			return err
		}
	}
	r.out.Issues = r.issues.All()
	return nil
}

// unpack puts the members of an archive on disk.
func (r *reading) unpack(ctx context.Context) error {
	r.files = slices.Clone(r.src.files)
	if !slices.ContainsFunc(r.files, func(f file) bool { return f.member != "" }) {
		return nil
	}
	dir, err := os.MkdirTemp("", "sheetwash-")
	if err != nil {
		return err
	}
	r.dir = dir
	faults, err := extract(ctx, r.files, dir, r.opt.Limits)
	for _, f := range faults {
		r.issues.Add(f)
	}
	return err
}

func (r *reading) read(ctx context.Context) error {
	if r.issues.Errors() > 0 {
		return ctx.Err()
	}
	r.draft = &check.Draft{Dataset: r.src.Name, Errors: experiment.DefaultErrors()}
	m, err := r.configure()
	if err != nil {
		return err
	}
	if m == nil && r.issues.Errors() > 0 && slices.ContainsFunc(r.files, isMapping) {
		r.draft = nil // what the tables mean is not known
		return nil
	}
	r.tables = tables{issues: &r.issues, broken: map[string]bool{}}
	if err := r.tables.openTables(ctx, r.files, m, r.opt.Limits); err != nil {
		return err
	}
	switch {
	case len(r.tables.bounds) > 0:
		r.tables.missing(r.tables.bounds[0].Source.File())
	case r.issues.Errors() == 0:
		r.issues.Add(issue.Issue{Code: DatasetNone, Severity: issue.Error, Message: "no table was found: name the tables runs, plots, samples, cans or readings, or write a mapping.yaml beside them"})
	}
	if err := r.decode(ctx); err != nil {
		return err
	}
	if r.draft.Runs.N == 0 && r.draft.Cans.N == 0 && r.issues.Errors() == 0 {
		r.issues.Add(issue.Issue{Code: DatasetEmpty, Severity: issue.Error, Message: "the tables hold neither a run nor a catch can: fill in the rows"})
	}
	r.draft.Broken = r.tables.brokenTables()
	check.Run(r.draft, &r.issues)
	return nil
}

// configure reads mapping, data package and settings.
func (r *reading) configure() (*mapping.Map, error) {
	var m *mapping.Map
	if r.opt.Mapping != "" {
		data, err := os.ReadFile(r.opt.Mapping)
		if err != nil {
			return nil, err
		}
		parsed, issues := mapping.Parse(data, baseOf(r.opt.Mapping))
		r.issues.AddAll(issues)
		m = parsed
	}
	for _, role := range []role{roleMapping, rolePackage, roleSettings, roleProfile} {
		for _, f := range r.files {
			if f.role != role {
				continue
			}
			if (role == roleMapping || role == rolePackage) && m != nil {
				i := unusedIssue(f.name)
				i.Message = "another mapping goes before this one, which is not read"
				r.issues.Add(i)
				continue
			}
			data, err := content(f, maxMapping)
			if err != nil {
				return nil, err
			}
			var issues *issue.List
			switch role {
			case roleMapping:
				m, issues = mapping.Parse(data, f.name)
			case rolePackage:
				m, issues = mapping.ParsePackage(data, f.name)
			case roleProfile:
				if r.draft.Rigs != nil {
					i := unusedIssue(f.name)
					i.Message = "another profile goes before this one, which is not read"
					r.issues.Add(i)
					continue
				}
				r.draft.Rigs, issues = rig.Parse(data, f.name, r.beside)
			default:
				issues = &issue.List{}
				r.out.Settings, r.draft.Errors = parseSettings(data, f.name, issues)
			}
			r.issues.AddAll(issues)
		}
	}
	return m, nil
}

// beside returns the bytes of a table of drop sizes that lies beside the profile.
func (r *reading) beside(name string) ([]byte, error) {
	for _, f := range r.files {
		if f.role == roleDrops && path.Base(f.name) == name {
			return content(f, maxMapping)
		}
	}
	return nil, fmt.Errorf("%w: there is no file %q beside the profile; name it drops, or drops_ and a word, with .txt, .csv or .dat", rig.ErrDrops, issue.Clip(name))
}

func isMapping(f file) bool { return f.role == roleMapping || f.role == rolePackage }

// decode reads all tables into the draft: runs first, since times may be clock
// times, and loggers last.
func (r *reading) decode(ctx context.Context) error {
	builders := map[string]*builder{}
	for _, t := range schema.Tables() {
		builders[t.Name] = newBuilder(t.Name)
	}
	joined, err := r.scanTables(ctx, builders)
	if err != nil {
		return err
	}
	d := r.draft
	d.Runs, d.Cans = builders["runs"].frame, builders["cans"].frame
	if joined["runs"] {
		d.Runs = distinct(d.Runs, []string{"run"}, RunDisagrees, true, &r.issues)
	}
	starts := startsOf(d.Runs)
	for _, name := range []string{"plots", "samples"} {
		resolveTimes(builders[name], builders[name].frame, starts, &r.issues)
	}
	d.Plots, d.Samples = builders["plots"].frame, builders["samples"].frame
	if joined["plots"] {
		d.Samples = withoutBare(d.Samples, r.sharedFiles("plots", "samples"))
		d.Plots = distinct(d.Plots, []string{"run", "plot"}, PlotDisagrees, true, &r.issues)
	}
	defaultEvents(d, &r.issues)
	if joined["runs"] {
		raiseIntensity(d, &r.issues)
	}
	return r.reduceReadings(ctx, starts)
}

// scanTables decodes every table but the readings, each file once, and returns
// which tables of the dictionary have rows from a file that feeds several.
func (r *reading) scanTables(ctx context.Context, builders map[string]*builder) (joined map[string]bool, err error) {
	s := scanner{workers: r.opt.Workers, maxRows: r.opt.MaxRows, zone: cmp.Or(r.out.Settings.Zone, r.opt.Zone), issues: &r.issues, sizes: r.sizes()}
	joined = map[string]bool{}
	done := map[table.Table]bool{}
	for _, b := range r.tables.bounds {
		if b.Table.Name == "readings" || done[b.Source] {
			continue
		}
		done[b.Source] = true
		var feeds []*feed
		for _, other := range r.tables.bounds {
			if other.Source == b.Source {
				feeds = append(feeds, &feed{bound: other, into: builders[other.Table.Name]})
			}
		}
		for _, f := range feeds {
			if (len(feeds) > 1 || r.mapped(f.bound)) && (f.bound.Table.Name == "runs" || f.bound.Table.Name == "plots") {
				joined[f.bound.Table.Name] = true
			}
		}
		if err := s.scan(ctx, b.Source, feeds); err != nil {
			return nil, err
		}
	}
	r.out.Rows = s.rows
	return joined, nil
}

// sizes returns the bytes of each file by its name.
func (r *reading) sizes() map[string]int64 {
	out := make(map[string]int64, len(r.files))
	for _, f := range r.files {
		out[f.name] = f.size
	}
	return out
}

// sharedFiles returns the files whose rows feed both tables at once.
func (r *reading) sharedFiles(one, other string) map[string]bool {
	files := map[string]bool{}
	for _, b := range r.tables.bounds {
		for _, c := range r.tables.bounds {
			if b.Source == c.Source && b.Table.Name == one && c.Table.Name == other {
				files[b.Source.File()] = true
			}
		}
	}
	return files
}

// mapped reports whether a mapping makes a table from a file that it also uses
// for another: such a file has many rows of one run or plot.
func (r *reading) mapped(b *mapping.Bound) bool {
	for _, other := range r.tables.bounds {
		if other != b && other.Table != b.Table && other.Source.File() == b.Source.File() {
			return true
		}
	}
	return false
}
