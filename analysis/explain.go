package analysis

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"sheetwash/analysis/derivation"
	"sheetwash/analysis/experiment"
	"sheetwash/analysis/internal/gum"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/rainfall"
	"sheetwash/analysis/result"
)

// ErrNoRow is returned for a key that no row has.
var ErrNoRow = errors.New("no row has this key")

// ErrNoDerivation is returned for a row whose derivation is not known.
var ErrNoDerivation = errors.New("no derivation")

// Unknown is the error for a key that no row has: it names those most like it.
type Unknown struct {
	Key     string
	Nearest []string
}

func (e *Unknown) Error() string { return fmt.Sprintf("%s: %v", e.Key, ErrNoRow) }

// Unwrap makes it an ErrNoRow.
func (e *Unknown) Unwrap() error { return ErrNoRow }

// nearest is how many keys an Unknown names.
const nearest = 5

// Explain returns the derivation of a row of a table that the dataset alone
// makes: plot_results, hydrograph, fits or calibrations. calibrations are those of
// the whole season. Rows of the tables over datasets are explained by Folded.
// Errors: those of NewExplainer and its Explain.
func Explain(ctx context.Context, d *experiment.Dataset, calibrations []rainfall.Calibration, plan Plan, key string) (derivation.Node, error) {
	e, err := NewExplainer(ctx, d, calibrations, plan)
	if err != nil {
		return derivation.Node{}, err
	}
	return e.Explain(key)
}

// Explainer explains rows of one dataset, one after the other: for whoever asks for
// more than one. It must not be used by two goroutines at once.
type Explainer struct {
	dataset      *experiment.Dataset
	calibrations []rainfall.Calibration
	plan         Plan
	part         Part
	sites        []site
	last         *trace // of the plot that was asked for last
}

// NewExplainer analyses the dataset. Errors: ErrPlan, and that of ctx.
func NewExplainer(ctx context.Context, d *experiment.Dataset, calibrations []rainfall.Calibration, plan Plan) (*Explainer, error) {
	part, err := Dataset(ctx, d, calibrations, plan)
	if err != nil {
		return nil, err
	}
	plan, err = plan.checked()
	if err != nil {
		return nil, err
	}
	return &Explainer{dataset: d, calibrations: calibrations, plan: plan, part: part, sites: sites(d, plan)}, nil
}

// Part returns the rows of the dataset.
func (e *Explainer) Part() *Part { return &e.part }

// Explain returns the derivation of the row of a key.
//
// The tree is made of what the methods made the row of, and is evaluated before it
// is returned: a tree that does not give the row's value is an error. Errors:
// ErrNoRow as *Unknown, ErrNoDerivation, derivation.ErrDiffers.
func (e *Explainer) Explain(key string) (derivation.Node, error) {
	table, values, ok := result.ParseKey(key)
	if ok && values[0] == e.dataset.Name() && slices.Index(result.KeyColumns(table), "dataset") == 0 {
		if n, found, err := e.row(table, values, key); found {
			return n, err
		}
	}
	return derivation.Node{}, &Unknown{Key: key, Nearest: derivation.Nearest(key, e.part.Keys(), nearest)}
}

// row explains a row; false where there is none of this key.
func (e *Explainer) row(table string, values []string, key string) (derivation.Node, bool, error) {
	switch table {
	case result.TablePlots:
		for i := range e.part.Plots {
			if r := &e.part.Plots[i]; r.Key() == key {
				n, err := e.plotRow(r, key)
				return n, true, err
			}
		}
	case result.TableFits:
		for i := range e.part.Fits {
			if r := &e.part.Fits[i]; r.Key() == key {
				n, err := e.fitRow(r, key)
				return n, true, err
			}
		}
	case result.TableHydrograph:
		for i := range e.part.Hydrograph {
			c := &e.part.Hydrograph[i]
			if c.Run != values[1] || c.Plot != values[2] || c.Stream != values[3] {
				continue
			}
			for k := range c.Steps {
				if s := &c.Steps[k]; c.StepKey(s) == key {
					n, err := e.step(c, k, key)
					return n, true, err
				}
			}
		}
	case result.TableCalibrations:
		for i := range e.part.Calibrations {
			if r := &e.part.Calibrations[i]; r.Key() == key {
				n, err := e.calibration(r, key)
				return n, true, err
			}
		}
	}
	return derivation.Node{}, false, nil
}

// traced returns the trace of a plot, which the same calls make as its rows.
func (e *Explainer) traced(run, plot string) *trace {
	if e.last != nil && e.last.run.ID == run && e.last.plot.ID == plot {
		return e.last
	}
	for _, s := range e.sites {
		if s.run.ID == run && s.plot.ID == plot {
			e.last = s.trace(e.calibrations, e.plan)
			e.last.part = &e.part
			break
		}
	}
	return e.last
}

func (e *Explainer) plotRow(r *result.PlotRow, key string) (derivation.Node, error) {
	n, ok := e.traced(r.Run, r.Plot).plotRow(r)
	if ok && !r.Value.OK {
		n = derivation.Empty(string(r.Metric), r.Unit)
	}
	n.Method, n.U, n.Low, n.High, n.Level = r.Method, derivation.Number(r.U), derivation.Number(r.Low), derivation.Number(r.High), r.Level
	if r.Censored != result.Observed && r.Value.OK {
		n.Censored = string(r.Censored)
	}
	if r.U.OK {
		n.Budget = e.traced(r.Run, r.Plot).budgetOf(e.calibrations, r)
	}
	if r.Flags.Has("simulated") {
		seed := uint64(gum.Seed)
		n.Seed = &seed // of the draws that u and the limits come from
	}
	return e.finished(n, ok, key, r.Value, r.Unit, r.Flags)
}

