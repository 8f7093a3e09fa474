package cli

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/jedib0t/go-pretty/v6/table"
	prettytext "github.com/jedib0t/go-pretty/v6/text"

	"sheetwash/analysis/result"
	"sheetwash/api/report"
	"sheetwash/api/report/words"
)

// headlineMetrics are the four quantities of the summary, with the head of their
// column and what it is called in a sentence.
var headlineMetrics = []struct {
	metric result.Metric
	head   string
}{
	{result.TimeToRunoff, "Time to\nrunoff"},
	{result.SteadyInfiltrationRate, "Steady\ninfiltration"},
	{result.RunoffCoefficient, "Share of\nrain that\nran off"},
	{result.SedimentConcentration, "Sediment\nin runoff"},
}

// summary is what a person sees of an analysis: per treatment the four headline
// quantities with their intervals. It fits 80 columns.
type summary struct {
	analysis *result.Analysis
	units    report.Units
	scope    string
	color    bool
}

// newSummary picks the widest scope that there is: all events, else the season,
// else the single event.
func newSummary(a *result.Analysis, u report.Units, color bool) *summary {
	s := &summary{analysis: a, units: u, color: color}
	rank := func(scope string) int {
		switch {
		case scope == "all":
			return 3
		case strings.HasPrefix(scope, "season:"):
			return 2
		default:
			return 1
		}
	}
	for _, t := range a.Treatments {
		if s.scope == "" || rank(t.Scope) > rank(s.scope) {
			s.scope = t.Scope
		}
	}
	return s
}

// title says what is summarised.
func (s *summary) title() string {
	kind, name, _ := strings.Cut(s.scope, ":")
	switch kind {
	case "all":
		return "All events together"
	case "season":
		return "Season " + name
	}
	return "Event " + name
}

// treatments lists the treatments of the scope in the order of the table.
func (s *summary) treatments() []string {
	var out []string
	for _, t := range s.analysis.Treatments {
		if t.Scope == s.scope && !slices.Contains(out, t.Treatment) {
			out = append(out, t.Treatment)
		}
	}
	return out
}

// headline returns the headline statistic of a metric of a treatment.
func (s *summary) headline(treatment string, m result.Metric) (result.TreatmentRow, bool) {
	for _, t := range s.analysis.Treatments {
		if t.Scope == s.scope && t.Treatment == treatment && t.Metric == m && t.Headline {
			return t, true
		}
	}
	return result.TreatmentRow{}, false
}

// widest is how many columns the summary may take.
const widest = 80

// table draws the summary, the names of the treatments as wide as the numbers
// leave room for.
func (s *summary) table() string {
	for _, names := range []int{18, 14, 11} {
		if text := s.draw(names); names == 11 || fits(text) {
			return text
		}
	}
	return ""
}

func fits(text string) bool {
	for _, line := range strings.Split(text, "\n") {
		if prettytext.StringWidthWithoutEscSequences(line) > widest {
			return false
		}
	}
	return true
}

// draw draws the summary with a width for the names of the treatments.
func (s *summary) draw(names int) string {
	w := table.NewWriter()
	w.SetStyle(s.style())
	head := table.Row{"Treatment", "Plots"}
	units := table.Row{"", "(events)"}
	for _, m := range headlineMetrics {
		info, _ := m.metric.Info()
		head = append(head, m.head)
		units = append(units, s.unitWord(info))
	}
	w.AppendHeader(head)
	w.AppendHeader(units)
	level := 0.0
	for i, name := range s.treatments() {
		if i > 0 {
			w.AppendRow(table.Row{""}) // air between the treatments
		}
		row := table.Row{name, s.count(name)}
		for _, m := range headlineMetrics {
			t, ok := s.headline(name, m.metric)
			row = append(row, s.cell(t, ok))
			if ok && t.Level > 0 {
				level = t.Level
			}
		}
		w.AppendRow(row)
	}
	configs := []table.ColumnConfig{{Number: 1, WidthMax: names, WidthMaxEnforcer: prettytext.WrapSoft}, {Number: 2, Align: prettytext.AlignRight, AlignHeader: prettytext.AlignRight}}
	for i := range headlineMetrics {
		configs = append(configs, table.ColumnConfig{Number: i + 3, Align: prettytext.AlignRight, AlignHeader: prettytext.AlignRight})
	}
	w.SetColumnConfigs(configs)
	out := s.title() + "\n\n" + trimLines(w.Render()) + "\n"
	if level > 0 {
		out += fmt.Sprintf("\nBelow each value: its %s %% interval, measurement and replicates together.\n", words.Figure(100*level, 3))
	}
	out += s.statistics()
	return out
}

