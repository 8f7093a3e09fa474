package rscript

import (
	_ "embed"
	"encoding/csv"
	"fmt"
	"io"
	"strconv"
	"strings"

	"sheetwash/analysis/result"
	"sheetwash/analysis/season"
)

//go:embed body.R
var body string

// FileName is what the script is called beside the results.
const FileName = "second_opinion.R"

// Write writes the script for an analysis whose intervals are at level. It is a
// pure function of its arguments. Errors: those of w.
func Write(w io.Writer, a *result.Analysis, level float64) error {
	var b strings.Builder
	b.WriteString("# A second opinion on the treatment results and comparisons of sheetwash.\n")
	b.WriteString("# Run it in the folder of the results: Rscript " + FileName + "\n\n")
	fmt.Fprintf(&b, "level <- %s\n\n", number(level))
	b.WriteString("# Metrics whose methods define different quantities and are never mixed.\n")
	words(&b, "keep_apart", season.MethodsApart())
	b.WriteString("# Metrics that are bounds by design where a plot does not run off before the rain ends.\n")
	words(&b, "ends_with_rain", season.EndsWithRain())
	b.WriteString("# Where each plot belongs: the scope of its event and season, the treatment with\n# its sequence of runs where there are several, the body of soil where one is named,\n# and crew, simulator and day of the event.\n")
	places := [][]string{{"dataset", "run", "plot", "scope", "season", "label", "soil", "crew", "simulator", "day"}}
	for _, p := range season.Places(a.Plots) {
		day := ""
		if p.Day.OK {
			day = number(p.Day.V)
		}
		places = append(places, []string{p.Dataset, p.Run, p.Plot, p.Event, p.Season, p.Treatment, p.Soil, p.Crew, p.Simulator, day})
	}
	if err := table(&b, "places", places, "\"character\""); err != nil {
		return err
	}
	b.WriteString("# The part of the uncertainty that all plots of a run share.\n")
	shared := [][]string{{"dataset", "run", "plot", "metric", "u_shared"}}
	for i := range a.Plots {
		if r := &a.Plots[i]; r.Headline && !r.Excluded && r.UShared.OK && r.UShared.V > 0 {
			shared = append(shared, []string{r.Dataset, r.Run, r.Plot, string(r.Metric), number(r.UShared.V)})
		}
	}
	if err := table(&b, "shared", shared, `c(rep("character", 4), "numeric")`); err != nil {
		return err
	}
	b.WriteString(body)
	if _, err := io.WriteString(w, b.String()); err != nil {
		return fmt.Errorf("write R script: %w", err)
	}
	return nil
}

// words writes a vector of metrics.
func words(b *strings.Builder, name string, metrics []result.Metric) {
	var quoted []string
	for _, m := range metrics {
		quoted = append(quoted, strconv.Quote(string(m)))
	}
	fmt.Fprintf(b, "%s <- c(%s)\n\n", name, strings.Join(quoted, ", "))
}

// table writes a data frame as the text of a CSV within a raw string.
func table(b *strings.Builder, name string, rows [][]string, classes string) error {
	var text strings.Builder
	c := csv.NewWriter(&text)
	if err := c.WriteAll(rows); err != nil {
		return fmt.Errorf("write table %s: %w", name, err)
	}
	dashes := "-"
	for strings.Contains(text.String(), ")"+dashes+"\"") {
		dashes += "-"
	}
	fmt.Fprintf(b, "%s <- read.csv(text = r\"%s(%s)%s\", stringsAsFactors = FALSE, na.strings = character(0), colClasses = %s)\n\n", name, dashes, text.String(), dashes, classes)
	return nil
}

func number(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }
