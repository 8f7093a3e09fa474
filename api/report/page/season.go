package page

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"slices"
	"strings"
	"time"

	"sheetwash/analysis/result"
)

// seasonDocument is the report of the whole analysis.
func (s *Site) seasonDocument() (*document, error) {
	flags := flagsOf{}
	name := s.seasonName()
	d := &document{Title: name + ": report", Kicker: "Report", Heading: name, Lines: []phrase{s.seasonLine()}}
	makers := []func(flagsOf) (section, error){
		s.daysSection, s.treatmentsSection, s.effectsSection, s.survivalSection, s.simulatorsSection, s.qualitySection, s.methodsSection, s.repeatSection,
	}
	for _, make := range makers {
		sec, err := make(flags)
		if err != nil {
			return nil, err
		}
		if sec.ID == "" {
			continue
		}
		d.Sections = append(d.Sections, sec)
		d.Nav = append(d.Nav, phrase{{Text: sec.Heading, Href: "#" + sec.ID}})
	}
	d.Flags = flags.list()
	d.Colophon = s.colophon(nil)[:1]
	d.Colophon = append(d.Colophon, say("Results are for teaching and research, not for engineering design."))
	return d, nil
}

// seasonName is the name of the only season, else what holds them together.
func (s *Site) seasonName() string {
	var names []string
	for i := range s.events {
		if n := s.events[i].target.Season; !slices.Contains(names, n) {
			names = append(names, n)
		}
	}
	if len(names) == 1 && names[0] != "" {
		return "Season " + names[0]
	}
	return "All field days"
}

// seasonLine tells the extent of the season.
func (s *Site) seasonLine() phrase {
	var first, last time.Time
	plots, refused := 0, 0
	treatments := map[string]bool{}
	for i := range s.runs {
		plots += len(s.runs[i].plots)
		for _, p := range s.runs[i].plots {
			treatments[p.Treatment] = true
		}
		if f := s.runs[i].facts; f != nil && !f.Started.IsZero() {
			if first.IsZero() || f.Started.Before(first) {
				first = f.Started
			}
			if f.Started.After(last) {
				last = f.Started
			}
		}
	}
	for _, d := range s.in.Datasets {
		if d.Refused {
			refused++
		}
	}
	span := day(first)
	if l := day(last); l != span {
		span += " to " + l
	}
	parts := nonempty(span, count(len(s.events), "field day"), count(len(s.runs), "run"), count(plots, "plot"), count(len(treatments), "treatment"))
	if refused > 0 {
		parts = append(parts, count(refused, "dataset")+" refused")
	}
	return facts(parts...)
}

// widest is the scope that holds most: all events, else a season, else an event.
func (s *Site) widest() string {
	scope, rank := "", -1
	for i := range s.in.Analysis.Treatments {
		if t := s.in.Analysis.Treatments[i].Scope; rankOf(t) > rank {
			scope, rank = t, rankOf(t)
		}
	}
	return scope
}

func rankOf(scope string) int {
	switch {
	case scope == "all":
		return 2
	case strings.HasPrefix(scope, "season:"):
		return 1
	}
	return 0
}

// scopeName says a scope in words.
func scopeName(scope string) string {
	kind, name, _ := strings.Cut(scope, ":")
	switch kind {
	case "all":
		return "all field days together"
	case "season":
		return "season " + name
	}
	return name
}

// daysSection lists the field days.
func (s *Site) daysSection(flagsOf) (section, error) {
	t := table{ID: "days-table", Caption: "Field days", Head: []string{"Field day", "Date", "Crew", "Simulator", "Runs", "Plots", "Treatments"}}
	for i := range s.events {
		e := &s.events[i]
		var crews, simulators, treatments []string
		add := func(to *[]string, text string) {
			if text != "" && !slices.Contains(*to, text) {
				*to = append(*to, text)
			}
		}
		plots := 0
		runs := phrase{}
		for n, r := range e.runs {
			q := &s.runs[r]
			plots += len(q.plots)
			for _, p := range q.plots {
				add(&treatments, p.Treatment)
			}
			if q.facts != nil {
				add(&crews, q.facts.Crew)
				add(&simulators, q.facts.Simulator)
			}
			if n > 0 {
				runs = join(runs, say(" "))
			}
			runs = join(runs, s.to(q.target, q.target.Run))
		}
		slices.Sort(treatments)
		row := cells("", day(e.first), strings.Join(crews, ", "), strings.Join(simulators, ", "), "", fmt.Sprint(plots), strings.Join(treatments, "; "))
		row[0], row[4] = s.to(e.target, e.target.Event), runs
		t.Rows = append(t.Rows, row)
	}
	sec := section{ID: "days", Heading: "Field days", Tables: []table{t}}
	if len(t.Rows) == 0 {
		sec.Tables, sec.Intro = nil, []phrase{say("No dataset could be analyzed; see the data quality below.")}
	}
	return sec, nil
}