// statistics says which statistic stands for the plots of a treatment where it
// isn't their mean.
func (s *summary) statistics() string {
	out := ""
	for _, t := range s.analysis.Treatments {
		if t.Scope != s.scope || !t.Headline || !t.Value.OK {
			continue
		}
		line := ""
		switch {
		case t.Metric == result.TimeToRunoff && t.Statistic == "restricted_mean":
			line = "Time to runoff: mean within the time of rain, plots that never ran off included.\n"
		case t.Metric == result.SedimentConcentration && t.Statistic == "geometric_mean":
			line = "Sediment: geometric mean of the plots that ran off.\n"
		}
		if !strings.Contains(out, line) {
			out += line
		}
	}
	return out
}

// style is plain text with rules; the head is bold where colours are allowed.
func (s *summary) style() table.Style {
	style := table.StyleLight
	style.Options = table.Options{SeparateHeader: true, SeparateRows: false}
	style.Box.PaddingLeft, style.Box.PaddingRight = "", "  "
	style.Format.Header = prettytext.FormatDefault
	if s.color {
		style.Color.Header = prettytext.Colors{prettytext.Bold}
	}
	return style
}

// unitWord is the unit under the head of a column. A share is shown in percent.
func (s *summary) unitWord(info result.MetricInfo) string {
	if info.ID == result.RunoffCoefficient {
		return "%"
	}
	_, word, err := s.units.Convert(1, info.SI)
	if err != nil {
		return info.SI
	}
	return word
}

// count says how many plots in how many events a treatment has.
func (s *summary) count(treatment string) string {
	plots, events := 0, 0
	for _, t := range s.analysis.Treatments {
		if t.Scope == s.scope && t.Treatment == treatment {
			plots, events = max(plots, t.NPlots+censoredApart(t)), max(events, t.NEvents)
		}
	}
	return fmt.Sprintf("%d\n(%d)", plots, events)
}

// censoredApart counts the plots that a statistic knows of without holding them.
func censoredApart(t result.TreatmentRow) int {
	if t.Flags.Has("some_without_runoff") || t.Flags.Has("none_ran_off") {
		return t.NCensored
	}
	return 0
}

// cell writes a value over its interval.
func (s *summary) cell(t result.TreatmentRow, ok bool) string {
	if !ok {
		return "–\n"
	}
	if !t.Value.OK {
		return "–\n" + reason(noValue, t.Flags)
	}
	value := s.number(t, t.Value.V)
	switch {
	case t.Flags.Has("not_reached"):
		value = "over " + value
	case t.Flags.Has("lower_bound"):
		value = "≥ " + value
	case t.Flags.Has("upper_bound"):
		value = "≤ " + value
	}
	switch {
	case t.Low.OK && t.High.OK:
		return value + "\n" + s.number(t, t.Low.V) + "–" + s.number(t, t.High.V)
	case t.Low.OK:
		return value + "\nover " + s.number(t, t.Low.V)
	case t.High.OK:
		return value + "\nbelow " + s.number(t, t.High.V)
	}
	return value + "\n" + reason(noInterval, t.Flags)
}

// number writes a number in the units of the summary, three significant digits.
func (s *summary) number(t result.TreatmentRow, v float64) string {
	if t.Metric == result.RunoffCoefficient {
		if math.Abs(100*v) >= 99.5 {
			return words.Significant(100*v, 3)
		}
		return words.Significant(100*v, 2)
	}
	if u, _, err := s.units.Convert(v, t.Unit); err == nil {
		v = u
	}
	return words.Significant(v, 3)
}

// why is a flag and the few words for it that fit a cell.
type why struct{ flag, words string }

// noValue and noInterval say in the order of their weight why a cell is without
// a value, or a value without an interval.
var (
	noValue    = []why{{"none_ran_off", "no runoff"}, {"pending", "in the oven"}, {"no_data", "no data"}}
	noInterval = []why{{"lower_bound", ""}, {"upper_bound", ""}, {"one_plot", "one plot"}, {"pooled_plots", "pooled"}, {"no_spread", "all alike"}}
)

func reason(reasons []why, flags result.Flags) string {
	for _, r := range reasons {
		if flags.Has(r.flag) {
			return r.words
		}
	}
	return ""
}

// trimLines takes away the blanks at the ends of lines.
func trimLines(text string) string {
	lines := strings.Split(text, "\n")
	for i := range lines {
		lines[i] = strings.TrimRight(lines[i], " ")
	}
	return strings.Join(lines, "\n")
}
