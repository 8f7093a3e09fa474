package pagetest

import (
	"bytes"
	"encoding/csv"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"

	"golang.org/x/net/html"

	"sheetwash/analysis/result"
	"sheetwash/api/report"
)

// factors turn the canonical unit of a table into the unit of a page. By
// definition: 1 in = 25.4 mm; 1 US fl oz = 29.5735295625 mL; 1 oz = 28.349523125 g;
// 1 short ton = 907.18474 kg on 1 acre = 4046.8564224 m2 (international foot; the
// survey acre differs by 4e-6); 1 US gal = 3.785411784 L; an acre-inch holds
// 27154.2857 US gal.
var factors = map[[2]string]float64{
	{"mm", "in"}: 1 / 25.4, {"mm/h", "in/h"}: 1 / 25.4, {"mL", "fl_oz"}: 1 / 29.5735295625, {"g", "oz"}: 1 / 28.349523125,
	{"g/m2", "ton/acre"}: 4046.8564224 / 907184.74, {"L/min", "gal/min"}: 1 / 3.785411784,
	{"1", "%"}: 100, {"mm", "gal/acre"}: 27154.2857 / 25.4, {"mm", "L/m2"}: 1, {"g/m2", "t/ha"}: 0.01,
}

// TableRows holds the cells of the written result tables by key and column.
func TableRows(t testing.TB, a *result.Analysis) map[string]map[string]string {
	t.Helper()
	out := map[string]map[string]string{}
	for _, table := range []string{"hydrograph", "plot_results", "fits", "treatment_results", "comparisons", "calibrations"} {
		var b bytes.Buffer
		if err := report.Write(&b, a, table, report.Options{Format: report.CSV, Units: report.SI, Workers: 1}); err != nil {
			t.Fatal(err)
		}
		rows, err := csv.NewReader(&b).ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range rows[1:] {
			cells := map[string]string{}
			for i, name := range rows[0] {
				cells[name] = r[i]
			}
			var values []string
			for _, c := range result.KeyColumns(table) {
				v := cells[c]
				if c == "start_min" {
					f, err := strconv.ParseFloat(v, 64)
					if err != nil {
						t.Fatal(err)
					}
					v = strconv.FormatFloat(f, 'g', -1, 64)
				}
				values = append(values, strings.TrimPrefix(v, "'"))
			}
			out[result.Key(table, values...)] = cells
		}
	}
	return out
}

// units are those of the columns of the hydrograph, which has none by row.
var units = map[string]string{
	"start_min": "min", "end_min": "min", "volume_ml": "mL", "rate_mm_h": "mm/h", "u_rate_mm_h": "mm/h", "cumulative_mm": "mm",
	"infiltration_mm_h": "mm/h", "concentration_g_l": "g/L",
}

// Numbers fails for a number of a page that is not that of its result table, in the
// unit that the page says, rounded by its standard uncertainty. It returns how many
// there are.
func Numbers(t testing.TB, data []byte, rows map[string]map[string]string) int {
	t.Helper()
	seen := 0
	for n := range Parse(t, data).Descendants() {
		if key, ok := Attribute(n, "data-key"); ok {
			seen++
			col, _ := Attribute(n, "data-col")
			unit, _ := Attribute(n, "data-unit")
			_, spoken := Attribute(n, "data-said")
			checkNumber(t, rows[key], key, col, unit, Text(n), spoken)
		}
	}
	return seen
}

// Parse reads a page.
func Parse(t testing.TB, data []byte) *html.Node {
	t.Helper()
	root, err := html.Parse(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	return root
}

func checkNumber(t testing.TB, row map[string]string, key, col, unit, shown string, spoken bool) {
	t.Helper()
	if row == nil {
		t.Errorf("%s: no row of a table has this key", key)
		return
	}
	want, err := strconv.ParseFloat(row[col], 64)
	if err != nil {
		t.Errorf("%s: column %s holds %q", key, col, row[col])
		return
	}
	from := row["unit"]
	if u, ok := units[col]; ok {
		from = u
	}
	counted := strings.HasPrefix(col, "n_") || col == "weight" || col == "p" || col == "p_adjusted"
	factor := 1.0
	if from != unit && !counted {
		var ok bool
		if factor, ok = factors[[2]string{from, unit}]; !ok {
			t.Errorf("%s: no conversion from %q to %q", key, from, unit)
			return
		}
	}
	want *= factor
	got, err := strconv.ParseFloat(strings.ReplaceAll(shown, ",", ""), 64)
	if err != nil {
		t.Errorf("%s: %q is no number", key, shown)
		return
	}
	place := lastPlace(shown)
	if u, ok := uncertainty(row, col, factor); ok && !spoken {
		digits := math.Pow(10, math.Floor(math.Log10(roundTo2(u)))-1)
		if place > digits*1.0001 || place < digits*0.9999 && digits <= 1 {
			t.Errorf("%s: %s = %s ends at %g, u %g wants %g", key, col, shown, place, u, digits)
		}
		place = digits
	} else if want != 0 && !counted {
		place = max(place, math.Pow(10, math.Floor(math.Log10(math.Abs(want)))-1)) // no u: two digits or three
	}
	if math.Abs(got-want) > place/2*1.00001+1e-12 {
		t.Errorf("%s: %s is shown as %s, the table has %g %s", key, col, shown, want, unit)
	}
}

// uncertainty is that by which a number is rounded, where its row has one.
func uncertainty(row map[string]string, col string, factor float64) (float64, bool) {
	number := func(name string) (float64, bool) {
		v, err := strconv.ParseFloat(row[name], 64)
		return v * factor, err == nil
	}
	switch {
	case slices.Contains([]string{"rate_mm_h", "u_rate_mm_h", "infiltration_mm_h"}, col):
		u, ok := number("u_rate_mm_h")
		return u, ok && u > 0
	case !slices.Contains([]string{"value", "low", "high", "u"}, col):
		return 0, false
	}
	if u, ok := number("u"); ok {
		return u, u > 0
	}
	low, ok1 := number("low")
	high, ok2 := number("high")
	if _, has := row["u"]; !has && ok1 && ok2 && high > low {
		return (high - low) / 4, true
	}
	u, ok := number("u_measurement")
	return u, ok && u > 0
}

func roundTo2(u float64) float64 {
	v, _ := strconv.ParseFloat(strconv.FormatFloat(u, 'e', 1, 64), 64)
	return v
}

// lastPlace is the value of the last digit of a written number.
func lastPlace(s string) float64 {
	if _, decimals, ok := strings.Cut(s, "."); ok {
		return math.Pow10(-len(decimals))
	}
	return 1
}

// Attribute is an attribute of an element.
func Attribute(n *html.Node, name string) (string, bool) {
	for _, a := range n.Attr {
		if a.Key == name {
			return a.Val, true
		}
	}
	return "", false
}

// Text is the text of an element.
func Text(n *html.Node) string {
	var b strings.Builder
	if n.Type == html.TextNode {
		b.WriteString(n.Data)
	}
	for d := range n.Descendants() {
		if d.Type == html.TextNode {
			b.WriteString(d.Data)
		}
	}
	return b.String()
}
