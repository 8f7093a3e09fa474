package page

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"sheetwash/analysis/experiment"
	"sheetwash/analysis/result"
	"sheetwash/api/report/figure"
)

// Site is the pages of one analysis.
type Site struct {
	in     Input
	events []event
	runs   []run // in the order of the results
	looks  map[string]figure.Style
	labels map[string]bool // names of the treatment table
	scales map[string]scale
}

// event is one field day: the runs that share its name and season.
type event struct {
	target Target
	scope  string // of its treatments
	runs   []int  // of Site.runs
	first  time.Time
}

// run is one run with its plots.
type run struct {
	target   Target
	sequence string
	facts    *experiment.Run // nil: nothing is known
	plots    []plot
}

// plot is the rows of one plot under one run.
type plot struct {
	*result.Subject
	facts   *experiment.Plot // nil: nothing is known
	rows    []result.PlotRow
	courses []*result.Course
	fits    []result.FitRow
}

// row returns the headline row of a metric.
func (p *plot) row(m result.Metric) *result.PlotRow {
	for i := range p.rows {
		if p.rows[i].Metric == m && p.rows[i].Headline {
			return &p.rows[i]
		}
	}
	return nil
}

// plotKey names a plot under a run.
type plotKey struct{ dataset, run, plot string }

// New orders an analysis into pages.
func New(in Input) *Site {
	if in.Analysis == nil {
		in.Analysis = &result.Analysis{}
	}
	s := &Site{in: in, labels: map[string]bool{}, scales: scales(in.Analysis, in.Units)}
	s.gather()
	s.gatherEvents()
	s.dress()
	return s
}

// gather joins the rows of each plot with what was noted of it.
func (s *Site) gather() {
	runFacts := map[[2]string]*experiment.Run{}
	for d := range s.in.Datasets {
		for r := range s.in.Datasets[d].Runs {
			f := &s.in.Datasets[d].Runs[r]
			runFacts[[2]string{s.in.Datasets[d].Name, f.ID}] = f
		}
	}
	a := s.in.Analysis
	courses, fits := map[plotKey][]*result.Course{}, map[plotKey][]result.FitRow{}
	for i := range a.Hydrograph {
		c := &a.Hydrograph[i]
		k := plotKey{c.Dataset, c.Run, c.Plot}
		courses[k] = append(courses[k], c)
	}
	for i := range a.Fits {
		f := &a.Fits[i]
		k := plotKey{f.Dataset, f.Run, f.Plot}
		fits[k] = append(fits[k], a.Fits[i])
	}
	for from := 0; from < len(a.Plots); {
		first := a.Plots[from].Subject
		k := plotKey{first.Dataset, first.Run, first.Plot}
		to := from
		for to < len(a.Plots) && (plotKey{a.Plots[to].Dataset, a.Plots[to].Run, a.Plots[to].Plot}) == k {
			to++
		}
		facts := runFacts[[2]string{k.dataset, k.run}]
		p := plot{Subject: first, rows: a.Plots[from:to], courses: courses[k], fits: fits[k]}
		if facts != nil {
			if i := slices.IndexFunc(facts.Plots, func(q experiment.Plot) bool { return q.ID == k.plot }); i >= 0 {
				p.facts = &facts.Plots[i]
			}
		}
		if n := len(s.runs); n == 0 || s.runs[n-1].target.Dataset != k.dataset || s.runs[n-1].target.Run != k.run {
			s.runs = append(s.runs, run{
				target:   Target{Kind: RunPage, Season: first.Season, Event: first.Event, Dataset: k.dataset, Run: k.run},
				sequence: first.Sequence, facts: facts,
			})
		}
		last := &s.runs[len(s.runs)-1]
		last.plots = append(last.plots, p)
		from = to
	}
}

// gatherEvents groups the runs, in the order of their dates as far as they have
// one, else of their names.
func (s *Site) gatherEvents() {
	at, seasons := map[[2]string]int{}, map[string]map[string]bool{}
	for i := range s.runs {
		t := s.runs[i].target
		k := [2]string{t.Season, t.Event}
		if _, ok := at[k]; !ok {
			at[k] = len(s.events)
			s.events = append(s.events, event{target: Target{Kind: EventPage, Season: t.Season, Event: t.Event}})
		}
		e := &s.events[at[k]]
		e.runs = append(e.runs, i)
		if f := s.runs[i].facts; f != nil && !f.Started.IsZero() && (e.first.IsZero() || f.Started.Before(e.first)) {
			e.first = f.Started
		}
		if seasons[t.Event] == nil {
			seasons[t.Event] = map[string]bool{}
		}
		seasons[t.Event][t.Season] = true
	}
	for i := range s.events {
		e := &s.events[i]
		e.scope = "event:" + e.target.Event
		if len(seasons[e.target.Event]) > 1 && e.target.Season != "" {
			e.scope = "event:" + e.target.Season + "/" + e.target.Event
		}
	}
	slices.SortStableFunc(s.events, func(a, b event) int {
		return cmp.Or(a.first.Compare(b.first), strings.Compare(a.target.Season, b.target.Season), strings.Compare(a.target.Event, b.target.Event))
	})
}

// dress gives each treatment its look, the same in every chart of every page:
// first the treatments in the order of their names, then those names of the
// treatment table that tell sequences apart.
func (s *Site) dress() {
	var names, more []string
	seen := map[string]bool{}
	for i := range s.runs {
		for _, p := range s.runs[i].plots {
			if !seen[p.Treatment] {
				seen[p.Treatment] = true
				names = append(names, p.Treatment)
			}
		}
	}
	for _, t := range s.in.Analysis.Treatments {
		s.labels[t.Treatment] = true
		if !seen[t.Treatment] {
			seen[t.Treatment] = true
			more = append(more, t.Treatment)
		}
	}
	slices.Sort(names)
	slices.Sort(more)
	s.looks = map[string]figure.Style{}
	for i, n := range append(names, more...) {
		s.looks[n] = figure.Style(i)
	}
}

// label is what the treatment table calls the treatment of a plot.
func (s *Site) label(p *result.Subject) string {
	if p.Sequence != "" {
		if n := p.Treatment + " (" + p.Sequence + ")"; s.labels[n] {
			return n
		}
	}
	return p.Treatment
}

// Events lists the event pages in the order of their dates.
func (s *Site) Events() []Target {
	var out []Target
	for i := range s.events {
		out = append(out, s.events[i].target)
	}
	return out
}

// Runs lists the run pages, event by event.
func (s *Site) Runs() []Target {
	var out []Target
	for i := range s.events {
		for _, r := range s.events[i].runs {
			out = append(out, s.runs[r].target)
		}
	}
	return out
}

func (s *Site) link(t Target) string {
	if s.in.Link == nil {
		return ""
	}
	return s.in.Link(t)
}

// findEvent returns the event of a target.
func (s *Site) findEvent(t Target) (*event, bool) {
	i := slices.IndexFunc(s.events, func(e event) bool { return e.target.Season == t.Season && e.target.Event == t.Event })
	if i < 0 {
		return nil, false
	}
	return &s.events[i], true
}

// findRun returns the run of a target.
func (s *Site) findRun(t Target) (*run, bool) {
	i := slices.IndexFunc(s.runs, func(r run) bool { return r.target.Dataset == t.Dataset && r.target.Run == t.Run })
	if i < 0 {
		return nil, false
	}
	return &s.runs[i], true
}
