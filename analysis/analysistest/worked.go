package analysistest

import (
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"
)

// Example is a row of testdata/reference/worked_examples.csv.
type Example struct {
	ID, Quantity, Unit, Source string
	Expected, Tolerance        float64
	inputs                     map[string]any
}

// Examples returns the worked examples of a quantity. It fails the test where
// the file cannot be read or has none.
func Examples(t testing.TB, quantity string) []Example {
	t.Helper()
	var out []Example
	for _, e := range AllExamples(t, Path(t, "testdata", "reference", "worked_examples.csv")) {
		if e.Quantity == quantity {
			out = append(out, e)
		}
	}
	if len(out) == 0 {
		t.Fatalf("no worked example of %s", quantity)
	}
	return out
}

// AllExamples returns the rows of a file of worked examples. It fails the test
// where the file cannot be read or has none.
func AllExamples(t testing.TB, path string) []Example {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []Example
	for _, r := range rows[min(1, len(rows)):] {
		e := Example{ID: r[0], Quantity: r[1], Unit: r[4], Source: r[6], Expected: number(t, r[3]), Tolerance: number(t, r[5])}
		if err := json.Unmarshal([]byte(r[2]), &e.inputs); err != nil {
			t.Fatalf("%s: inputs: %v", e.ID, err)
		}
		out = append(out, e)
	}
	if len(out) == 0 {
		t.Fatalf("%s: no worked examples", path)
	}
	return out
}

// Path returns a path below the root of the module.
func Path(t testing.TB, parts ...string) string {
	t.Helper()
	dir, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	for {
		if _, err := os.Stat(filepath.Join(dir, "go.mod")); err == nil {
			return filepath.Join(append([]string{dir}, parts...)...)
		}
		up := filepath.Dir(dir)
		if up == dir {
			t.Fatal("no go.mod above the test")
		}
		dir = up
	}
}

func number(t testing.TB, text string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(text, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// Number returns a numeric input.
func (e Example) Number(t testing.TB, name string) float64 {
	t.Helper()
	v, ok := e.inputs[name].(float64)
	if !ok {
		t.Fatalf("%s: no number %q in the inputs", e.ID, name)
	}
	return v
}

// Optional returns a numeric input, or def where there is none of the names.
func (e Example) Optional(def float64, names ...string) float64 {
	for _, name := range names {
		if v, ok := e.inputs[name].(float64); ok {
			return v
		}
	}
	return def
}

// Has reports whether an input stands there.
func (e Example) Has(name string) bool { return e.inputs[name] != nil }

// Bool returns an input that is true or false, def where there is none.
func (e Example) Bool(name string, def bool) bool {
	if v, ok := e.inputs[name].(bool); ok {
		return v
	}
	return def
}

// Numbers returns an input that is a list of numbers.
func (e Example) Numbers(t testing.TB, name string) []float64 {
	t.Helper()
	list, ok := e.inputs[name].([]any)
	if !ok {
		t.Fatalf("%s: no list %q in the inputs", e.ID, name)
	}
	out := make([]float64, len(list))
	for i, v := range list {
		if out[i], ok = v.(float64); !ok {
			t.Fatalf("%s: %q holds %v", e.ID, name, v)
		}
	}
	return out
}

// Text returns an input that is a word.
func (e Example) Text(t testing.TB, name string) string {
	t.Helper()
	v, ok := e.inputs[name].(string)
	if !ok {
		t.Fatalf("%s: no word %q in the inputs", e.ID, name)
	}
	return v
}

// Check compares a value with the published one, within the source's tolerance.
func (e Example) Check(t testing.TB, got float64, err error) {
	t.Helper()
	if err != nil || !(math.Abs(got-e.Expected) <= e.Tolerance) {
		t.Errorf("%s: %s = %.10g %s, %v; want %.10g +- %.2g (%s)", e.ID, e.Quantity, got, e.Unit, err, e.Expected, e.Tolerance, e.Source)
	}
}
