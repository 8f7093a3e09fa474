package gum_test

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"

	"sheetwash/analysis/analysistest"
	"sheetwash/analysis/internal/gum"
)

func TestWorkedExamples(t *testing.T) {
	for _, e := range analysistest.Examples(t, "u_triangular") {
		e.Check(t, gum.Triangular(e.Number(t, "half_width")), nil)
	}
	for _, e := range analysistest.Examples(t, "u_resolution") {
		e.Check(t, gum.Resolution(e.Number(t, "step")), nil)
	}
	for _, e := range analysistest.Examples(t, "combined_u") {
		e.Check(t, gum.Combined(e.Numbers(t, "u")...), nil)
	}
	for _, e := range analysistest.Examples(t, "t_quantile") {
		e.Check(t, gum.Coverage(e.Number(t, "p_two_sided"), e.Number(t, "df")), nil)
	}
}

// JCGM 100:2008, 4.3.7 note 1 and 4.4.5: half width 4 Cel, u = 2.3 Cel.
// JCGM 100:2008, H.1.6: parts of 25, 9.7, 2.9 and 16.6 nm with 18, 25.6, 50 and
// 2 degrees of freedom combine to 16.7, which it truncates to 16.
func TestGuide(t *testing.T) {
	if u := gum.Rectangular(4); math.Abs(u-2.3) > 0.05 {
		t.Errorf("Rectangular(4) = %v, want 2.3", u)
	}
	u := []float64{25, 9.7, 2.9, 16.6}
	df := gum.WelchSatterthwaite(gum.Combined(u...), u, []float64{18, 25.6, 50, 2})
	if math.Floor(df) != 16 {
		t.Errorf("effective degrees of freedom %v, want 16 after truncation", df)
	}
	if df := gum.EffectiveDF(2, 0, 3); df != 0 {
		t.Errorf("nothing estimated: %v degrees of freedom, want 0 (known)", df)
	}
	if k := gum.Coverage(1, 0); k != 0 {
		t.Errorf("Coverage(1) = %v, want 0", k)
	}
}

// The factor agrees with the inverse of the distribution function over the levels and
// degrees of freedom that occur.
func TestCoverageIsTheQuantile(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		df := rapid.Float64Range(0.5, 999).Draw(t, "df")
		level := rapid.Float64Range(0.5, 0.999).Draw(t, "level")
		want := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: df}.Quantile((1 + level) / 2)
		if got := gum.Coverage(level, df); math.Abs(got-want) > 1e-9*want {
			t.Fatalf("k = %v, want %v", got, want)
		}
	})
}

// Half a normal distribution has its quantile p at z((1+p)/2): a value on
// or barely above its bound of 0 with u = 1 gives 0 to z(0.975) = 1.959964 (closed form). A
// value of one u above it keeps Phi(1) = 0.841345 of the distribution: high is at
// z(0.158655 + 0.95 x 0.841345) = z(0.957933) = 1.727185 above it.
func TestWithinAtBound(t *testing.T) {
	for _, tt := range []struct{ value, low, high float64 }{{0, 0, 1.959964}, {1e-12, 0, 1.959964}, {1, 0, 2.727185}} {
		low, high := gum.Within(tt.value, 1, 0, 0.95, gum.NonNegative())
		if math.Abs(low-tt.low) > 1e-5 || math.Abs(high-tt.high) > 1e-5 {
			t.Errorf("%v: interval %v to %v, want %v to %v", tt.value, low, high, tt.low, tt.high)
		}
	}
}

func TestWithin(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.Float64Range(-0.5, 1.5).Draw(t, "value")
		u := rapid.Float64Range(1e-6, 0.5).Draw(t, "u")
		level := rapid.Float64Range(0.5, 0.999).Draw(t, "level")
		low, high := gum.Within(v, u, 0, level, gum.Share())
		if !(low < high) || math.IsNaN(low) || math.IsInf(high, 0) {
			t.Fatalf("interval %v to %v", low, high)
		}
		if !(low <= v && v <= high) {
			t.Fatalf("interval %v to %v is beside %v", low, high, v)
		}
		if v >= 0 && v <= 1 && !(low >= 0 && high <= 1) {
			t.Fatalf("interval %v to %v of %v leaves [0, 1]", low, high, v)
		}
		k := gum.Coverage(level, 0)
		if v > 6*u && 1-v > 6*u && math.Abs(high-v-k*u) > 1e-12 {
			t.Fatalf("far from the bounds the interval is %v, want %v", high-v, k*u)
		}
		if narrow, _ := gum.Within(v, u, 0, level, gum.Unbounded()); math.Abs(narrow-(v-k*u)) > 1e-12 {
			t.Fatalf("without bounds low is %v, want %v", narrow, v-k*u)
		}
	})
}

func BenchmarkCoverage(b *testing.B) {
	for b.Loop() {
		gum.Coverage(0.95, 28)
	}
}
