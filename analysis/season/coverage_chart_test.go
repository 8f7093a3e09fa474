package season_test

import (
	"encoding/csv"
	"flag"
	"fmt"
	"os"
	"strconv"
	"strings"
	"testing"
)

// go test ./analysis/season -run TestDrawStudy -study.draw comparisons.csv
var studyDraw = flag.String("study.draw", "", "table of the study to draw as an SVG beside it")

// TestDrawStudy draws coverage and false positives of the cells of the study. A
// table that is not named leaves a small one to draw, so that drawing itself is tested.
func TestDrawStudy(t *testing.T) {
	table := "data,metric,plots,events,censored,draws,declined,coverage,false_interval,false_positive,any_of_family\n" +
		"x,soil_loss,2,1,0 %,100,0.1,0.95,0.05,0.04,0.03\n"
	if *studyDraw != "" {
		b, err := os.ReadFile(*studyDraw)
		if err != nil {
			t.Fatal(err)
		}
		table = string(b)
	}
	rows, err := csv.NewReader(strings.NewReader(table)).ReadAll()
	if err != nil || len(rows) < 2 {
		t.Fatalf("table of %d rows: %v", len(rows), err)
	}
	drawing := chart(t, rows[1:])
	if !strings.Contains(drawing, "<circle") {
		t.Errorf("the drawing is empty: %s", drawing)
	}
	if *studyDraw != "" {
		if err := os.WriteFile(strings.TrimSuffix(*studyDraw, ".csv")+".svg", []byte(drawing), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

// chart draws one panel per kind of data: coverage (filled) and one minus the rate of
// false positives (open) of every cell, by events and plots.
func chart(t *testing.T, rows [][]string) string {
	t.Helper()
	value := func(row []string, k int) float64 {
		v, err := strconv.ParseFloat(row[k], 64)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	var kinds []string
	byKind := map[string][][]string{}
	for _, r := range rows {
		k := r[0] + ", " + r[4] + " censored"
		if byKind[k] == nil {
			kinds = append(kinds, k)
		}
		byKind[k] = append(byKind[k], r)
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
		for j, r := range byKind[k] {
			x := left + 10 + step*float64(j)
			if r[3] != last {
				fmt.Fprintf(&b, `<text x="%.1f" y="%.1f" fill="#666">%s ev.</text>`+"\n", x-4, y0+panel-6, r[3])
				last = r[3]
			}
			fmt.Fprintf(&b, `<circle cx="%.1f" cy="%.1f" r="3.2" fill="#246"/>`+"\n", x, y(value(r, 7)))
			if r[9] != "" { // single treatments have no tests
				fmt.Fprintf(&b, `<circle cx="%.1f" cy="%.1f" r="3.2" fill="none" stroke="#c60"/>`+"\n", x+6, y(1-value(r, 9)))
			}
		}
	}
	b.WriteString("</svg>\n")
	return b.String()
}
