package page

import (
	"errors"
	"io"
	"slices"
	"strconv"
	"strings"
	"time"

	"sheetwash/analysis/result"
	"sheetwash/api/report/words"
)

// ErrNoPage is returned for a target that the analysis does not hold.
var ErrNoPage = errors.New("there is no such page")

// Write writes the page of a target. Errors: ErrNoPage, and that of w.
func (s *Site) Write(w io.Writer, t Target) error {
	d, err := s.document(t)
	if err != nil {
		return err
	}
	d.Frame = s.in.Frame
	if err := s.openNumbers(d, t.Kind); err != nil {
		return err
	}
	return write(w, d)
}

func (s *Site) eventDocument(e *event) (*document, error) {
	flags := flagsOf{}
	d := &document{
		Title: e.target.Event + ": what the rain did", Kicker: "Field day", Heading: e.target.Event,
		Lines: []phrase{s.eventLine(e)}, Nav: s.eventNav(e),
	}
	if e.target.Season != "" {
		d.Kicker += " of the season " + e.target.Season
	}
	charts, err := s.eventCharts(e)
	if err != nil {
		return nil, err
	}
	d.Sections = []section{
		{ID: "happened", Heading: "What happened to the rain", Sentences: s.sentences(e.scope), Intro: []phrase{fact(likely(s.level(e.scope)))}},
		{ID: "plots", Heading: "Plot by plot", Charts: charts, Side: true, Tables: []table{s.plotsTable(e, flags)}},
		s.setUp(e),
	}
	if len(d.Sections[0].Sentences) == 0 {
		d.Sections[0].Intro = []phrase{say("Rain or runoff is not known for any treatment of this day.")}
	}
	d.Flags = flags.list()
	d.Colophon = s.colophon(e.datasets(s))
	return d, nil
}

// likely explains the word with the level of the intervals.
func likely(level float64) string {
	return "Between two numbers, “likely” means: measured and computed in this way, such a range holds the truth in " + words.Figure(100*level, 3) + " of 100 cases."
}

// level is that of the intervals of a scope.
func (s *Site) level(scope string) float64 {
	for i := range s.in.Analysis.Treatments {
		if t := &s.in.Analysis.Treatments[i]; t.Scope == scope && t.Level > 0 {
			return t.Level
		}
	}
	return 0.95
}

// datasets lists the datasets of an event.
func (e *event) datasets(s *Site) []string {
	var out []string
	for _, r := range e.runs {
		if d := s.runs[r].target.Dataset; !slices.Contains(out, d) {
			out = append(out, d)
		}
	}
	return out
}

// eventLine tells when, where and with what.
func (s *Site) eventLine(e *event) phrase {
	var parts []string
	add := func(text string) {
		if text != "" && !slices.Contains(parts, text) {
			parts = append(parts, text)
		}
	}
	add(day(e.first))
	for _, r := range e.runs {
		if f := s.runs[r].facts; f != nil && f.Site != e.target.Event {
			add(f.Site)
		}
	}
	for _, r := range e.runs {
		if f := s.runs[r].facts; f != nil {
			if f.Crew != "" {
				add("crew " + f.Crew)
			}
			if f.Simulator != "" {
				add("simulator " + f.Simulator)
			}
		}
	}
	plots := 0
	for _, r := range e.runs {
		plots += len(s.runs[r].plots)
	}
	add(count(plots, "plot") + " in " + count(len(e.runs), "run"))
	return facts(parts...)
}

// day writes a date; "" where there is none.
func day(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.Format("2 January 2006")
}

// count writes a number of things.
func count(n int, thing string) string {
	if n == 1 {
		return "1 " + thing
	}
	return strconv.Itoa(n) + " " + thing + "s"
}

func (s *Site) eventNav(e *event) []phrase {
	var out []phrase
	if t := (Target{Kind: SeasonPage}); s.link(t) != "" {
		out = append(out, s.to(t, "The whole season"))
	}
	for _, r := range e.runs {
		if t := s.runs[r].target; s.link(t) != "" {
			out = append(out, s.to(t, "Run "+t.Run))
		}
	}
	return out
}

