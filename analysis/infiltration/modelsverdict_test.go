package infiltration_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"sheetwash/analysis/infiltration"
	"sheetwash/analysis/quantity"
)

// bottles returns rain of 60 mm/h for 30 min with bottles that share it, whose
// infiltration rates are given.
func bottles(u float64, infiltrated ...float64) infiltration.Input {
	in := infiltration.Input{IntensityMMH: 60, RainMin: 30, RanOff: true, OnsetMin: quantity.Some(0)}
	length := 30 / float64(len(infiltrated))
	for n, f := range infiltrated {
		in.Intervals = append(in.Intervals, infiltration.Interval{StartMin: float64(n) * length, EndMin: float64(n+1) * length, RateMMH: 60 - f, U: u})
	}
	return in
}

// of returns the row of a model.
func of(t *testing.T, c infiltration.Comparison, model, name string) infiltration.Parameter {
	t.Helper()
	for _, p := range c.Rows() {
		if p.Model == model && p.Name == name {
			return p
		}
	}
	t.Fatalf("no row %s of %s", name, model)
	return infiltration.Parameter{}
}

// The constant's closed form: the weighted mean and its standard error. The rates do not
// fall and the onset is long ago, so that there is no water in flow to take out.
func TestConstantIsTheMean(t *testing.T) {
	in := bottles(0.5, 19.5, 19.6, 20, 20, 20.3, 20.6)
	in.Intervals[0].U = 1
	for n := range in.Intervals {
		in.Intervals[n].StartMin += 5
		in.Intervals[n].EndMin += 5
	}
	in.RainMin = 35
	c := infiltration.Models(in)
	fc := of(t, c, infiltration.ConstantRate, "fc")
	mean := (19.5/1 + (19.6+20+20+20.3+20.6)/0.25) / (1 + 5/0.25)
	u := 1 / math.Sqrt(1+5/0.25)
	if math.Abs(fc.Value.V-mean) > 1e-9 || math.Abs(fc.U.V-u) > 1e-6 || math.Abs(fc.Low.V-(mean-1.959963985*u)) > 1e-6 {
		t.Errorf("fc %v, u %v, low %v; want %v, %v", fc.Value.V, fc.U.V, fc.Low.V, mean, u)
	}
	// chi2 = sum of squares over the errors; AICc with two parameters, n = 6:
	// 6 ln(chi2/6) + 4 + 2*2*3/3.
	chi2 := 0.0
	for _, iv := range in.Intervals {
		r := (60 - iv.RateMMH - mean) / iv.U
		chi2 += r * r
	}
	if want := 6*math.Log(chi2/6) + 4 + 4; math.Abs(fc.RSS.V-chi2) > 1e-9 || math.Abs(fc.AICc.V-want) > 1e-9 {
		t.Errorf("rss %v, AICc %v; want %v, %v", fc.RSS.V, fc.AICc.V, chi2, want)
	}
}

// The average from the rows of the models, whose interval is that of every form that is not
// excluded, among which a constant rate is not.
func TestAverageFollowsFromTheRows(t *testing.T) {
	in := bottles(1.5, 45, 36, 31, 28, 27, 25, 24, 24.5)
	c := infiltration.Models(in)
	value, sum := 0.0, 0.0
	for _, f := range c.Fits {
		value += f.Weight.V * of(t, c, f.Model, infiltration.CapacityAtEnd).Value.V
		sum += f.Weight.V
	}
	a := c.Average
	if math.Abs(a.Value.V-value) > 1e-9 || math.Abs(sum-1) > 1e-12 || math.Abs(a.U.V-(a.High.V-a.Low.V)/(2*1.959963985)) > 1e-6 {
		t.Errorf("average %v, u %v; want %v", a.Value.V, a.U.V, value)
	}
	given := 0
	for _, f := range c.Fits {
		end := of(t, c, f.Model, infiltration.CapacityAtEnd)
		if excluded := f.Flags.Has(infiltration.FlagFormExcluded); excluded == end.Low.OK || f.Model == infiltration.ConstantRate && !excluded {
			t.Errorf("%s %+v", f.Model, end)
		}
		if end.Low.OK {
			given++
			if end.Low != a.Low || end.High != a.High || end.Value.V < a.Low.V || end.Value.V > a.High.V {
				t.Errorf("%s: %v in %v to %v, the average's %v to %v", f.Model, end.Value, end.Low, end.High, a.Low, a.High)
			}
		}
	}
	if given < 2 {
		t.Errorf("%d forms are not excluded", given)
	}
	in.UIntensity = 2
	if wider := infiltration.Models(in).Average; math.Abs(wider.U.V-math.Hypot(a.U.V, 2)) > 1e-9 || wider.UShared.V != 2 {
		t.Errorf("with an intensity known to 2: u %v, want %v", wider.U.V, math.Hypot(a.U.V, 2))
	}
}

