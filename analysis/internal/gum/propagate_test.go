package gum_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"sheetwash/analysis/internal/gum"
)

func near(t *testing.T, name string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s = %.10g, want %.10g +- %.2g", name, got, want, tol)
	}
}

// JCGM 100:2008, H.2: V = 4.9990 V, I = 19.661 mA; here without their
// correlation. R = V/I = 254.26 ohm; u(V)/V = 0.0032/4.9990 and u(I)/I = 0.0095/19.661 give
// u(R) = 254.26 x sqrt(0.00064013^2 + 0.00048319^2) = 0.20392 ohm (worked by hand).
func TestPropagateRatio(t *testing.T) {
	ratio := func(x []float64) (float64, bool) { return 1000 * x[0] / x[1], x[1] != 0 }
	in := []gum.Input{{Name: "V", Value: 4.9990, U: 0.0032}, {Name: "I", Value: 19.661, U: 0.0095, Common: true}}
	r, ok := gum.Propagate(ratio, in, 0.95, gum.Unbounded())
	if !ok || r.Simulated {
		t.Fatalf("%+v %v", r, ok)
	}
	near(t, "R", r.Value, 254.260, 5e-4)
	near(t, "u(R)", r.U, 0.20392, 2e-4)
	near(t, "common part", r.UCommon, 254.26*0.0095/19.661, 1e-4)
	near(t, "half width", r.High-r.Value, 1.959964*r.U, 1e-6)
	b, ok := gum.NewBudget(ratio, in)
	if !ok || len(b.Lines) != 2 {
		t.Fatal(b, ok)
	}
	near(t, "budget in quadrature", b.InQuadrature(), r.U, 1e-9)
	near(t, "value of the budget", b.Value, r.Value, 0)
	near(t, "sensitivity of V", b.Lines[0].Sensitivity, 1000/19.661, 1e-6)
}

// JCGM 101:2008, 9.4: mass-loss-like quadratic delta = X1^2 + X2^2 about (0, 0) with u
// = 0.005: first order gives u = 0, while the distribution is exponential-like with mean
// 2 u^2 = 50e-6, standard deviation 2 u^2 = 50e-6 and 95 % below 2 u^2 ln 20 = 149.8e-6.
// The central interval ends at -2 u^2 ln(0.975) = 1.266e-6 and -2 u^2 ln(0.025) = 184.4e-6
// (closed form of the chi-square with two degrees); it is drawn out to the value, 0.
func TestSimulateQuadratic(t *testing.T) {
	f := func(x []float64) (float64, bool) { return x[0]*x[0] + x[1]*x[1], true }
	in := []gum.Input{{Value: 0, U: 0.005}, {Value: 0, U: 0.005}}
	r, ok := gum.Propagate(f, in, 0.95, gum.Unbounded())
	if !ok || !r.Simulated {
		t.Fatalf("%+v %v", r, ok)
	}
	near(t, "u", r.U, 50e-6, 2e-6)
	near(t, "low", r.Low, 0, 0)
	near(t, "high", r.High, 184.4e-6, 6e-6)
}

// exp(x) of a normal x: the interval is exp(x -+ 1.96 u) exactly (a monotone model keeps its
// quantiles), and u = sqrt(exp(u^2) - 1) exp(u^2 / 2) for x = 0.
func TestSimulateExponential(t *testing.T) {
	f := func(x []float64) (float64, bool) { return math.Exp(x[0]), true }
	r, ok := gum.Propagate(f, []gum.Input{{Value: 0, U: 0.5, Common: true}}, 0.95, gum.Unbounded())
	if !ok || !r.Simulated {
		t.Fatalf("%+v %v", r, ok)
	}
	near(t, "low", r.Low, math.Exp(-1.959964*0.5), 0.003)
	near(t, "high", r.High, math.Exp(1.959964*0.5), 0.02)
	near(t, "u", r.U, math.Sqrt(math.Expm1(0.25))*math.Exp(0.125), 0.01)
	near(t, "common part", r.UCommon, r.U, 1e-12)
	again, _ := gum.Propagate(f, []gum.Input{{Value: 0, U: 0.5, Common: true}}, 0.95, gum.Unbounded())
	if again != r {
		t.Error("the same draws give another result")
	}
}