func (e *Explainer) fitRow(r *result.FitRow, key string) (derivation.Node, error) {
	n, ok := e.traced(r.Run, r.Plot).fitRow(r)
	if ok && !r.Value.OK {
		n = derivation.Empty(r.Parameter, r.Unit)
	}
	n.Method, n.U, n.Low, n.High, n.Level = r.Model, derivation.Number(r.U), derivation.Number(r.Low), derivation.Number(r.High), e.plan.Level
	return e.finished(n, ok, key, r.Value, r.Unit, r.Flags)
}

func (e *Explainer) step(c *result.Course, i int, key string) (derivation.Node, error) {
	s := &c.Steps[i]
	n, ok := e.traced(c.Run, c.Plot).step(c.Stream, i)
	if ok {
		for name, v := range map[string]quantity.Optional{
			"volume_ml": quantity.Some(s.VolumeML), "cumulative_mm": quantity.Some(s.CumulativeMM), "intensity_mm_h": quantity.Some(s.IntensityMMH),
			"infiltration_mm_h": s.InfiltrationMMH, "concentration_g_l": s.ConcentrationGL,
		} {
			if err := besideAgrees(&n, name, v); err != nil {
				return n, fmt.Errorf("%s: %w", key, err)
			}
		}
	}
	return e.finished(n, ok, key, quantity.Some(s.RateMMH), "mm/h", s.Flag)
}

// besideAgrees checks that a value beside a root is that of its column.
func besideAgrees(n *derivation.Node, name string, v quantity.Optional) error {
	for i := range n.Beside {
		if b := &n.Beside[i]; b.Name == name {
			if b.Value == nil || !v.OK || !derivation.Same(*b.Value, v.V) {
				return fmt.Errorf("%w: %s", derivation.ErrDiffers, name)
			}
			return nil
		}
	}
	if v.OK {
		return fmt.Errorf("%s: %w", name, ErrNoDerivation)
	}
	return nil
}

func (e *Explainer) calibration(r *result.CalibrationRow, key string) (derivation.Node, error) {
	own := rainfall.Calibrations(e.dataset.Name(), e.dataset.Cans())
	var n derivation.Node
	ok := false
	for i := range own {
		if own[i].ID == r.Calibration {
			n, ok = own[i].DeriveCalibration(r, e.calibrations, e.dataset.Rig(r.Simulator), e.plan.Rain)
			break
		}
	}
	n.Low, n.High, n.Level = derivation.Number(r.Low), derivation.Number(r.High), r.Level
	return e.finished(n, ok, key, r.Value, r.Unit, r.Flags)
}

// finished completes a tree with what its row says.
func (e *Explainer) finished(n derivation.Node, ok bool, key string, value quantity.Optional, unit string, flags result.Flags) (derivation.Node, error) {
	n.Unit = unit
	n.Data = []derivation.Data{{Dataset: e.dataset.Name(), SHA256: e.dataset.Digest()}}
	n, err := whole(n, ok, key, value, flags)
	n.Walk(func(at *derivation.Node) bool {
		at.From = e.headed(at.From)
		for i := range at.LeftOut {
			at.LeftOut[i].From = e.headed(at.LeftOut[i].From)
		}
		return true
	})
	return n, err
}

// headed returns a place with the header of its column, where the file names that
// otherwise than the data dictionary.
func (e *Explainer) headed(p *derivation.Place) *derivation.Place {
	if p == nil || p.Dataset != "" || p.Header != "" {
		return p
	}
	header := e.dataset.Header(p.File, p.Column)
	if header == "" {
		return p
	}
	out := *p
	out.Header = header
	return &out
}

// whole completes a tree, shortens it, and checks that it gives the row's value.
func whole(n derivation.Node, ok bool, key string, value quantity.Optional, flags result.Flags) (derivation.Node, error) {
	if !ok {
		return n, fmt.Errorf("%s: %w", key, ErrNoDerivation)
	}
	n.Key, n.Flags = key, meanings(flags)
	n = n.Copy()
	n.Shorten()
	return n, agrees(&n, key, value)
}

// agrees checks that a tree gives the value of its row.
func agrees(n *derivation.Node, key string, value quantity.Optional) error {
	switch {
	case n.Value == nil && value.OK, n.Value != nil && !value.OK:
		return fmt.Errorf("%s: %w: the one has a value and the other not", key, derivation.ErrDiffers)
	case n.Value != nil && !derivation.Same(*n.Value, value.V):
		return fmt.Errorf("%s: %w: %v, not %v", key, derivation.ErrDiffers, *n.Value, value.V)
	}
	if err := n.Check(); err != nil {
		return fmt.Errorf("%s: %w", key, err)
	}
	return nil
}

// meanings returns flags with what they mean.
func meanings(flags result.Flags) []derivation.Flag {
	var out []derivation.Flag
	for _, f := range flags {
		meaning := ""
		for _, w := range result.FlagWords() {
			if w.Word == result.WordOf(f) {
				meaning = w.Meaning
			}
		}
		out = append(out, derivation.Flag{Word: f, Meaning: meaning})
	}
	return out
}

// Keys returns the keys of all rows of the part that Explain knows, in their order.
func (p *Part) Keys() []string {
	var out []string
	for i := range p.Plots {
		out = append(out, p.Plots[i].Key())
	}
	for i := range p.Hydrograph {
		c := &p.Hydrograph[i]
		for k := range c.Steps {
			out = append(out, c.StepKey(&c.Steps[k]))
		}
	}
	for i := range p.Fits {
		out = append(out, p.Fits[i].Key())
	}
	for i := range p.Calibrations {
		out = append(out, p.Calibrations[i].Key())
	}
	return out
}
