package cli

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strings"

	"github.com/spf13/cobra"
	"golang.org/x/sync/errgroup"

	"sheetwash/analysis/result"
	"sheetwash/api/batch"
	"sheetwash/api/report/figure"
	"sheetwash/api/report/page"
	"sheetwash/ingest"
)

// reportFlags are the flags of report as typed: those of analyze that change
// numbers, and the forms of figures.
type reportFlags struct {
	analyzeFlags
	figures string
}

func newReport(s *streams) *cobra.Command {
	f := &reportFlags{analyzeFlags: analyzeFlags{formats: "csv", table: "plot_results"}}
	c := &cobra.Command{
		Use:   "report PATH... --out DIR",
		Short: "Make pages to look at: the season, each event, each run",
		Args:  arguments(1, -1, "one or more folders or files, or - for standard input"),
		RunE: func(c *cobra.Command, args []string) error {
			job, err := f.reportJob(args, c.Flags().Changed("level"))
			if err != nil {
				return usage(err)
			}
			return job.run(c.Context(), s)
		},
	}
	describe(c, "  sheetwash report testdata/demo-season --out report", reportLong)
	flags := c.Flags()
	f.computing(c)
	flags.StringVar(&f.out, "out", "", "`folder` for the pages")
	flags.StringVar(&f.units, "units", "si", "`system` of units on the pages, si or us")
	flags.StringVar(&f.figures, "figures", "", "`list` of svg, png, pdf: every chart as a file too, below DIR/figures")
	flags.BoolVar(&f.force, "force", false, "replace pages that are there already")
	return c
}

const reportLong = `Reads and analyzes as the command analyze does, and writes pages: season.html,
one event-NAME.html for each field day and one run-NAME.html for each run. Each
is one file that needs no network and no script, is read on a phone, projected
or printed, and follows the light or dark mode of the device. The numbers are
those of the result tables, rounded by their uncertainty.

Exit codes: 0 done, 2 usage, 3 every dataset refused, 4 some refused, 5 not
found, 7 a page is there already, 8 disk, 130 stopped. With 3 and 4 all pages
are written.`

// reportJob is a checked request for pages.
type reportJob struct {
	job
	figures []figure.Format
}

func (f *reportFlags) reportJob(paths []string, levelGiven bool) (*reportJob, error) {
	if f.out == "" || f.out == "-" {
		return nil, errors.New("say where the pages go with --out DIR")
	}
	j, err := f.job(paths, levelGiven)
	if err != nil {
		return nil, err
	}
	r := &reportJob{job: *j}
	if f.jobs == 0 {
		r.Workers = runtime.GOMAXPROCS(0)
	}
	if r.figures, err = figure.ParseFormats(f.figures); err != nil {
		return nil, err
	}
	return r, nil
}

// run reads, analyses and writes the pages.
func (j *reportJob) run(ctx context.Context, s *streams) error {
	if err := j.free("season.html"); err != nil { // before any work
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
	pages, err := j.pages(ctx, all, a)
	if err != nil {
		return err
	}
	if err := j.writePages(pages); err != nil {
		return err
	}
	if err := j.tellPages(s, all, a, pages); err != nil {
		return err
	}
	if exit := exitOf(all); exit != exitDone {
		return outcome(exit)
	}
	return nil
}

// pages lists the files of the report, the season's first.
func (j *reportJob) pages(ctx context.Context, all *batch.Season, a *result.Analysis) ([]page.File, error) {
	return page.Files(page.Input{
		Analysis: a, Units: j.units, Program: page.Program(thisProgram()), Datasets: facts(all),
		Settings: j.settings(), Command: j.command(), Explain: j.Explainer(ctx, all.Datasets).Explain,
	}, j.figures)
}

// facts are what the datasets say of runs and plots.
func facts(all *batch.Season) []page.Dataset {
	var out []page.Dataset
	for i := range all.Datasets {
		d := &all.Datasets[i]
		out = append(out, page.FactsOf(d.Name, d.Digest, d.Dataset))
	}
	return out
}

// settings are those of the season.
func (j *reportJob) settings() []page.Setting {
	p := j.SeasonPlan()
	return page.Settings(p.Level, p.Hydrograph.ThresholdShare, p.Hydrograph.SlopeWindowMin, p.Hydrograph.FinalWindowMin)
}

// command makes the same tables again. It names folders without what lies above
// them, which nobody else has.
func (j *reportJob) command() string {
	words := []string{"sheetwash", "analyze"}
	for _, p := range j.paths {
		if p != "-" {
			if full, err := filepath.Abs(p); err == nil {
				p = full
			}
			p = filepath.Base(p)
		}
		words = append(words, quoted(p))
	}
	words = append(words, "--out", "results")
	if j.Level != 0 {
		words = append(words, "--level", fmt.Sprint(j.Level))
	}
	for _, e := range j.typedErrors {
		words = append(words, "--error", quoted(e))
	}
	if j.Models {
		words = append(words, "--models")
	}
	if j.Mapping != "" {
		words = append(words, "--mapping", quoted(filepath.Base(j.Mapping)))
	}
	return strings.Join(words, " ")
}

// quoted puts a word in quotes where a shell would take it apart.
func quoted(word string) string {
	if word != "" && strings.Trim(word, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-_./=+,") == "" {
		return word
	}
	return "'" + strings.ReplaceAll(word, "'", `'\''`) + "'"
}

// free refuses where a page is there already. A folder in its place is not replaced
// by --force either.
func (j *reportJob) free(name string) error {
	full := filepath.Join(j.out, filepath.FromSlash(name))
	info, err := os.Lstat(full)
	switch {
	case err != nil:
	case info.IsDir():
		return conflict(fmt.Errorf("%s is a folder", full))
	case !j.force:
		return conflict(fmt.Errorf("%s is there already; --force replaces the pages of %s", full, j.out))
	}
	return nil
}

// writePages makes the files appear, all prepared before the first is shown.
func (j *reportJob) writePages(files []page.File) error {
	for _, f := range files {
		if err := j.free(f.Name); err != nil {
			return err
		}
		if err := os.MkdirAll(filepath.Dir(filepath.Join(j.out, filepath.FromSlash(f.Name))), 0o755); err != nil {
			return onDisk(err)
		}
	}
	ready := make([]*pending, len(files))
	defer func() {
		for _, p := range ready {
			if p != nil {
				p.drop()
			}
		}
	}()
	var g errgroup.Group
	g.SetLimit(j.Workers)
	for i, f := range files {
		g.Go(func() (err error) {
			ready[i], err = prepare(filepath.Join(j.out, filepath.FromSlash(f.Name)), f.Write)
			return err
		})
	}
	if err := g.Wait(); err != nil {
		return onDisk(err)
	}
	for _, p := range ready {
		if err := p.show(); err != nil {
			return onDisk(err)
		}
	}
	return nil
}

// tellPages says what came out.
func (j *reportJob) tellPages(s *streams, all *batch.Season, a *result.Analysis, files []page.File) error {
	if s.json {
		var names []string
		for _, f := range files {
			names = append(names, f.Name)
		}
		return j.tellJSON(s, all, a, names)
	}
	if s.quiet {
		return nil
	}
	printFindings(s.err, a.Findings, s.color(s.err))
	s.say("%s", j.datasetsLine(all))
	s.say("%s", wrap(fmt.Sprintf("Wrote %d files to %s. Open %s first.", len(files), j.out, filepath.Join(j.out, "season.html")), 79, "  "))
	return nil
}