// Half of the draws of a value on the bound of its model are impossible: what is
// left is half a normal, whose 2.5 and 97.5 % points are z(0.5125) = 0.031338 and z(0.9875) =
// 2.241403; the interval is drawn out to the value, 0.
func TestSimulateAtBound(t *testing.T) {
	f := func(x []float64) (float64, bool) { return x[0], x[0] >= 0 }
	r, ok := gum.Propagate(f, []gum.Input{{Value: 0, U: 1}}, 0.95, gum.NonNegative())
	if !ok || !r.Simulated {
		t.Fatalf("%+v %v", r, ok)
	}
	near(t, "low", r.Low, 0, 0)
	near(t, "high", r.High, 2.241403, 0.02)
	none := func(x []float64) (float64, bool) { return 0, false }
	if _, ok := gum.Propagate(none, []gum.Input{{U: 1}}, 0.95, gum.Unbounded()); ok {
		t.Error("a model without an answer has a value")
	}
	if _, ok := gum.NewBudget(none, nil); ok {
		t.Error("a model without an answer has a budget")
	}
	if _, ok := gum.Propagate(f, make([]gum.Input, 13), 0.95, gum.Unbounded()); ok {
		t.Error("more inputs than there is room for")
	}
}

// A linear model: propagation is exact, its budget in quadrature makes u, and
// another unit of the value changes nothing but the number.
func TestPropagateLinear(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 6).Draw(t, "inputs")
		c := make([]float64, n)
		in := make([]gum.Input, n)
		var y, squares float64
		for i := range in {
			c[i] = rapid.Float64Range(0.01, 5).Draw(t, "c") * rapid.SampledFrom([]float64{-1, 1}).Draw(t, "sign")
			in[i] = gum.Input{Value: rapid.Float64Range(-10, 10).Draw(t, "x"), U: rapid.Float64Range(1e-3, 2).Draw(t, "u")}
			y += c[i] * in[i].Value
			squares += c[i] * c[i] * in[i].U * in[i].U
		}
		scale := rapid.Float64Range(0.01, 100).Draw(t, "unit")
		model := func(f float64) gum.Model {
			return func(x []float64) (float64, bool) {
				var s float64
				for i := range x {
					s += c[i] * x[i]
				}
				return f * s, true
			}
		}
		r, ok := gum.Propagate(model(1), in, 0.95, gum.Unbounded())
		if !ok || r.Simulated || math.Abs(r.Value-y) > 1e-9 || math.Abs(r.U-math.Sqrt(squares)) > 1e-8*(1+r.U) {
			t.Fatalf("%+v, want %v and %v", r, y, math.Sqrt(squares))
		}
		b, _ := gum.NewBudget(model(1), in)
		if math.Abs(b.U-r.U) > 1e-8*(1+r.U) {
			t.Fatalf("budget %v, u %v", b.U, r.U)
		}
		s, _ := gum.Propagate(model(scale), in, 0.95, gum.Unbounded())
		if math.Abs(s.U-scale*r.U) > 1e-8*scale*(1+r.U) || math.Abs(s.High-scale*r.High) > 1e-7*scale*(1+math.Abs(r.High)) {
			t.Fatalf("in another unit %+v, want %v times %+v", s, scale, r)
		}
	})
}

// y = a / b^2 with u(ln a) = 0.02 and u(ln b) = 0.03: u(ln y) = sqrt(0.02^2 + 0.06^2) = 0.0632456
// (worked by hand); the interval is symmetric in the logarithm.
func TestPropagateLog(t *testing.T) {
	f := func(x []float64) (float64, bool) { return x[0] / (x[1] * x[1]), x[1] != 0 }
	r, ok := gum.PropagateLog(f, []gum.Input{{Value: 50, U: 1}, {Value: 5, U: 0.15, Common: true}}, 0.95)
	if !ok || r.Simulated {
		t.Fatalf("%+v %v", r, ok)
	}
	near(t, "y", r.Value, 2, 1e-12)
	near(t, "u", r.U, 2*0.0632456, 2e-4)
	near(t, "common", r.UCommon, 0.12, 2e-4)
	near(t, "product of the ends", r.Low*r.High, 4, 1e-9)
	if _, ok := gum.PropagateLog(f, []gum.Input{{Value: -1, U: 1}, {Value: 5, U: 1}}, 0.95); ok {
		t.Error("a negative value has a logarithm")
	}
}

func BenchmarkPropagate(b *testing.B) {
	in := []gum.Input{{Value: 30, U: 0.9}, {Value: 15, U: 0.2}, {Value: 1, U: 0.005}}
	f := func(x []float64) (float64, bool) { return x[1] / (x[0] * x[0] * x[2]), true }
	b.ReportAllocs()
	for b.Loop() {
		gum.PropagateLog(f, in, 0.95)
	}
}

func BenchmarkSimulate(b *testing.B) {
	in := []gum.Input{{Value: 30, U: 0.9}, {Value: 15, U: 0.2}}
	f := func(x []float64) (float64, bool) { return x[1] / x[0], true }
	b.ReportAllocs()
	for b.Loop() {
		gum.Simulate(f, in, 0.95)
	}
}
