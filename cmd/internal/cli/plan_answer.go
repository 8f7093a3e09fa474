package cli

import (
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"strconv"
	"strings"

	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
	"sheetwash/analysis/season"
)

// answer puts a plan into words and numbers.
func (f *planFlags) answer(p season.Past, needs []season.Need) planned {
	a := planned{
		Metric: p.Metric.ID, Compared: "difference", Unit: p.Metric.SI, Level: f.level,
		SDPlots: p.Plots, SDPlotsUpper: p.PlotsCareful, DFPlots: p.PlotsDF, Treatments: p.Treatments, Events: p.Events,
	}
	if p.Ratio {
		a.Compared, a.Unit = "ratio", "1"
	}
	if p.EffectsKnown {
		a.SDEffects = pointer(p.Effects * math.Sqrt2)
	}
	unit := ""
	if !p.Ratio {
		unit = " " + p.Metric.SI
	}
	switch {
	case f.width != 0 && p.Ratio:
		a.Width, a.Goal = &f.width, fmt.Sprintf("a %s whose interval reaches no further than %s times up and down", a.Compared, figures(f.width))
	case f.width != 0:
		a.Width, a.Goal = &f.width, fmt.Sprintf("a %s to ± %s%s", a.Compared, figures(f.width), unit)
	default:
		effect := f.ratio + f.difference
		a.Effect, a.Power = &effect, &f.power
		a.Goal = fmt.Sprintf("a %s of %s%s, found with probability %s", a.Compared, figures(effect), unit, figures(f.power))
	}
	a.Assumptions = assumptions(p, f.level)
	for _, n := range needs {
		one := plannedNeed{Events: n.Events, Plots: whole(n.Plots), Careful: whole(n.Careful)}
		if n.Reached.OK {
			v := n.Reached.V
			if p.Ratio && f.width != 0 {
				v = math.Exp(v)
			}
			one.Reached = &v
		}
		a.Needs = append(a.Needs, one)
	}
	return a
}

// assumptions says what a plan supposes.
func assumptions(p season.Past, level float64) []string {
	scatter := fmt.Sprintf("Plots of one treatment and field day scatter as in the past: standard deviation %s %s, from %s degrees of freedom", figures(p.Plots), p.Metric.SI, figures(p.PlotsDF))
	if p.Ratio {
		scatter = fmt.Sprintf("Plots of one treatment and field day scatter as in the past: coefficient of variation %s %%, from %s degrees of freedom",
			figures(100*math.Sqrt(math.Expm1(p.Plots*p.Plots))), figures(p.PlotsDF))
	}
	out := []string{scatter + "; the careful number takes the upper limit of that scatter (one-sided, 80 %)."}
	switch {
	case !p.EffectsKnown:
		out = append(out, "How far effects differ from day to day is not known from these data; it is taken as nothing, so that the plans over several days are too hopeful.")
	case p.Ratio:
		out = append(out, fmt.Sprintf("Ratios of two treatments differ from day to day by a factor of about %s (one standard deviation).", figures(math.Exp(p.Effects*math.Sqrt2))))
	default:
		out = append(out, fmt.Sprintf("Differences of two treatments differ from day to day by %s %s (one standard deviation).", figures(p.Effects*math.Sqrt2), p.Metric.SI))
	}
	out = append(out,
		"A plan for one field day tells of that day only. Over several days each counts once: more plots make each day surer, only more days make the season surer.",
		fmt.Sprintf("Both treatments stand on every field day with equally many plots; intervals are at %s %%, by Student's t of logarithms for ratios and of values else, for one pair; Holm's adjustment of many pairs needs more.", figures(100*level)))
	if len(p.Flags) > 0 {
		for _, w := range result.FlagWords() {
			if p.Flags.Has(w.Word) {
				out = append(out, "Learned from a part of the treatments: "+w.Meaning+".")
			}
		}
	}
	return out
}

