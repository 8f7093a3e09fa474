package fit

import (
	"encoding/json"
	"fmt"
	"maps"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// The certified nonlinear regression problems of NIST's Statistical Reference
// Datasets (public domain, www.itl.nist.gov/div898/strd) in
// testdata/reference/statistics, whose README gives the format. A folder of the
// same format can be read instead by naming it in SHEETWASH_REFERENCE.
const (
	certifiedFolder = "../../../testdata/reference/statistics"
	certifiedFamily = "nist_nonlinear"
)

type certified struct {
	ID, Family string
	Input      map[string]any
	Options    struct {
		Model          string
		Start1, Start2 []float64
	}
	Expected struct {
		Params    []float64
		StdErrors []float64 `json:"std_errors"`
		RSS       float64
		SD        float64 `json:"residual_sd"`
		DF, N     int
	}
	Tolerance map[string]any
}

// Digits that a fit must agree in, of the parameters and of their standard
// errors; a sum of squares below noSum is one that doubles do not hold.
const (
	parameterDigits, errorDigits = 6, 5
	noSum                        = 1e-20
)

func TestCertifiedProblems(t *testing.T) {
	folder := certifiedFolder
	if other := os.Getenv("SHEETWASH_REFERENCE"); other != "" {
		folder = other
	}
	ran := 0
	for _, file := range referenceFiles(t, folder, certifiedFamily) {
		b, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		var cases []certified
		if err := json.Unmarshal(b, &cases); err != nil {
			t.Fatalf("%s: %v", file, err)
		}
		for _, c := range cases {
			if c.Family != certifiedFamily {
				continue
			}
			ran++
			t.Run(c.ID, func(t *testing.T) { checkCertified(t, c) })
		}
	}
	if ran == 0 {
		t.Fatalf("no case of %s in %s", certifiedFamily, folder)
	}
}

// referenceFiles returns the files of a family in a folder and the folders in it.
func referenceFiles(t *testing.T, folder, family string) []string {
	t.Helper()
	var files []string
	for _, pattern := range []string{family + "*.json", filepath.Join("*", family+"*.json")} {
		found, err := filepath.Glob(filepath.Join(folder, pattern))
		if err != nil {
			t.Fatal(err)
		}
		files = append(files, found...)
	}
	return files
}

func checkCertified(t *testing.T, c certified) {
	p, err := problemOf(c)
	if err != nil {
		t.Fatal(err)
	}
	for n, start := range [][]float64{c.Options.Start1, c.Options.Start2} {
		m, err := p.Fit(start)
		if err != nil || !m.Settled {
			t.Errorf("start %d: %v, settled %v", n+1, err, m.Settled)
			continue
		}
		digits := agreement(m.Parameters, c.Expected.Params)
		if digits < parameterDigits {
			t.Errorf("start %d: parameters %v, certified %v", n+1, m.Parameters, c.Expected.Params)
		}
		if c.Expected.RSS < noSum {
			// Residuals of 1e-13, of readings that doubles hold to 2e-16: the sum has three
			// digits, and more in TestSumThatDoublesDoNotHold. What the standard errors are of it does not
			// depend on the sum.
			if m.RSS > noSum {
				t.Errorf("start %d: sum of squares %v, want at most %v", n+1, m.RSS, noSum)
			}
			inUnits := agreement(over(m.StandardErrors, m.RSS/float64(c.Expected.DF)), over(c.Expected.StdErrors, c.Expected.SD*c.Expected.SD))
			if inUnits < errorDigits {
				t.Errorf("start %d: standard errors %v per unit of error, certified %v", n+1, m.StandardErrors, c.Expected.StdErrors)
			}
			t.Logf("start %d: parameters to %.1f digits, standard errors over the residual deviation to %.1f", n+1, digits, inUnits)
			continue
		}
		inErrors := agreement(m.StandardErrors, c.Expected.StdErrors)
		if inErrors < errorDigits {
			t.Errorf("start %d: standard errors %v, certified %v", n+1, m.StandardErrors, c.Expected.StdErrors)
		}
		inSum := agreement([]float64{m.RSS, math.Sqrt(m.RSS / float64(c.Expected.DF))}, []float64{c.Expected.RSS, c.Expected.SD})
		if inSum < parameterDigits {
			t.Errorf("start %d: sum of squares %v, certified %v", n+1, m.RSS, c.Expected.RSS)
		}
		t.Logf("start %d: parameters to %.1f digits, standard errors to %.1f, sum of squares to %.1f", n+1, digits, inErrors, inSum)
	}
}

// over returns values over the root of a variance.
func over(values []float64, variance float64) []float64 {
	out := make([]float64, len(values))
	for n, v := range values {
		out[n] = v / math.Sqrt(variance)
	}
	return out
}

// agreement returns the number of digits in which the worst of some values agrees
// with what is certified (to 11 digits).
func agreement(got, want []float64) float64 {
	if len(got) != len(want) {
		return 0
	}
	digits := 11.0
	for n := range want {
		d := math.Abs(got[n]-want[n]) / math.Abs(want[n])
		if d > 1e-11 || math.IsNaN(d) {
			digits = math.Min(digits, -math.Log10(d))
		}
		if math.IsNaN(digits) {
			return 0
		}
	}
	return digits
}

// problemOf reads the formula, "log(y) = ..." among them, and the readings.
func problemOf(c certified) (*Nonlinear, error) {
	formula, response := c.Options.Model, "y"
	if left, right, ok := strings.Cut(formula, "="); ok {
		response, formula = strings.TrimSpace(left), strings.TrimSpace(right)
	}
	rows, names := readings(c.Input)
	y, _ := c.Input["y"].([]any)
	k := len(c.Expected.Params)
	if len(y) != c.Expected.N || c.Expected.DF != len(y)-k {
		return nil, fmt.Errorf("%d readings and %d parameters, want n %d and df %d", len(y), k, c.Expected.N, c.Expected.DF)
	}
	for n := range k {
		names = append(names, fmt.Sprintf("b%d", n+1))
	}
	model, err := parse(formula, names)
	if err != nil {
		return nil, err
	}
	transform, err := parse(response, []string{"y"})
	if err != nil {
		return nil, err
	}
	p := &Nonlinear{Y: make([]float64, len(y))}
	for n, v := range y {
		p.Y[n] = transform([]float64{v.(float64)})
	}
	values := make([]float64, len(names))
	p.Model = func(reading int, b []float64) float64 {
		copy(values[copy(values, rows[reading]):], b)
		return model(values)
	}
	return p, nil
}

// readings returns the predictors, row by row, and their names: x, or x1, x2
// and so on where a row of x holds several.
func readings(input map[string]any) (rows [][]float64, names []string) {
	for _, name := range slices.Sorted(maps.Keys(input)) {
		column, ok := input[name].([]any)
		if !ok || name == "y" || len(column) == 0 {
			continue
		}
		if rows == nil {
			rows = make([][]float64, len(column))
		}
		several, _ := column[0].([]any)
		if several == nil {
			names = append(names, name)
		}
		for k := range several {
			names = append(names, fmt.Sprintf("%s%d", name, k+1))
		}
		for n, v := range column {
			row, ok := v.([]any)
			if !ok {
				row = []any{v}
			}
			for _, x := range row {
				number, _ := x.(float64)
				rows[n] = append(rows[n], number)
			}
		}
	}
	return rows, names
}
