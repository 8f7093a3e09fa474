package season

import (
	"cmp"
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"
	"sync"
	"sync/atomic"

	"sheetwash/analysis/inference"
	"sheetwash/analysis/result"
)

// ErrLevel is returned for a confidence level outside (0, 1).
var ErrLevel = errors.New("confidence level")

// Settings say how to state and compare treatments.
type Settings struct {
	Level     float64 // of intervals; comparisons are at significance 1 - Level
	Reference string  // the treatment that others are compared with, and no others are; "": all pairs, the reference by the documented rule
	Preferred string  // the same where the season has it, else flag reference_differs; Reference goes before it
	Workers   int     // goroutines; no result depends on it. 0: one
}

// Treatments returns the treatment results of all scopes: event:NAME for each
// event, season:NAME for each season that has a name, and all. Letters are left
// empty; Summarise fills them.
//
// It takes headline rows of plots that are not excluded and whose metric is one
// of plots; everything else is passed over. Events of one name in several seasons are
// named event:SEASON/NAME. Rows are ordered by scope (events by name, seasons by
// name, all), treatment, metric as in the catalogue, method of the plots
// (headline first) and statistic; the order of the input does not matter.
// Values are in the canonical unit of the metric. Errors: ErrLevel.
func Treatments(rows []result.PlotRow, level float64) ([]result.TreatmentRow, error) {
	t, _, err := summarise(rows, Settings{Level: level}, false)
	return t, err
}

// Comparisons returns the comparisons of treatments of all scopes, ordered by
// scope, metric and treatment, those with the reference first. Errors: ErrLevel, ErrReference.
func Comparisons(rows []result.PlotRow, settings Settings) ([]result.ComparisonRow, error) {
	_, c, err := summarise(rows, settings, true)
	return c, err
}

// Summarise returns what Treatments and Comparisons do, with the letters that
// show which treatments the comparisons tell apart. Errors: ErrLevel, ErrReference.
func Summarise(rows []result.PlotRow, settings Settings) ([]result.TreatmentRow, []result.ComparisonRow, error) {
	return summarise(rows, settings, true)
}

func summarise(rows []result.PlotRow, settings Settings, compare bool) ([]result.TreatmentRow, []result.ComparisonRow, error) {
	level := settings.Level
	if !(level > 0 && level < 1) {
		return nil, nil, fmt.Errorf("%w: %v is not between 0 and 1", ErrLevel, level)
	}
	z, err := inference.NormalQuantile(1 - (1-level)/2)
	if err != nil {
		return nil, nil, fmt.Errorf("%w: %w", ErrLevel, err)
	}
	f := frame{level: level, z: z, named: settings.named()}
	d := gather(rows)
	var ranking []string
	if compare {
		if ranking, err = d.references(settings); err != nil {
			return nil, nil, err
		}
	}
	var treatments [][]result.TreatmentRow
	var comparisons [][]result.ComparisonRow
	var last scope
	from, fromPair := 0, 0
	for _, s := range d.scopes() {
		if !s.single && !last.single && slices.Equal(s.events, last.events) {
			// One season that has all events: what was said of it holds of all.
			for _, rows := range treatments[from:] {
				rows = slices.Clone(rows)
				for i := range rows {
					rows[i].Scope, rows[i].Flags = s.name, slices.Clone(rows[i].Flags)
				}
				treatments = append(treatments, rows)
			}
			for _, rows := range comparisons[fromPair:] {
				rows = slices.Clone(rows)
				for i := range rows {
					rows[i].Scope, rows[i].Flags = s.name, slices.Clone(rows[i].Flags)
				}
				comparisons = append(comparisons, rows)
			}
			continue
		}
		last, from, fromPair = s, len(treatments), len(comparisons)
		treatments = append(treatments, s.statements(f, settings.Workers)...)
		if compare {
			comparisons = append(comparisons, s.compare(treatments[from:], f, ranking, settings.Workers)...)
		}
	}
	return slices.Concat(treatments...), slices.Concat(comparisons...), nil
}

// scope is a set of events about which statements are made.
type scope struct {
	name   string
	events []int        // numbers
	about  []eventAbout // of the events
	series []series
	single bool // one event: statements within it

	catalogue []result.MetricInfo // in the order of statements
}

// series is all of one metric of one treatment within a scope, by event.
type series struct {
	label string
	info  *result.MetricInfo
	cells []*cell
	at    []int // which event of the scope each cell is of
}

