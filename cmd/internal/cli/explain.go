package cli

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"runtime"

	"github.com/spf13/cobra"

	"sheetwash/analysis"
	"sheetwash/analysis/derivation"
	"sheetwash/api/batch"
	"sheetwash/api/report"
	"sheetwash/ingest"
)

// explainFlags are the flags of explain as typed.
type explainFlags struct {
	units, mapping string
	reference      string
	level          float64
	depth          int
}

func newExplain(s *streams) *cobra.Command {
	f := &explainFlags{}
	c := &cobra.Command{
		Use:   "explain KEY PATH...",
		Short: "Show how a value came about, down to the cells that were read",
		Args:  arguments(2, -1, "the key of a row, and one or more folders or files, or - for standard input"),
		RunE: func(c *cobra.Command, args []string) error {
			return f.run(c.Context(), s, args[0], args[1:], c.Flags().Changed("level"))
		},
	}
	describe(c, "  sheetwash explain plot_results/01-ashlock-mill/AM-1/1/runoff_coefficient/runoff_over_rain testdata/demo-season", explainLong)
	flags := c.Flags()
	flags.StringVar(&f.units, "units", "si", "`system` of units of the value, si or us; the tree below it is in SI")
	flags.StringVar(&f.mapping, "mapping", "", "mapping `file` for every dataset, in place of one beside the data")
	flags.Float64Var(&f.level, "level", analysis.DefaultPlan().Level, "`level` of the interval, 0.80 to 0.99")
	flags.StringVar(&f.reference, "reference", "", "reference `treatment`, as given to analyze")
	flags.IntVar(&f.depth, "depth", 0, "`levels` of the tree that are printed (default all); --json has them all")
	return c
}

const explainLong = `Prints the derivation of one value of the result tables as a tree: its equation,
the inputs of the equation, each with its unit, its uncertainty and the file,
row and column it was read from or a tree of its own, what was left out and why,
the published source, and the SHA-256 of the data. With --json the tree has all
digits, and its equations can be evaluated.

KEY is the table and the key columns of the row, joined by slashes, with
%2F for a slash and %25 for a percent sign within a value (docs/explain.md). The
paths are those that were given to analyze: calibrations of the whole season
tell the rain.

Exit codes: 0 done, 2 usage, 3 the dataset was refused, 5 no row has this key.`

// run explains one row.
func (f *explainFlags) run(ctx context.Context, s *streams, key string, paths []string, levelGiven bool) error {
	units, err := report.ParseUnits(f.units)
	switch {
	case err != nil:
		return usage(err)
	case levelGiven && !(f.level >= 0.80 && f.level <= 0.99):
		return usage(fmt.Errorf("--level %v is not from 0.80 to 0.99", f.level))
	case f.depth < 0:
		return usage(errors.New("--depth must be 1 or more"))
	}
	q := batch.Request{Mapping: f.mapping, Reference: f.reference, Workers: runtime.GOMAXPROCS(0)}
	if levelGiven {
		q.Level = f.level
	}
	bar := newProgress(s)
	all, err := q.ReadSeason(ctx, paths, ingest.FindOptions{Stdin: s.in}, bar.reading)
	bar.finish()
	if err != nil {
		return err
	}
	n, err := q.Explain(ctx, all.Datasets, thisProgram(), key)
	if err != nil {
		return explainFailure(err)
	}
	if n, err = batch.InUnits(n, units); err != nil {
		return err
	}
	if s.json {
		return writeJSON(s.out, &n)
	}
	if _, err := io.WriteString(s.out, n.Text(derivation.Layout{Depth: f.depth})); err != nil {
		return onDisk(err)
	}
	return nil
}

func writeJSON(w io.Writer, n *derivation.Node) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	if err := e.Encode(n); err != nil {
		return onDisk(err)
	}
	return nil
}

// explainFailure gives an error of explain its exit code, and a key that no row
// has its neighbours.
func explainFailure(err error) error {
	var unknown *analysis.Unknown
	switch {
	case errors.As(err, &unknown):
		text := "no row has the key " + unknown.Key
		if len(unknown.Nearest) > 0 {
			text += "; the nearest are"
		}
		return &failure{exitNotFound, "not_found", &keyed{text, unknown.Nearest}}
	case errors.Is(err, batch.ErrRefused):
		return &failure{exitRefused, "data_rejected", fmt.Errorf("%w; sheetwash check says why", err)}
	}
	return err
}

// keyed is a sentence with a list of keys.
type keyed struct {
	text string
	keys []string
}

func (k *keyed) Error() string {
	out := k.text
	for _, key := range k.keys {
		out += " " + key
	}
	return out
}
