package cli

import (
	"context"
	"errors"
	"fmt"
	"runtime"
	"runtime/debug"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"sheetwash/analysis"
	"sheetwash/api/batch"
	"sheetwash/api/report"
	"sheetwash/ingest"
)

// analyzeFlags are the flags of analyze as typed.
type analyzeFlags struct {
	out, formats, units, mapping string
	table                        string
	level                        float64
	reference                    string
	jobs                         int
	errors                       []string
	resume, force, dryRun        bool
	models, rScript              bool
}

func newAnalyze(s *streams) *cobra.Command {
	f := &analyzeFlags{}
	c := &cobra.Command{
		Use:   "analyze PATH... --out DIR",
		Short: "Compute the result tables of a folder of runs",
		Args:  arguments(1, -1, "one or more folders or files, or - for standard input"),
		RunE: func(c *cobra.Command, args []string) error {
			job, err := f.job(args, c.Flags().Changed("level"))
			if err != nil {
				return usage(err)
			}
			return job.run(c.Context(), s)
		},
	}
	describe(c, "  sheetwash analyze testdata/demo-season --out results", analyzeLong)
	flags := c.Flags()
	f.computing(c)
	flags.StringVar(&f.out, "out", "", "`folder` for the result tables; - writes one table to standard output")
	flags.StringVar(&f.formats, "format", "csv", "`list` of csv, json, arrow, parquet")
	flags.StringVar(&f.units, "units", "si", "`system` of units in the tables and on the terminal, si or us")
	flags.StringVar(&f.table, "table", "plot_results", "`table` that --out - writes")
	flags.BoolVar(&f.rScript, "r-script", false, "write second_opinion.R beside the tables, which recomputes treatments and comparisons with R")
	flags.BoolVar(&f.resume, "resume", false, "keep each finished dataset until all are done, and go on where a stopped run left off")
	flags.BoolVar(&f.force, "force", false, "replace result tables that are there already")
	flags.BoolVar(&f.dryRun, "dry-run", false, "do everything but write files")
	return c
}

// computing adds the flags of every command that does the main job.
func (f *analyzeFlags) computing(c *cobra.Command) {
	flags := c.Flags()
	flags.Float64Var(&f.level, "level", analysis.DefaultPlan().Level, "`level` of the intervals, 0.80 to 0.99")
	flags.IntVar(&f.jobs, "jobs", 0, "`number` of datasets and plots that are worked on at once; the results don't depend on it (default one per processor)")
	flags.StringVar(&f.reference, "reference", "", "`treatment` that each other one is compared with, over that of analysis.yaml (default all pairs)")
	flags.StringVar(&f.mapping, "mapping", "", "mapping `file` for every dataset, in place of one beside the data")
	flags.StringArrayVar(&f.errors, "error", nil, "standard uncertainty as `NAME=NUMBER`, over that of analysis.yaml; may be repeated. Names: "+strings.Join(batch.UncertaintyNames(), ", "))
	flags.BoolVar(&f.models, "models", false, "fit seven infiltration models to each plot, weigh them and average their steady rates; a few milliseconds a plot")
}

const analyzeLong = `Reads every dataset below the paths (folders to any depth, zips, workbooks,
single files, - for standard input), checks it, and writes seven tables:
findings, hydrograph, plot_results, fits, treatment_results, comparisons and
calibrations, and analysis.json with the settings and digests that they follow
from. A dataset with errors is refused whole and listed; the others are
analyzed.

Exit codes: 0 done, 2 usage, 3 every dataset refused, 4 some refused, 5 not
found, 7 a table is there already, 8 disk, 130 stopped. With 3 and 4 all tables
are written.`

// job is a checked request to analyze.
type job struct {
	batch.Request
	paths         []string
	out           string
	formats       []report.Format
	units         report.Units
	table         string
	resume        bool
	rScript       bool
	force, dryRun bool
	toStandardOut bool
	typedErrors   []string // of --error
}

func (f *analyzeFlags) job(paths []string, levelGiven bool) (*job, error) {
	j := &job{out: f.out, table: f.table, resume: f.resume, rScript: f.rScript, force: f.force, dryRun: f.dryRun, toStandardOut: f.out == "-", typedErrors: f.errors}
	j.paths, j.Request = paths, batch.Request{Mapping: f.mapping, Workers: f.jobs, Models: f.models, Reference: f.reference}
	if f.jobs == 0 {
		j.Workers = runtime.GOMAXPROCS(0)
	}
	var err error
	if j.formats, err = report.ParseFormats(f.formats); err != nil {
		return nil, err
	}
	if j.units, err = report.ParseUnits(f.units); err != nil {
		return nil, err
	}
	if j.Errors, err = parseUncertainties(f.errors); err != nil {
		return nil, err
	}
	if levelGiven {
		j.Level = f.level
	}
	_, known := report.Find(f.table, report.SI)
	switch {
	case f.out == "" && !f.dryRun:
		return nil, errors.New("say where the result tables go with --out DIR")
	case f.jobs < 0:
		return nil, errors.New("--jobs must be 1 or more")
	case levelGiven && !(f.level >= 0.80 && f.level <= 0.99):
		return nil, fmt.Errorf("--level %v is not from 0.80 to 0.99", f.level)
	case !known:
		return nil, fmt.Errorf("there is no result table %q", f.table)
	case j.rScript && (j.units != report.SI || !slices.Contains(j.formats, report.CSV) || j.toStandardOut):
		return nil, errors.New("--r-script reads the tables in csv and si: let analyze write these into a folder")
	case j.toStandardOut && len(j.formats) != 1:
		return nil, errors.New("--out - writes one table in one format")
	}
	return j, nil
}

// thrifty is how far the heap grows between collections, percent: a large logger
// file then stays under 300 MB, and a season of bottles takes a sixth more of the
// processor (docs/performance.md).
const thrifty = 40

// run does the whole job: find, read, analyse, write, tell.
func (j *job) run(ctx context.Context, s *streams) error {
	if s.env("GOGC") == "" {
		defer debug.SetGCPercent(debug.SetGCPercent(thrifty))
	}
	if err := j.clear(); err != nil {
		return err
	}
	bar := newProgress(s)
	defer bar.finish()
	all, err := j.ReadSeason(ctx, j.paths, ingest.FindOptions{Stdin: s.in}, bar.reading)
	if err != nil {
		return err
	}
	if ctx.Err() != nil {
		return ctx.Err()
	}
	a, err := j.analyse(ctx, s, all, bar)
	if err != nil {
		return err
	}
	bar.finish()
	files, err := j.write(s, all, a)
	if err != nil {
		return err
	}
	if err := j.tell(s, all, a, files); err != nil {
		return err
	}
	if exit := exitOf(all); exit != exitDone {
		return outcome(exit)
	}
	return nil
}

// parseUncertainties reads the values of --error, such as volume_rel=0.01.
func parseUncertainties(texts []string) ([]batch.Uncertainty, error) {
	var out []batch.Uncertainty
	for _, text := range texts {
		name, number, ok := strings.Cut(text, "=")
		if !ok {
			return nil, fmt.Errorf("--error %q: write NAME=NUMBER with one of the names %s", text, strings.Join(batch.UncertaintyNames(), ", "))
		}
		v, err := strconv.ParseFloat(strings.TrimSpace(number), 64)
		if err != nil {
			return nil, fmt.Errorf("--error %q: %q is no number", text, number)
		}
		u, err := batch.NewUncertainty(strings.TrimSpace(name), v)
		if err != nil {
			return nil, fmt.Errorf("--error %q: %w", text, err)
		}
		out = append(out, u)
	}
	return out, nil
}
