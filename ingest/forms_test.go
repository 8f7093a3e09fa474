package ingest_test

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"sheetwash/analysis/experiment"
	"sheetwash/ingest"
	"sheetwash/ingest/columnar"
)

// quantity column of a table: header without unit, and its numbers in SI units.
type numbers struct {
	name, si, us string  // name, unit in SI, unit in US units
	perUS        float64 // SI units in one US unit
	v            []float64
	missing      []bool
}

// sheet is one table of a generated dataset: text columns first.
type sheet struct {
	name    string
	texts   map[string][]string
	order   []string
	numbers []numbers
}

func (s *sheet) rows() int { return len(s.texts[s.order[0]]) }

// csv writes the sheet with a delimiter and decimal mark, in SI or US units.
func (s *sheet) csv(delimiter, mark string, us bool) string {
	var b strings.Builder
	head := append([]string{}, s.order...)
	for _, n := range s.numbers {
		unit := n.si
		if us {
			unit = n.us
		}
		head = append(head, n.name+" ["+unit+"]")
	}
	b.WriteString(strings.Join(head, delimiter) + "\n")
	for i := range s.rows() {
		var cells []string
		for _, c := range s.order {
			cells = append(cells, s.texts[c][i])
		}
		for _, n := range s.numbers {
			v := n.v[i]
			if us {
				v /= n.perUS
			}
			cell := strings.Replace(strconv.FormatFloat(v, 'g', -1, 64), ".", mark, 1)
			if n.missing[i] {
				cell = ""
			}
			cells = append(cells, cell)
		}
		b.WriteString(strings.Join(cells, delimiter) + "\n")
	}
	return b.String()
}

// columnar returns the sheet as a table of typed columns.
func (s *sheet) columnar() *columnar.OutTable {
	out := &columnar.OutTable{}
	for _, c := range s.order {
		out.Columns = append(out.Columns, columnar.OutColumn{Name: c, Text: s.texts[c]})
	}
	for _, n := range s.numbers {
		out.Columns = append(out.Columns, columnar.OutColumn{Name: n.name, Unit: n.si, Kind: columnar.OutFloat, Float: n.v, Null: n.missing})
	}
	return out
}

// drawSeason draws a small dataset of one to three runs.
func drawSeason(t *rapid.T) []*sheet {
	runs := &sheet{name: "runs", texts: map[string][]string{}, order: []string{"run", "event"}}
	plots := &sheet{name: "plots", texts: map[string][]string{}, order: []string{"run", "plot", "treatment"}}
	samples := &sheet{name: "samples", texts: map[string][]string{}, order: []string{"run", "plot", "stream"}}
	add := func(s *sheet, cells ...string) {
		for i, c := range s.order {
			s.texts[c] = append(s.texts[c], cells[i])
		}
	}
	number := func(s *sheet, name, si, us string, perUS float64) func(v float64, missing bool) {
		s.numbers = append(s.numbers, numbers{name: name, si: si, us: us, perUS: perUS})
		k := len(s.numbers) - 1
		return func(v float64, missing bool) {
			s.numbers[k].v = append(s.numbers[k].v, v)
			s.numbers[k].missing = append(s.numbers[k].missing, missing)
		}
	}
	// Exact definitions: the inch of 25.4 mm, the foot of 0.3048 m, the pound per
	// square inch of 6.894757293168361 kPa, the US fluid ounce of 29.5735295625 mL
	// and the avoirdupois ounce of 28.349523125 g.
	intensity := number(runs, "intensity", "mm/h", "in/h", 25.4)
	rain := number(runs, "rain_duration", "min", "h", 60)
	pressure := number(runs, "pressure", "kPa", "psi", 6.894757293168361)
	area := number(plots, "area", "m2", "ft2", 0.3048*0.3048)
	onset := number(plots, "runoff_start", "min", "s", 1.0/60)
	slope := number(plots, "slope", "1", "%", 0.01)
	start := number(samples, "start", "min", "s", 1.0/60)
	end := number(samples, "end", "min", "s", 1.0/60)
	volume := number(samples, "volume", "mL", "fl oz", 29.5735295625)
	sediment := number(samples, "sediment_mass", "g", "oz", 28.349523125)
	value := func(low, high float64) float64 {
		return math.Round(rapid.Float64Range(low, high).Draw(t, "v")*1000) / 1000
	}
	for r := range rapid.IntRange(1, 3).Draw(t, "runs") {
		run := fmt.Sprintf("R%d", r)
		add(runs, run, "Ashlock Mill")
		intensity(value(20, 120), false)
		rain(30, false)
		pressure(value(20, 80), rapid.Bool().Draw(t, "no pressure"))
		for p := range rapid.IntRange(1, 3).Draw(t, "plots") {
			plot := fmt.Sprintf("P%d%d", r, p)
			add(plots, run, plot, "meadow fescue ley")
			area(value(0.5, 2), false)
			onset(value(0.5, 20), rapid.Bool().Draw(t, "no onset"))
			slope(value(0.001, 0.2), false)
			at := 0.0
			for range rapid.IntRange(0, 5).Draw(t, "bottles") {
				add(samples, run, plot, "runoff")
				start(at, false)
				at += value(0.5, 6)
				end(at, false)
				volume(value(0, 3000), false)
				sediment(value(0, 30), rapid.Bool().Draw(t, "not dried"))
			}
		}
	}
	if len(samples.texts["run"]) == 0 {
		add(samples, "R0", "P00", "runoff")
		start(0, false)
		end(30, false)
		volume(100, false)
		sediment(1, false)
	}
	return []*sheet{runs, plots, samples}
}

