package cli

import (
	"context"
	"errors"
	"fmt"
	"math"
	"path/filepath"
	"runtime"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"sheetwash/analysis/result"
	"sheetwash/analysis/season"
	"sheetwash/api/batch"
	"sheetwash/ingest"
)

// planFlags are the flags of plan as typed.
type planFlags struct {
	metric                   string
	ratio, difference, width float64
	power, level             float64
	events                   []int
	mapping                  string
}

func newPlan(s *streams) *cobra.Command {
	f := &planFlags{}
	c := &cobra.Command{
		Use:   "plan PATH...",
		Short: "Say how many plots a further season needs, from past scatter",
		Args:  arguments(1, -1, "one or more folders or files of past seasons, or a plot_results.csv"),
		RunE:  func(c *cobra.Command, args []string) error { return f.run(c.Context(), s, args) },
	}
	describe(c, "  sheetwash plan testdata/demo-season --metric soil_loss --ratio 2", planLong)
	flags := c.Flags()
	flags.StringVar(&f.metric, "metric", "", "`metric` of the result tables, such as soil_loss")
	flags.Float64Var(&f.ratio, "ratio", 0, "ratio of two treatments to be found, for sediment and times, such as 2 or 0.5")
	flags.Float64Var(&f.difference, "difference", 0, "difference of two treatments to be found, in the metric's unit, for the other metrics")
	flags.Float64Var(&f.width, "width", 0, "wanted width: the factor from a ratio to its limit, or half the interval of a difference")
	flags.Float64Var(&f.power, "power", 0.8, "probability of finding the ratio or difference")
	flags.Float64Var(&f.level, "level", 0.95, "level of the interval, 0.80 to 0.99")
	flags.IntSliceVar(&f.events, "events", []int{1, 2, 3, 4, 6, 8, 12}, "`numbers` of field days to plan for")
	flags.StringVar(&f.mapping, "mapping", "", "mapping `file` for every dataset, in place of one beside the data")
	return c
}

const planLong = `Learns from past field days how far plots of one treatment lie apart and how far
the effects of treatments differ from day to day, and says how many plots per
treatment and field day a further season needs to find a ratio or difference of
two treatments, or to bound it as closely as wanted. It states what it supposes.
The power that a finished season had is not told: its intervals say it all.

The paths are those of analyze, or one plot_results.csv that it wrote.

Exit codes: 0 done, 2 usage, 3 no scatter to learn from, 5 not found.`

// planned is the answer in JSON.
type planned struct {
	Metric       result.Metric `json:"metric"`
	Compared     string        `json:"compared"` // ratio or difference
	Unit         string        `json:"unit"`
	Goal         string        `json:"goal"`
	Effect       *float64      `json:"effect"`
	Width        *float64      `json:"width"`
	Power        *float64      `json:"power"`
	Level        float64       `json:"level"`
	SDPlots      float64       `json:"sd_plots"`
	SDPlotsUpper float64       `json:"sd_plots_upper_80"`
	DFPlots      float64       `json:"df_plots"`
	SDEffects    *float64      `json:"sd_effects"`
	Treatments   int           `json:"treatments"`
	Events       int           `json:"events"`
	Assumptions  []string      `json:"assumptions"`
	Needs        []plannedNeed `json:"needs"`
}

type plannedNeed struct {
	Events  int      `json:"events"`
	Plots   *int     `json:"plots"`
	Careful *int     `json:"plots_careful"`
	Reached *float64 `json:"reached"` // power; or the width as a factor or a half
}

func (f *planFlags) run(ctx context.Context, s *streams, paths []string) error {
	if err := f.proper(); err != nil {
		return usage(err)
	}
	rows, err := f.rows(ctx, s, paths)
	if err != nil {
		return err
	}
	past, err := season.Scatter(rows, result.Metric(f.metric))
	if err != nil {
		return &failure{exitRefused, "data_rejected", err}
	}
	if err := f.fits(past); err != nil {
		return usage(err)
	}
	q := season.Question{Effect: f.ratio + f.difference, Width: f.width, Power: f.power, Level: f.level}
	needs, err := past.Plan(q, f.events)
	if err != nil {
		return usage(err)
	}
	answer := f.answer(past, needs)
	if s.json {
		return encode(s, answer)
	}
	return answer.print(s)
}

// proper refuses questions that cannot be.
func (f *planFlags) proper() error {
	asked := 0
	for _, v := range []float64{f.ratio, f.difference, f.width} {
		if v != 0 {
			asked++
		}
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return errors.New("a number is no number")
		}
	}
	switch {
	case f.metric == "":
		return errors.New("say what is measured with --metric, such as --metric soil_loss")
	case asked != 1:
		return errors.New("ask one thing: --ratio, --difference or --width")
	case !(f.level >= 0.80 && f.level <= 0.99):
		return fmt.Errorf("--level %v is not from 0.80 to 0.99", f.level)
	case !(f.power >= 0.5 && f.power <= 0.99):
		return fmt.Errorf("--power %v is not from 0.5 to 0.99", f.power)
	case len(f.events) == 0 || slices.Min(f.events) < 1 || slices.Max(f.events) > 1000:
		return errors.New("--events are numbers from 1 to 1000")
	}
	return nil
}

// fits refuses a ratio of a metric that is compared by differences, and the other way.
func (f *planFlags) fits(p season.Past) error {
	switch {
	case p.Ratio && f.difference != 0:
		return fmt.Errorf("%s is compared by ratios: ask with --ratio", f.metric)
	case !p.Ratio && f.ratio != 0:
		return fmt.Errorf("%s is compared by differences: ask with --difference, in %s", f.metric, p.Metric.SI)
	case p.Ratio && f.ratio != 0 && !(f.ratio > 0 && f.ratio != 1):
		return fmt.Errorf("--ratio %v is no ratio to be found", f.ratio)
	case p.Ratio && f.width != 0 && !(f.width > 1), !(f.width >= 0):
		return fmt.Errorf("--width %v: of a ratio it is a factor above 1, of a difference it is above 0", f.width)
	}
	return nil
}

// rows reads the plots of past seasons.
func (f *planFlags) rows(ctx context.Context, s *streams, paths []string) ([]result.PlotRow, error) {
	if len(paths) == 1 && strings.HasSuffix(filepath.Base(paths[0]), result.TablePlots+".csv") {
		return readPlots(paths[0])
	}
	q := batch.Request{Mapping: f.mapping, Workers: runtime.GOMAXPROCS(0)}
	bar := newProgress(s)
	all, err := q.ReadSeason(ctx, paths, ingest.FindOptions{Stdin: s.in}, bar.reading)
	bar.finish()
	if err != nil {
		return nil, err
	}
	a, err := q.AnalyseSeason(ctx, all)
	if err != nil {
		return nil, err
	}
	return a.Plots, nil
}