func TestVerdictsOfModels(t *testing.T) {
	t.Run("four bottles carry two parameters and no weights", func(t *testing.T) {
		c := infiltration.Models(bottles(0.5, 40, 30, 26, 24))
		if p := of(t, c, infiltration.PhilipTwoTerm, "S"); !p.Value.OK || p.AICc.OK || p.Weight.OK {
			t.Errorf("philip S %+v", p)
		}
		if p := of(t, c, infiltration.HortonPonding, "k"); p.Value.OK || !p.Flags.Has(infiltration.FlagNotIdentifiable) {
			t.Errorf("horton_ponding k %+v", p)
		}
		if c.Average.Value.OK || !c.Average.Flags.Has(infiltration.FlagNotIdentifiable) {
			t.Errorf("average %+v", c.Average)
		}
	})
	t.Run("the first bottle holds the whole decline", func(t *testing.T) {
		c := infiltration.Models(bottles(0.3, 30, 20, 20.1, 19.9, 20, 20.1, 19.9, 20))
		for _, name := range []string{"f0", "k"} {
			if p := of(t, c, infiltration.HortonPonding, name); p.Value.OK || !p.Flags.Has(infiltration.FlagNotIdentifiable) {
				t.Errorf("%s %+v", name, p)
			}
		}
		if p := of(t, c, infiltration.HortonPonding, "fc"); !p.Value.OK || math.Abs(p.Value.V-20) > 0.3 {
			t.Errorf("fc %+v, want 20", p)
		}
	})
	t.Run("a rate that goes to nothing is at its bound", func(t *testing.T) {
		c := infiltration.Models(bottles(3, 58, 36, 20, 9, 3, 1, 0.5, 0.5))
		p := of(t, c, infiltration.PhilipTwoTerm, "A")
		if !p.Flags.Has(infiltration.FlagAtBound) || p.Value.V != 0 || !p.Low.OK || p.Low.V != 0 || !p.High.OK {
			t.Errorf("A %+v", p)
		}
		if k := of(t, c, infiltration.GreenAmptModel, "psi_dtheta"); k.Value.OK || !k.Flags.Has(infiltration.FlagNotIdentifiable) {
			t.Errorf("psi_dtheta %+v", k)
		}
	})
	t.Run("nothing ran off", func(t *testing.T) {
		in := bottles(0.5, 60, 60)
		in.RanOff = false
		c := infiltration.Models(in)
		for _, f := range c.Fits {
			if !f.Flags.Has(infiltration.FlagLowerBound) || f.Converged {
				t.Errorf("%s: %+v", f.Model, f)
			}
		}
		if !c.Average.Flags.Has(infiltration.FlagLowerBound) || !c.Sorptivity.Flags.Has(infiltration.FlagLowerBound) {
			t.Errorf("average %v, sorptivity %v", c.Average.Flags, c.Sorptivity.Flags)
		}
	})
	t.Run("the model that made the curve has the most weight", func(t *testing.T) {
		// Philip under 60 mm/h: tp = S^2 (i - A/2)/(2 i (i - A)^2), and the time of the
		// curve is behind by S^2/(4 i (i - A)).
		const s, a, i = 12.0, 10.0, 60.0
		depth := func(h float64) float64 {
			if h <= s*s*(i-a/2)/(2*i*(i-a)*(i-a)) {
				return i * h
			}
			m := h - s*s/(4*i*(i-a))
			return s*math.Sqrt(m) + a*m
		}
		var f []float64
		for n := range 15 {
			f = append(f, 30*(depth(float64(n+1)/30)-depth(float64(n)/30)))
		}
		c := infiltration.Models(bottles(0.05, f...))
		if w := of(t, c, infiltration.PhilipTwoTerm, "S").Weight; w.V < 0.4 {
			t.Errorf("philip weighs %v", w)
		}
		if math.Abs(c.Sorptivity.Value.V-12) > 0.3 {
			t.Errorf("sorptivity %v, want 12", c.Sorptivity.Value.V)
		}
	})
}

