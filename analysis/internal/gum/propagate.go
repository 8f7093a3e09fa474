package gum

import "math"

// Input is one quantity that a model takes.
type Input struct {
	Name, Unit string
	Value, U   float64 // u: standard uncertainty, 0 for an exact number
	DF         float64 // degrees of freedom of u; 0: known
	// Common marks an error that other values share, such as the intensity of all
	// plots of a run: it never shrinks with their number.
	Common bool
}

// Model computes a quantity from the values of its inputs. It reports false
// where these have no answer. It must not keep or change the slice.
type Model func(x []float64) (y float64, ok bool)

// Result is a value with its uncertainty, propagated through a model.
type Result struct {
	Value, U  float64
	UCommon   float64 // part of U that comes from common inputs
	DF        float64 // effective degrees of freedom; 0: known
	Low, High float64 // interval at the level that was asked for
	// Simulated says that the model is not near linear within the errors, so that
	// U, Low and High come from draws; see Simulate.
	Simulated bool
}

// nonLinear is the share of the half width of the interval that the curvature of
// a model may move its ends by before draws take the place of first-order
// propagation. Both ends moved one way by a tenth leave 94.5 % of 95 %.
const nonLinear = 0.1

// fine is the step of the differences that stand for slopes, in u.
const fine = 1.0 / 64

// maxInputs bounds the number of inputs of a model, so that propagation needs no
// memory of its own.
const (
	maxInputs = 12
	rounding  = 1e-12 // share of the value that differences of it may be off by
)

// Propagate returns the value of a model with its standard uncertainty and the
// interval at a level.
//
//	u(y)^2 = sum (c_i u_i)^2,  c_i = (f(x_i + h) - f(x_i - h)) / (2 h),  h = u_i / 64
//
// Where the curvature moves the ends of the interval by less than 10 % of its half
// width,
//
//	sum |f(x_i + k u_i) + f(x_i - k u_i) - 2 f(x)| / 2 < 0.1 k u(y),
//
// the interval is that of Within; else, and where the model has no answer for a
// value k u_i away, u and interval are those of Simulate. Inputs are independent.
// It reports false where the model has no value at all, or has more than twelve inputs.
// Source: [GUM2008] 5.1.2 with 5.1.3 note 2, for finite differences; the comparison of ends
// after [JCGM101] 8.1.
func Propagate(f Model, in []Input, level float64, b Bounds) (Result, bool) {
	var room [maxInputs]float64
	if len(in) > maxInputs {
		return Result{}, false
	}
	x := room[:len(in)]
	for i := range in {
		x[i] = in[i].Value
	}
	y, ok := f(x)
	if !ok || math.IsNaN(y) || math.IsInf(y, 0) {
		return Result{}, false
	}
	r := Result{Value: y}
	k := Coverage(level, 0)
	var squares, common, bend, fourths float64
	for i := range in {
		if in[i].U == 0 {
			continue
		}
		up, down, far, okAll := around(f, x, i, in[i].U, k)
		if !okAll {
			return Simulate(f, in, level)
		}
		c := (up - down) / (2 * fine)
		squares += c * c
		bend += math.Abs(far-2*y) / 2
		if in[i].Common {
			common += c * c
		}
		if in[i].DF > 0 {
			fourths += c * c * c * c / in[i].DF
		}
	}
	r.U, r.UCommon = math.Sqrt(squares), math.Sqrt(common)
	if bend > nonLinear*k*r.U+rounding*math.Abs(y) {
		return Simulate(f, in, level)
	}
	if fourths > 0 {
		r.DF = squares * squares / fourths
	}
	r.Low, r.High = Within(y, r.U, r.DF, level, b)
	return r, true
}

// around evaluates a model a step of u and k u to either side of input i. far is the sum
// of the two far values.
func around(f Model, x []float64, i int, u, k float64) (up, down, far float64, ok bool) {
	at := x[i]
	ok = true
	eval := func(v float64) float64 {
		x[i] = v
		y, known := f(x)
		ok = ok && known && !math.IsNaN(y) && !math.IsInf(y, 0)
		return y
	}
	up, down = eval(at+fine*u), eval(at-fine*u)
	far = eval(at+k*u) + eval(at-k*u)
	x[i] = at
	return up, down, far, ok
}

// PropagateLog is Propagate on the scale of logarithms, for products, ratios and
// powers of positive quantities: there they are near linear where they are not on
// their own scale.
//
//	low, high = y exp(-+ k u(ln y)),  u(y) = y u(ln y)
//
// It reports false where the model has no positive value.
// Source: [GUM2008] 5.1.6 note 1.
func PropagateLog(f Model, in []Input, level float64) (Result, bool) {
	r, ok := Propagate(func(x []float64) (float64, bool) {
		y, ok := f(x)
		return math.Log(y), ok && y > 0
	}, in, level, Unbounded())
	if !ok {
		return Result{}, false
	}
	y := math.Exp(r.Value)
	r.Value, r.U, r.UCommon, r.Low, r.High = y, y*r.U, y*r.UCommon, math.Exp(r.Low), math.Exp(r.High)
	return r, true
}