// qualitySection counts the findings by crew and lists them.
func (s *Site) qualitySection(flagsOf) (section, error) {
	sec := section{ID: "quality", Heading: "Data quality"}
	crews := map[string]string{}
	for i := range s.in.Datasets {
		d := &s.in.Datasets[i]
		var names []string
		for _, r := range d.Runs {
			if r.Crew != "" && !slices.Contains(names, r.Crew) {
				names = append(names, r.Crew)
			}
		}
		crews[d.Name] = strings.Join(names, ", ")
	}
	type counts struct{ datasets, errors, warnings, notes int }
	by := map[string]*counts{}
	var order []string
	of := func(crew string) *counts {
		if crew == "" {
			crew = "not known"
		}
		if by[crew] == nil {
			by[crew] = &counts{}
			order = append(order, crew)
		}
		return by[crew]
	}
	for i := range s.in.Datasets {
		of(crews[s.in.Datasets[i].Name]).datasets++
	}
	list := table{ID: "findings", Caption: "Every finding", Folded: true, Wide: true, Head: []string{"Dataset", "Crew", "Severity", "Where", "Finding", "Code"}}
	for _, f := range s.in.Analysis.Findings {
		c := of(crews[f.Dataset])
		switch f.Severity {
		case "error":
			c.errors++
		case "warning":
			c.warnings++
		default:
			c.notes++
		}
		where := f.File
		if f.Row > 0 {
			where += fmt.Sprintf(", row %d", f.Row)
		}
		if f.Column != "" {
			where += ", " + f.Column
		}
		list.Rows = append(list.Rows, cells(f.Dataset, crews[f.Dataset], f.Severity, where, f.Message, f.Code))
	}
	slices.Sort(order)
	t := table{ID: "findings-by-crew", Caption: "Findings by crew", Head: []string{"Crew", "Datasets", "Errors", "Warnings", "Notes"}}
	for _, crew := range order {
		c := by[crew]
		t.Rows = append(t.Rows, cells(crew, fmt.Sprint(c.datasets), fmt.Sprint(c.errors), fmt.Sprint(c.warnings), fmt.Sprint(c.notes)))
	}
	sec.Tables = []table{t, list}
	var refused []phrase
	for _, d := range s.in.Datasets {
		if d.Refused {
			refused = append(refused, fact(d.Name+" was refused: it has errors, and none of its numbers is in this report."))
		}
	}
	sec.Items = refused
	return sec, nil
}

// repeatSection says how to cite the report and make it again.
func (s *Site) repeatSection(flagsOf) (section, error) {
	p := s.in.Program
	sec := section{ID: "repeat", Heading: "To cite and to repeat"}
	digest := s.digest()
	cite := s.seasonName() + ": results of rainfall simulator runs on " + count(len(s.events), "field day") + ". Computed by " + p.Name + " " + p.Version + " from data with the digest " + digest[:min(16, len(digest))] + "."
	sec.Facts = []definition{{"Cite as", fact(cite)}, {"Digest of all data (SHA-256 of the lines below)", fact(digest)}}
	if s.in.Command != "" {
		sec.Facts = append(sec.Facts, definition{"Make the result tables again with", fact(s.in.Command)})
	}
	program := p.Name + " " + p.Version
	if p.Revision != "" {
		program += ", revision " + p.Revision
	}
	sec.Facts = append(sec.Facts, definition{"Program", fact(program)})
	for _, st := range s.in.Settings {
		sec.Facts = append(sec.Facts, definition{"Setting: " + st.Name, fact(st.Value)})
	}
	t := table{ID: "digests", Caption: "The data, with the digest of its bytes", Head: []string{"Dataset", "SHA-256", "State"}}
	for _, d := range s.in.Datasets {
		state := "analyzed"
		if d.Refused {
			state = "refused"
		}
		t.Rows = append(t.Rows, cells(d.Name, d.SHA256, state))
	}
	if len(t.Rows) > 0 {
		sec.Tables = []table{t}
	}
	return sec, nil
}

// digest is that of the lines "SHA-256 name" of all datasets that were analyzed, in
// the order of the analysis.
func (s *Site) digest() string {
	h := sha256.New()
	for _, d := range s.in.Datasets {
		if !d.Refused {
			fmt.Fprintf(h, "%s  %s\n", d.SHA256, d.Name)
		}
	}
	return hex.EncodeToString(h.Sum(nil))
}

// metricName is what a metric is called.
func metricName(m result.Metric) string {
	if m == result.RunoffCoefficient {
		return "share of the rain that ran off"
	}
	if info, ok := m.Info(); ok {
		return info.Name
	}
	return methodWord(string(m))
}