// treatmentsOf lists the treatments of a scope in the order of the table.
func (s *Site) treatmentsOf(scope string) []string {
	var out []string
	for i := range s.in.Analysis.Treatments {
		t := &s.in.Analysis.Treatments[i]
		if t.Scope == scope && (len(out) == 0 || out[len(out)-1] != t.Treatment) && !slices.Contains(out, t.Treatment) {
			out = append(out, t.Treatment)
		}
	}
	return out
}

// sentences tells one sentence per treatment of a scope.
func (s *Site) sentences(scope string) []phrase {
	var out []phrase
	for _, name := range s.treatmentsOf(scope) {
		if p := said(words.WithUncertainty(s.in.Units, name, words.AmountsOf(s.in.Analysis.Treatments, scope, name))); len(p) > 0 {
			p[0].Mark = s.swatch(name)
			out = append(out, p)
		}
	}
	return out
}

// plotName names a plot within its event.
func (s *Site) plotName(r *run, p *plot) string { return r.target.Run + ", plot " + p.Plot }

// columns of the table of an event.
var eventColumns = []result.Metric{
	result.RainDepth, result.RunoffDepth, result.RunoffCoefficient, result.DrainageDepth, result.TimeToRunoff,
	result.SteadyInfiltrationRate, result.SedimentConcentration, result.SoilLoss,
}

// plotsTable holds the headline numbers of each plot with their intervals.
func (s *Site) plotsTable(e *event, flags flagsOf) table {
	t := table{ID: "numbers", Caption: "Every plot in numbers, each value over its interval", Wide: true, Head: []string{"Plot", "Treatment"}}
	var metrics []result.Metric
	for _, m := range eventColumns {
		if unit, ok := s.unitOf(e, m); ok {
			metrics = append(metrics, m)
			t.Head = append(t.Head, heading(m, s.scaleOf(m, unit)))
		}
	}
	t.Head = append(t.Head, "Remarks")
	for _, n := range e.runs {
		r := &s.runs[n]
		for i := range r.plots {
			p := &r.plots[i]
			row := []phrase{s.to(r.target, s.plotName(r, p)), fact(s.label(p.Subject))}
			var all result.Flags
			for _, m := range metrics {
				q := p.row(m)
				row = append(row, s.cell(q))
				if q != nil {
					all.Add(q.Flags...)
				}
			}
			t.Rows = append(t.Rows, append(row, code(flags.add(all))))
		}
	}
	return t
}

// heading names a column with its unit.
func heading(m result.Metric, c scale) string {
	info, ok := m.Info()
	name := string(m)
	if ok {
		name = info.Name
	}
	if m == result.RunoffCoefficient {
		name = "share of the rain that ran off"
	}
	name = strings.ToUpper(name[:1]) + name[1:]
	if u := c.name(); u != "" {
		name += ", " + u
	}
	return name
}

// unitOf returns the canonical unit of a metric that some plot of an event has a
// row of.
func (s *Site) unitOf(e *event, m result.Metric) (string, bool) {
	for _, n := range e.runs {
		for i := range s.runs[n].plots {
			if q := s.runs[n].plots[i].row(m); q != nil && !q.Flags.Has("no_data") {
				return q.Unit, true
			}
		}
	}
	return "", false
}

// cell is a value over its interval.
func (s *Site) cell(q *result.PlotRow) phrase {
	switch {
	case q == nil:
		return say("–")
	case !q.Value.OK:
		return say(absent(q.Flags))
	}
	p := s.value(q)
	if q.Censored == result.Right || q.Censored == result.Left || q.Low == q.High {
		return p
	}
	if b := s.bounds(q.Key(), s.scaleOf(q.Metric, q.Unit), q.Low, q.High, q.U); b != nil {
		b[0].Line = true
		p = join(p, b)
	}
	return p
}