// TestFormsAgree: the same data in SI units, in US units, with semicolons and
// decimal commas, as Arrow file and stream and as Parquet give the same dataset,
// to 1e-9 relative.
func TestFormsAgree(t *testing.T) {
	write := func(t *rapid.T, dir string, s *sheet, form string) {
		var b bytes.Buffer
		ext := ".csv"
		var err error
		switch form {
		case "US units":
			b.WriteString(s.csv(",", ".", true))
		case "decimal commas":
			b.WriteString(s.csv(";", ",", false))
		case "tabs":
			ext = ".tsv"
			b.WriteString(s.csv("\t", ".", false))
		case "Arrow file":
			ext, err = ".arrow", columnar.Write(&b, columnar.ArrowFile, s.columnar())
		case "Arrow stream":
			ext, err = ".arrows", columnar.Write(&b, columnar.ArrowStream, s.columnar())
		case "Parquet":
			ext, err = ".parquet", columnar.Write(&b, columnar.Parquet, s.columnar())
		default:
			b.WriteString(s.csv(",", ".", false))
		}
		if err == nil {
			err = os.WriteFile(filepath.Join(dir, s.name+ext), b.Bytes(), 0o644)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	root := t.TempDir()
	forms := []string{"US units", "decimal commas", "tabs", "Arrow file", "Arrow stream"}
	check := func(forms []string) func(t *rapid.T) {
		return func(t *rapid.T) {
			sheets := drawSeason(t)
			var want []experiment.Run
			for _, form := range forms {
				dir, err := os.MkdirTemp(root, "")
				if err != nil {
					t.Fatal(err)
				}
				for _, s := range sheets {
					write(t, dir, s, form)
				}
				sources, _, err := ingest.Find([]string{dir}, ingest.FindOptions{})
				if err != nil || len(sources) != 1 {
					t.Fatal(err, len(sources))
				}
				o, err := ingest.Read(context.Background(), sources[0], ingest.Options{Workers: 2})
				if err != nil {
					t.Fatal(err)
				}
				if o.Dataset == nil {
					t.Fatalf("%s refused:%s", form, list(o.Issues))
				}
				if want == nil {
					want = o.Dataset.Runs()
				} else if where := unlike(reflect.ValueOf(want), reflect.ValueOf(o.Dataset.Runs()), "runs"); where != "" {
					t.Fatalf("%s: %s", form, where)
				}
				os.RemoveAll(dir)
			}
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		check([]string{"SI units", rapid.SampledFrom(forms).Draw(t, "form")})(t)
	})
	// Parquet is decoded in a process of its own, which takes longer: one draw.
	once := false
	rapid.Check(t, func(t *rapid.T) {
		if !once {
			once = true
			check([]string{"SI units", "Parquet"})(t)
		}
	})
}

// unlike compares two values, numbers to 1e-9 relative, and returns where they
// differ; places in files are left aside.
func unlike(a, b reflect.Value, at string) string {
	switch a.Kind() {
	case reflect.Float64:
		x, y := a.Float(), b.Float()
		if math.Abs(x-y) > 1e-9*math.Max(math.Abs(x), math.Abs(y)) {
			return fmt.Sprintf("%s: %v and %v", at, x, y)
		}
	case reflect.Slice:
		if a.Len() != b.Len() {
			return fmt.Sprintf("%s: %d and %d", at, a.Len(), b.Len())
		}
		for i := range a.Len() {
			if where := unlike(a.Index(i), b.Index(i), fmt.Sprintf("%s[%d]", at, i)); where != "" {
				return where
			}
		}
	case reflect.Struct:
		if a.Type() == reflect.TypeFor[experiment.Place]() {
			return ""
		}
		for i := range a.NumField() {
			if where := unlike(a.Field(i), b.Field(i), at+"."+a.Type().Field(i).Name); where != "" {
				return where
			}
		}
	case reflect.Pointer:
	default:
		if !a.Equal(b) {
			return fmt.Sprintf("%s: %v and %v", at, a, b)
		}
	}
	return ""
}