// Water that is still on its way when a bottle ends is not infiltrated: rates seen through a linear
// reservoir of 0.5 min with a constant capacity of 20 of 60 mm/h, q = 40 (1 - exp(-t/L)), whose mean over
// an interval is 40 (1 - L (exp(-a/L) - exp(-b/L))/(b - a)).
func TestModelsSeeThroughFlow(t *testing.T) {
	const lag = 0.5
	in := infiltration.Input{IntensityMMH: 60, RainMin: 20, RanOff: true, OnsetMin: quantity.Some(0)}
	for n := range 20 {
		a, b := float64(n), float64(n+1)
		in.Intervals = append(in.Intervals, infiltration.Interval{StartMin: a, EndMin: b, U: 0.1, RateMMH: 40 * (1 - lag*(math.Exp(-a/lag)-math.Exp(-b/lag))/(b-a))})
	}
	c := infiltration.Models(in)
	if fc := of(t, c, infiltration.ConstantRate, "fc"); math.Abs(fc.Value.V-20) > 0.01 || fc.RSS.V > 1 {
		t.Errorf("constant %v, chi2 %v; want 20 and none", fc.Value, fc.RSS)
	}
	if a := c.Average; math.Abs(a.Value.V-20) > 0.05 || !(a.Low.V < 20 && 20 < a.High.V) {
		t.Errorf("average %+v, want 20", a)
	}
}

// Twice the rain and twice the rates give twice the capacities, and the same
// weights and times.
func TestModelsScale(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		start := rapid.Float64Range(25, 55).Draw(t, "start")
		end := rapid.Float64Range(5, 20).Draw(t, "end")
		n := rapid.IntRange(6, 14).Draw(t, "n")
		var f []float64
		for k := range n {
			f = append(f, end+(start-end)*math.Exp(-4*float64(k)/float64(n))+rapid.Float64Range(-1, 1).Draw(t, "error"))
		}
		in := bottles(0.7, f...)
		twice := in
		twice.IntensityMMH *= 2
		twice.Intervals = append([]infiltration.Interval(nil), in.Intervals...)
		for k := range twice.Intervals {
			twice.Intervals[k].RateMMH *= 2
			twice.Intervals[k].U *= 2
		}
		a, b := infiltration.Models(in), infiltration.Models(twice)
		for k := range a.Fits {
			end, other := a.Fits[k].Parameters, b.Fits[k].Parameters
			for r := range end {
				factor := 1.0
				switch end[r].Name {
				case infiltration.CapacityAtEnd, "fc", "K", "A":
					factor = 2
				case infiltration.PondingTime:
				default:
					continue
				}
				if d := math.Abs(end[r].Value.V*factor - other[r].Value.V); d > 1e-4*(1+end[r].Value.V) {
					t.Fatalf("%s %s: %v and %v of twice the rain", end[r].Model, end[r].Name, end[r].Value.V, other[r].Value.V)
				}
			}
			if math.Abs(a.Fits[k].Weight.V-b.Fits[k].Weight.V) > 1e-5 {
				t.Fatalf("%s weighs %v, and %v with twice the rain", a.Fits[k].Model, a.Fits[k].Weight.V, b.Fits[k].Weight.V)
			}
		}
	})
}
