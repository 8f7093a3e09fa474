package fit

import (
	"encoding/json"
	"errors"
	"math"
	"math/big"
	"os"
	"path/filepath"
	"testing"
)

// bits is the precision of the arithmetic below: 90 digits.
const bits = 300

// bigExp returns exp(x) as the 2^20th power of the series at x/2^20.
func bigExp(x *big.Float) *big.Float {
	const halvings, terms = 20, 20
	small := new(big.Float).SetPrec(bits).SetMantExp(x, -halvings)
	sum, term := big.NewFloat(1).SetPrec(bits), big.NewFloat(1).SetPrec(bits)
	for n := 1; n <= terms; n++ {
		term.Mul(term, small)
		term.Quo(term, new(big.Float).SetInt64(int64(n)))
		sum.Add(sum, term)
	}
	for range halvings {
		sum.Mul(sum, sum)
	}
	return sum
}

// lanczos are the readings of NIST's problem Lanczos1 as the file writes them, to 13 digits, and
// what is certified of it.
type lanczos struct {
	y, x      []*big.Float
	certified certified
}

func readLanczos(t *testing.T) (l lanczos) {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(certifiedFolder, "nonlinear", "nist_nonlinear.json"))
	if err != nil {
		t.Fatal(err)
	}
	var exact []struct {
		ID    string
		Input struct{ X, Y []json.RawMessage }
	}
	var all []certified
	if err := errors.Join(json.Unmarshal(text, &exact), json.Unmarshal(text, &all)); err != nil {
		t.Fatal(err)
	}
	for n, c := range exact {
		if c.ID != "nist-nls-lanczos1" {
			continue
		}
		l.certified = all[n]
		for k := range c.Input.Y {
			y, _, err1 := big.ParseFloat(string(c.Input.Y[k]), 10, bits, big.ToNearestEven)
			x, _, err2 := big.ParseFloat(string(c.Input.X[k]), 10, bits, big.ToNearestEven)
			if err1 != nil || err2 != nil {
				t.Fatal(err1, err2)
			}
			l.y, l.x = append(l.y, y), append(l.x, x)
		}
	}
	if len(l.y) == 0 {
		t.Fatal("no Lanczos1")
	}
	return l
}

// residuals of y = b1 exp(-b2 x) + b3 exp(-b4 x) + b5 exp(-b6 x).
func (l *lanczos) residuals(b []*big.Float) []float64 {
	r := make([]float64, len(l.y))
	for n := range r {
		left := new(big.Float).Copy(l.y[n])
		for k := 0; k < len(b); k += 2 {
			power := new(big.Float).SetPrec(bits).Mul(b[k+1], l.x[n])
			part := new(big.Float).SetPrec(bits).Mul(b[k], bigExp(power.Neg(power)))
			left.Sub(left, part)
		}
		r[n], _ = left.Float64()
	}
	return r
}

// The residuals of Lanczos1 are 1e-13, of readings of 2.5: in doubles their squares have three
// digits. With residuals of 90 digits the same steps, from where the search in doubles ends and
// with its derivatives, reach the certified sum, and the standard errors follow to as many digits.
func TestSumThatDoublesDoNotHold(t *testing.T) {
	l := readLanczos(t)
	p, err := problemOf(l.certified)
	if err != nil {
		t.Fatal(err)
	}
	m, err := p.Fit(l.certified.Options.Start1)
	if err != nil {
		t.Fatal(err)
	}
	b := make([]*big.Float, len(m.Parameters))
	for k, v := range m.Parameters {
		b[k] = big.NewFloat(v).SetPrec(bits)
	}
	j := p.derivatives(m.Parameters)
	for range 12 {
		d, ok := step(j, l.residuals(b), make([]float64, len(b)), 0)
		if !ok {
			t.Fatal("no step")
		}
		for k := range b {
			b[k].Add(b[k], big.NewFloat(d[k]).SetPrec(bits))
		}
	}
	sum := 0.0
	for _, r := range l.residuals(b) {
		sum += r * r
	}
	want := l.certified.Expected
	df := float64(want.DF)
	se := make([]float64, len(b))
	parameters := make([]float64, len(b))
	for k := range b {
		parameters[k], _ = b[k].Float64()
		se[k] = m.StandardErrors[k] / math.Sqrt(m.RSS/df) * math.Sqrt(sum/df)
	}
	inParameters, inErrors, inSum := agreement(parameters, want.Params), agreement(se, want.StdErrors), agreement([]float64{sum}, []float64{want.RSS})
	if inParameters < 10 || inErrors < errorDigits || inSum < parameterDigits {
		t.Errorf("parameters to %.1f digits, standard errors to %.1f, sum of squares to %.1f: %v", inParameters, inErrors, inSum, sum)
	}
	t.Logf("parameters to %.1f digits, standard errors to %.1f, sum of squares to %.1f", inParameters, inErrors, inSum)
}
