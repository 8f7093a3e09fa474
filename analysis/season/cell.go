package season

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"sheetwash/analysis/inference"
	"sheetwash/analysis/result"
)

// unit is the value of one experimental unit in one event: of one plot and run,
// or joined over the runs on one body of soil.
type unit struct {
	soil      string // body of soil where the dataset names one, "" otherwise
	run       runKey // shares the error of the intensity
	block     string // as the data name it, "" where they don't
	method    string // of the plot's value
	bounds    inference.Bounds
	value     float64 // as reported: observed, or the limit of a censored one
	censored  result.Censored
	u, shared float64 // standard uncertainties: all of it, and the part shared by the run
	hasU      bool
}

// cell is what is known of one metric of one treatment in one event.
type cell struct {
	units     []unit
	missing   int          // plots without a value for another reason than no runoff
	dry       int          // plots whose value is missing because they did not run off
	why       result.Flags // of the missing values
	repeated  bool
	separated bool // the treatment has runs of another sequence too

	stated    []result.TreatmentRow // what within said, for statedTau
	statedTau float64
	known     map[bool]inference.Bounds // what meanKnown found, of logarithms and as they are
}

// newCell joins the rows of one metric, treatment and event to units.
func newCell(rows []*result.PlotRow, separated bool) *cell {
	byPlace := func(a, b *result.PlotRow) int {
		return cmp.Or(cmp.Compare(a.Dataset, b.Dataset), cmp.Compare(a.Run, b.Run), cmp.Compare(a.Plot, b.Plot), cmp.Compare(a.Method, b.Method))
	}
	if !slices.IsSortedFunc(rows, byPlace) {
		slices.SortStableFunc(rows, byPlace)
	}
	c := &cell{separated: separated, units: make([]unit, 0, len(rows))}
	seen := soils{keys: make([]soilKey, 0, len(rows))}
	var again map[int][]unit // units of soils that stood under several runs
	for _, r := range rows {
		if !finite(r) {
			c.miss(r)
			continue
		}
		u := newUnit(r)
		k := soilKey{u.soil, "", ""}
		if u.soil == "" {
			k = soilKey{"", r.Dataset, r.Plot}
		}
		if i, ok := seen.find(k); ok {
			if again == nil {
				again = map[int][]unit{}
			}
			again[i] = append(again[i], u)
			continue
		}
		c.units = append(c.units, u)
	}
	for i, more := range again {
		c.repeated = true
		c.units[i] = join(append([]unit{c.units[i]}, more...))
	}
	slices.Sort(c.why)
	return c
}

// runKey names a run of all datasets.
type runKey struct{ dataset, run string }

// soilKey names a body of soil within an event: as given, else by plot.
type soilKey struct{ soil, dataset, plot string }

// soils finds bodies of soil among those seen before: one after the other while
// they are few, as they are in nearly every cell.
type soils struct {
	keys []soilKey
	at   map[soilKey]int
}

// find returns the place of a soil seen before, or notes a new one.
func (s *soils) find(k soilKey) (int, bool) {
	const few = 16
	if len(s.keys) <= few {
		if i := slices.Index(s.keys, k); i >= 0 {
			return i, true
		}
	} else {
		if s.at == nil {
			s.at = make(map[soilKey]int, cap(s.keys))
			for i, k := range s.keys {
				s.at[k] = i
			}
		}
		if i, ok := s.at[k]; ok {
			return i, true
		}
		s.at[k] = len(s.keys)
	}
	s.keys = append(s.keys, k)
	return 0, false
}

// miss counts a row without a value and keeps the words that say why.
func (c *cell) miss(r *result.PlotRow) {
	if r.Flags.Has(wordNoRunoff) {
		c.dry++
	} else {
		c.missing++
	}
	for _, w := range r.Flags {
		if !strings.Contains(w, "=") { // not numbers of one plot
			c.why.Add(w)
		}
	}
}

func finite(r *result.PlotRow) bool {
	return r.Value.OK && !math.IsNaN(r.Value.V) && !math.IsInf(r.Value.V, 0)
}

func newUnit(r *result.PlotRow) unit {
	u := unit{
		soil: r.ExperimentalUnit, run: runKey{r.Dataset, r.Run}, block: r.Block, method: r.Method,
		value: r.Value.V, censored: r.Censored, bounds: inference.Bounds{Low: r.Value.V, High: r.Value.V},
		u: r.U.V, hasU: r.U.OK && r.U.V >= 0, shared: max(0, r.UShared.Or(0)),
	}
	switch r.Censored {
	case result.Right:
		u.bounds.High = math.Inf(1)
	case result.Left:
		u.bounds.Low = math.Inf(-1)
	case result.Interval:
		if r.Low.OK && r.High.OK && r.Low.V <= r.Value.V && r.Value.V <= r.High.V {
			u.bounds = inference.Bounds{Low: r.Low.V, High: r.High.V}
		}
	case "":
		u.censored = result.Observed
	}
	if !u.hasU {
		u.u, u.shared = 0, 0
	}
	u.shared = min(u.shared, u.u)
	return u
}

// join makes one unit of several runs on one body of soil: their mean, or the
// first run where one is censored, since a censored value has no place in a mean.
func join(runs []unit) unit {
	j := runs[0]
	if len(runs) == 1 || slices.ContainsFunc(runs, func(u unit) bool { return u.censored != result.Observed }) {
		return j
	}
	n := float64(len(runs))
	var sum, independent, shared float64
	for _, r := range runs {
		sum += r.value
		independent += r.u*r.u - r.shared*r.shared
		shared += r.shared * r.shared
		j.hasU = j.hasU && r.hasU
	}
	j.value = sum / n
	j.bounds = inference.Bounds{Low: j.value, High: j.value}
	j.shared = math.Sqrt(shared) / n
	j.u = math.Sqrt(independent+shared) / n
	return j
}

// with returns the cell with the units that pass; the cell itself if all do.
func (c *cell) with(pass func(unit) bool) *cell {
	if !slices.ContainsFunc(c.units, func(u unit) bool { return !pass(u) }) {
		return c
	}
	d := *c
	d.units, d.stated, d.known = nil, nil, nil
	for _, u := range c.units {
		if pass(u) {
			d.units = append(d.units, u)
		}
	}
	return &d
}

func (c *cell) values() []float64 {
	y := make([]float64, len(c.units))
	for i, u := range c.units {
		y[i] = u.value
	}
	return y
}

// closed reports whether a value is known within two limits.
func closed(u unit) bool { return u.censored == result.Observed || u.censored == result.Interval }

// censored counts the units whose value is not known itself.
func (c *cell) censored() int {
	n := 0
	for _, u := range c.units {
		if u.censored != result.Observed {
			n++
		}
	}
	return n
}