func (a *planned) print(s *streams) error {
	var b strings.Builder
	fmt.Fprintf(&b, "Plan for %s: %s.\nLearned from %d treatments on %d field days.\n\n", a.Metric, a.Goal, a.Treatments, a.Events)
	head := "power"
	if a.Width != nil {
		head = "width"
	}
	fmt.Fprintf(&b, "%10s  %28s  %9s  %7s\n", "field days", "plots per treatment and day", "careful", head)
	for _, n := range a.Needs {
		reached := "–"
		if n.Reached != nil {
			reached = strconv.FormatFloat(*n.Reached, 'g', 3, 64)
		}
		fmt.Fprintf(&b, "%10d  %28s  %9s  %7s\n", n.Events, count(n.Plots), count(n.Careful), reached)
	}
	b.WriteString("\nWhat this supposes:\n")
	for _, t := range a.Assumptions {
		b.WriteString("- " + t + "\n")
	}
	if _, err := io.WriteString(s.out, b.String()); err != nil {
		return onDisk(err)
	}
	return nil
}

func count(n *int) string {
	if n == nil {
		return "above " + strconv.Itoa(season.MostPlots)
	}
	return strconv.Itoa(*n)
}

func whole(v quantity.Optional) *int {
	if !v.OK {
		return nil
	}
	n := int(v.V)
	return &n
}

func pointer(v float64) *float64 { return &v }

// figures rounds to three significant digits, for reading.
func figures(v float64) string { return strconv.FormatFloat(v, 'g', 3, 64) }

func encode(s *streams, v any) error {
	e := json.NewEncoder(s.out)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	if err := e.Encode(v); err != nil {
		return onDisk(err)
	}
	return nil
}

// readPlots reads what planning needs of a plot_results.csv: headline rows that are not
// excluded. Bodies of soil have no column, so each row is a plot of its own.
func readPlots(path string) ([]result.PlotRow, error) {
	file, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer file.Close()
	r := csv.NewReader(file)
	head, err := r.Read()
	if err != nil {
		return nil, &failure{exitRefused, "data_rejected", fmt.Errorf("%s: %w", path, err)}
	}
	at := map[string]int{}
	for i, n := range head {
		at[n] = i
	}
	for _, n := range []string{"dataset", "season", "event", "run", "plot", "treatment", "metric", "method", "headline", "value", "unit", "low", "high", "censored", "flags"} {
		if _, ok := at[n]; !ok {
			return nil, &failure{exitRefused, "data_rejected", fmt.Errorf("%s: there is no column %s: it is no plot_results table", path, n)}
		}
	}
	var rows []result.PlotRow
	for {
		record, err := r.Read()
		if errors.Is(err, io.EOF) {
			return rows, nil
		}
		if err != nil {
			return nil, &failure{exitRefused, "data_rejected", fmt.Errorf("%s: %w", path, err)}
		}
		rows = append(rows, plotOf(func(name string) string { return strings.TrimPrefix(record[at[name]], "'") }))
	}
}

func plotOf(cell func(string) string) result.PlotRow {
	number := func(name string) quantity.Optional {
		v, err := strconv.ParseFloat(cell(name), 64)
		return quantity.Optional{V: v, OK: err == nil}
	}
	flags := result.Flags(strings.Fields(cell("flags")))
	return result.PlotRow{
		Subject: &result.Subject{
			Dataset: cell("dataset"), Season: cell("season"), Event: cell("event"), Run: cell("run"), Plot: cell("plot"),
			Treatment: cell("treatment"), Excluded: flags.Has("excluded"),
		},
		Metric: result.Metric(cell("metric")), Method: cell("method"), Headline: cell("headline") == "true", Unit: cell("unit"),
		Estimate: result.Estimate{Value: number("value"), Low: number("low"), High: number("high"), Censored: result.Censored(cell("censored")), Flags: flags},
	}
}