// definesMethod lists the metrics whose methods define different quantities, so
// that their values never stand in one estimate. The methods of other metrics
// are ways to the same quantity.
var definesMethod = map[result.Metric]bool{
	result.TimeToRunoff:          true,
	result.TimeToPonding:         true,
	result.SedimentConcentration: true,
	result.KineticEnergy:         true,
	result.Erosivity:             true,
	result.RainDepthToRunoff:     true,
	result.StorageDepth:          true,
}

// statements returns the rows of the scope by series, made by several goroutines.
func (s scope) statements(f frame, workers int) [][]result.TreatmentRow {
	taus := map[result.Metric]float64{}
	for _, sr := range s.series {
		if sr.info.Kind == result.TimeToEvent {
			tau, ok := taus[sr.info.ID]
			if !ok {
				tau = math.Inf(1)
			}
			taus[sr.info.ID] = min(tau, commonTime(sr.cells))
		}
	}
	made := make([][]result.TreatmentRow, len(s.series))
	var next atomic.Int64
	var wait sync.WaitGroup
	for range max(1, workers) {
		wait.Go(func() {
			for {
				i := int(next.Add(1)) - 1
				if i >= len(s.series) {
					return
				}
				f := f
				f.tau = math.Inf(1)
				if tau, ok := taus[s.series[i].info.ID]; ok {
					f.tau = tau
				}
				made[i] = s.state(&s.series[i], f)
			}
		})
	}
	wait.Wait()
	return made
}

// state makes the rows of one series.
func (s scope) state(sr *series, f frame) []result.TreatmentRow {
	var out []result.TreatmentRow
	for i, m := range sr.byMethod() {
		summarise := f.over
		if s.single {
			summarise = f.withinOne
		}
		rows := summarise(*sr.info, m.cells)
		out = slices.Grow(out, len(rows))
		for _, r := range rows {
			if !r.Headline && !r.Value.OK && r.NPlots == 0 {
				continue // the headline row says why
			}
			r.Scope, r.Treatment = s.name, sr.label
			r.Headline = r.Headline && i == 0
			if m.method != "" {
				r.Method += ":" + m.method
			}
			if m.several {
				r.Flags.Add(FlagMethodsDiffer)
			}
			out = append(out, r)
		}
	}
	return out
}

// oneMethod is a series by one method of its plots.
type oneMethod struct {
	method  string // "": the metric's methods need no keeping apart
	several bool
	cells   []*cell
}

// byMethod splits a series by the method of its plots where methods define the
// quantity, the commonest first. A right-censored value stands in each part: a
// plot that never ran off did not by any definition.
func (s series) byMethod() []oneMethod {
	if s.oneMethodOnly() {
		m := oneMethod{cells: s.cells}
		if definesMethod[s.info.ID] {
			m.method = s.method()
		}
		return []oneMethod{m}
	}
	count := map[string]int{}
	censored := map[string]int{}
	for _, c := range s.cells {
		for _, u := range c.units {
			if u.censored == result.Right {
				censored[u.method]++
			} else {
				count[u.method]++
			}
		}
	}
	if len(count) == 0 {
		count = censored
	}
	if !definesMethod[s.info.ID] || len(count) == 0 {
		return []oneMethod{{several: len(count) > 1, cells: s.cells}}
	}
	methods := slices.SortedFunc(maps.Keys(count), func(a, b string) int {
		return cmp.Or(cmp.Compare(count[b], count[a]), cmp.Compare(a, b))
	})
	if len(methods) == 1 || allCensored(s.cells) {
		return []oneMethod{{method: methods[0], cells: s.cells}}
	}
	var out []oneMethod
	for i, m := range methods {
		p := oneMethod{method: m, several: true}
		for _, c := range s.cells {
			if d := c.with(func(u unit) bool { return u.method == m || u.censored == result.Right }); len(d.units) > 0 || (i == 0 && len(c.units) == 0) {
				p.cells = append(p.cells, d)
			}
		}
		out = append(out, p)
	}
	return out
}

// method returns the method of the first unit, "" if there is none.
func (s series) method() string {
	for _, c := range s.cells {
		if len(c.units) > 0 {
			return c.units[0].method
		}
	}
	return ""
}

// oneMethodOnly reports whether all units have the same method.
func (s series) oneMethodOnly() bool {
	m := s.method()
	for _, c := range s.cells {
		for _, u := range c.units {
			if u.method != m {
				return false
			}
		}
	}
	return true
}

func allCensored(cells []*cell) bool {
	for _, c := range cells {
		for _, u := range c.units {
			if u.censored != result.Right {
				return false
			}
		}
	}
	return true
}
