package season_test

import (
	"cmp"
	"encoding/csv"
	"flag"
	"fmt"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// go test ./analysis/season -run TestDrawStudy -study.draw comparisons.csv
var studyDraw = flag.String("study.draw", "", "table of a study to draw as an SVG beside it, and to write as the table of docs/coverage.md")

// drawn is a cell of either study, for its chart and its table.
type drawn struct {
	kind                  string // of statement and data
	bounds, events, plots string
	declined, coverage    float64
	falsePositive         float64
	tested                bool // false positives were counted
}

// TestDrawStudy draws coverage and false positives of the cells of a study. A
// table that is not named leaves small ones to draw, so that drawing itself is tested.
func TestDrawStudy(t *testing.T) {
	tables := []string{
		"data,metric,plots,events,censored,draws,declined,coverage,false_interval,false_positive,any_of_family\n" +
			"x,soil_loss,2,1,0 %,100,0.1,0.95,0.05,0.04,0.03\n",
		"metric,statistic,data,plots,events,censored,draws,declined,coverage\n" +
			"soil_loss,mean,x,2,1,0 %,100,0.1,0.95\n",
	}
	if *studyDraw != "" {
		b, err := os.ReadFile(*studyDraw)
		if err != nil {
			t.Fatal(err)
		}
		tables = []string{string(b)}
	}
	for _, table := range tables {
		cells := readStudy(t, table)
		drawing, text := chart(cells), tableOf(cells)
		if !strings.Contains(drawing, "<circle") || !strings.Contains(text, ".950 (10 %)") && *studyDraw == "" {
			t.Errorf("the drawing or the table is empty: %s\n%s", drawing, text)
		}
		if *studyDraw != "" {
			base := strings.TrimSuffix(*studyDraw, ".csv")
			for name, content := range map[string]string{base + ".svg": drawing, base + ".md": text} {
				if err := os.WriteFile(name, []byte(content), 0o644); err != nil {
					t.Fatal(err)
				}
			}
		}
	}
}

// statements are what docs/coverage.md calls them, by metric and statistic.
var statements = map[string]string{
	"runoff_depth mean": "mean", "soil_loss geometric_mean": "geometric mean", "soil_loss mean": "mean of sediment",
	"time_to_runoff restricted_mean": "restricted mean of times", "time_to_runoff geometric_mean": "geometric mean of times",
	"steady_infiltration_rate mean": "mean, some at a lower bound",
}

// readStudy reads the table of either study, ordered for people: kinds as they come first, bounds, events, plots.
func readStudy(t *testing.T, table string) []drawn {
	t.Helper()
	rows, err := csv.NewReader(strings.NewReader(table)).ReadAll()
	if err != nil || len(rows) < 2 {
		t.Fatalf("table of %d rows: %v", len(rows), err)
	}
	at := map[string]int{}
	for i, n := range rows[0] {
		at[n] = i
	}
	number := func(text string) float64 {
		v, err := strconv.ParseFloat(text, 64)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	_, tests := at["false_positive"]
	first := map[string]int{}
	var cells []drawn
	for _, r := range rows[1:] {
		c := drawn{kind: r[at["data"]], bounds: r[at["censored"]], events: r[at["events"]], plots: r[at["plots"]],
			declined: number(r[at["declined"]]), coverage: number(r[at["coverage"]]), tested: tests}
		if tests {
			c.falsePositive = number(r[at["false_positive"]])
		} else {
			c.kind = statements[r[at["metric"]]+" "+r[at["statistic"]]] + ", " + c.kind
		}
		if _, ok := first[c.kind]; !ok {
			first[c.kind] = len(first)
		}
		cells = append(cells, c)
	}
	slices.SortStableFunc(cells, func(a, b drawn) int {
		size := func(s string) float64 { return number(strings.TrimSuffix(s, " %")) }
		return cmp.Or(cmp.Compare(first[a.kind], first[b.kind]), cmp.Compare(size(a.bounds), size(b.bounds)), cmp.Compare(size(a.events), size(b.events)), cmp.Compare(size(a.plots), size(b.plots)))
	})
	return cells
}

// tableOf writes a line for each kind, bounds and events, a column for each number of plots.
func tableOf(cells []drawn) string {
	var plots []string
	for _, c := range cells {
		if !slices.Contains(plots, c.plots) {
			plots = append(plots, c.plots)
		}
	}
	var b strings.Builder
	b.WriteString("| data | bounds | events | n = " + strings.Join(plots, " | ") + " |\n|" + strings.Repeat(" --- |", 3+len(plots)))
	last := ""
	for _, c := range cells {
		if line := "\n| " + c.kind + " | " + c.bounds + " | " + c.events + " |"; line != last {
			b.WriteString(line)
			last = line
		}
		text := strings.TrimPrefix(fmt.Sprintf("%.3f", c.coverage), "0")
		if c.declined >= 0.005 {
			text += fmt.Sprintf(" (%.0f %%)", 100*c.declined)
		}
		if c.tested {
			text += "; " + strings.TrimPrefix(fmt.Sprintf("%.3f", c.falsePositive), "0")
		}
		b.WriteString(" " + text + " |")
	}
	return b.String() + "\n"
}

// chart draws one panel per kind of data: coverage (filled) and one minus the rate of
// false positives (open) of every cell, by events and plots.
func chart(cells []drawn) string {
	var kinds []string
	byKind := map[string][]drawn{}
	for _, c := range cells {
		k := c.kind + ", " + c.bounds + " censored"
		if byKind[k] == nil {
			kinds = append(kinds, k)
		}
		byKind[k] = append(byKind[k], c)
	}
	const width, panel, left, top, low, high = 760.0, 96.0, 250.0, 34.0, 0.90, 1.005
	var b strings.Builder
	total := top + panel*float64(len(kinds)) + 30
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" width="%.0f" height="%.0f" font-family="sans-serif" font-size="11">`+"\n", width, total)
	fmt.Fprintf(&b, `<rect width="100%%" height="100%%" fill="white"/><text x="8" y="18">95 %% intervals: share that hold the truth (filled), and of comparisons 1 - false positives at 5 %% (open); by events, and plots within them</text>`+"\n")
	for i, k := range kinds {
		y0 := top + panel*float64(i)
		y := func(v float64) float64 { return y0 + (panel-16)*(high-max(low, v))/(high-low) }
		fmt.Fprintf(&b, `<text x="8" y="%.1f">%s</text>`+"\n", y0+20, strings.ReplaceAll(k, "&", "and"))
		for _, line := range []struct {
			at    float64
			paint string
		}{{0.93, "#b33"}, {0.95, "#999"}, {1, "#ddd"}} {
			fmt.Fprintf(&b, `<line x1="%.0f" x2="%.0f" y1="%.1f" y2="%.1f" stroke="%s"/><text x="%.0f" y="%.1f" fill="%s">%.2f</text>`+"\n",
				left, width-10, y(line.at), y(line.at), line.paint, left-30, y(line.at)+4, line.paint, line.at)
		}
		step := (width - left - 30) / float64(max(1, len(byKind[k])))
		last := ""
		for j, c := range byKind[k] {
			x := left + 10 + step*float64(j)
			if c.events != last {
				fmt.Fprintf(&b, `<text x="%.1f" y="%.1f" fill="#666">%s ev.</text>`+"\n", x-4, y0+panel-6, c.events)
				last = c.events
			}
			fmt.Fprintf(&b, `<circle cx="%.1f" cy="%.1f" r="3.2" fill="#246"/>`+"\n", x, y(c.coverage))
			if c.tested {
				fmt.Fprintf(&b, `<circle cx="%.1f" cy="%.1f" r="3.2" fill="none" stroke="#c60"/>`+"\n", x+6, y(1-c.falsePositive))
			}
		}
	}
	b.WriteString("</svg>\n")
	return b.String()
}
