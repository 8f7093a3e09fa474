package fit

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"
)

// simpson integrates a smooth function over an interval in n steps.
func simpson(f func(float64) float64, a, b float64, n int) float64 {
	h := (b - a) / float64(n)
	sum := f(a) + f(b)
	for i := 1; i < n; i++ {
		sum += f(a+float64(i)*h) * float64(2+2*(i%2))
	}
	return sum * h / 3
}

// The closed form of a curve's mean is its integral over the interval.
func TestMeansAreIntegrals(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		shape := rapid.SampledFrom([]Shape{Exponential, Root}).Draw(t, "shape")
		kappa := rapid.OneOf(rapid.Just(0.0), rapid.Float64Range(1e-3, 30)).Draw(t, "kappa")
		a := rapid.Float64Range(0, 0.9).Draw(t, "a")
		d := rapid.Float64Range(1e-6, 1-a).Draw(t, "length")
		c := shape.curve(kappa)
		p := newProblem(&Decline{Data: []Mean{{Start: a, End: a + d, U: 1}}, To: 1})
		var got [1]float64
		p.curveMeans(&c, got[:], nil)
		if want := simpson(c.at, a, a+d, 800) / d; math.Abs(got[0]-want) > 1e-5 {
			t.Fatalf("mean over %v to %v = %v, integral %v", a, a+d, got[0], want)
		}
		if math.Abs(c.at(0)-1) > 1e-9 || math.Abs(c.at(1)) > 1e-9 {
			t.Fatalf("the curve goes from %v to %v, want 1 to 0", c.at(0), c.at(1))
		}
		if got, want := c.steepness(), (c.at(1-1e-6)-c.at(1))/1e-6; math.Abs(got-want) > 1e-3*(1+want) {
			t.Fatalf("steepness %v, difference quotient %v", got, want)
		}
	})
}

// drawn returns a decline with scatter, and with a lag or without.
func drawn(t *rapid.T) *Decline {
	random := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
	d := &Decline{From: 5, To: 45, Onset: 5, Ceiling: 60, LagScale: 0.75, Starts: []int{0}}
	n := 1 + random.IntN(10)
	fall, far, k := 40*random.Float64(), 40*random.Float64()-5, 0.3*random.Float64()
	at := 5.0
	for range n {
		length := 40 / float64(n) * (0.5 + 0.5*random.Float64())
		b := at + length
		mean := far + simpson(func(x float64) float64 { return fall * math.Exp(-k*(x-5)) }, at, b, 100)/length
		u := 0.2 + random.Float64()
		d.Data = append(d.Data, Mean{at, b, mean + u*random.NormFloat64(), u})
		at = b
	}
	return d
}

// sumOf is the sum of squares of any curve, from the definition alone.
func sumOf(d *Decline, shape Shape, end, drop, kappa, lag float64) float64 {
	c := shape.curve(kappa)
	sum := 0.0
	if lag > 0 {
		sum = (lag / d.LagScale) * (lag / d.LagScale)
	}
	for _, m := range d.Data {
		seen := simpson(func(x float64) float64 {
			y := end + drop*c.at((x-d.From)/(d.To-d.From))
			if lag > 0 {
				y += (d.Ceiling - end - drop) * math.Exp(-(x-d.Onset)/lag)
			}
			return y
		}, m.Start, m.End, 100) / (m.End - m.Start)
		r := (m.Value - seen) / m.U
		sum += r * r
	}
	return sum
}

// No curve that is drawn at random has a lower sum of squares than the optimum,
// and none with a sum below the limit lies outside the region.
func TestOptimumAndRegionAgainstRandomCurves(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := drawn(t)
		solution := NewSearch(d, Exponential).From(0)
		best := solution.Optimum()
		if own := sumOf(d, Exponential, best.End, best.Drop, best.Kappa, best.Lag); (best.Lag == 0 || best.Lag > 0.1) && math.Abs(own-best.Penalised) > 1e-3*(1+own) {
			t.Fatalf("sum %v, by its definition %v", best.Penalised, own)
		}
		limit := best.Penalised + 3.84
		region := solution.Region(limit, 35, &best)
		// The fall from a time on goes with exp(-kappa x), and what is found of the
		// region ends within a step of kappa of its end.
		fallBeyond := 0.0
		if k := region.Kappa; k.Low > 0 && !math.IsInf(k.High, 1) {
			fallBeyond = region.Fall.High * math.Expm1(0.75*(k.Low-k.Low/math.Pow(k.High/k.Low, 1/float64(regionEnough-1))))
		}
		random := rand.New(rand.NewPCG(9, 9))
		outside := func(r Range, v, share float64) bool {
			slack := 0.02 + share*(r.High-r.Low) // a step of the last grid
			return v < r.Low-slack || v > r.High+slack
		}
		for range 60 {
			spread := math.Exp(-5 * random.Float64())
			end := best.End + spread*8*random.NormFloat64()
			drop := math.Max(0, best.Drop+spread*12*random.NormFloat64())
			kappa := math.Min(math.Max(best.Kappa, 0.05)*math.Exp(spread*2*random.NormFloat64()), kappaHigh)
			lag := math.Min(math.Abs(best.Lag+spread*random.NormFloat64()), 2.5*d.LagScale)
			if lag < 0.1 {
				lag = 0 // too short for the sums of the definition
			}
			if end+drop > d.Ceiling {
				continue
			}
			sum := sumOf(d, Exponential, end, drop, kappa, lag)
			if sum < best.Penalised-0.05 {
				t.Fatalf("sum %v at end %v drop %v kappa %v lag %v, below the optimum's %v at %+v", sum, end, drop, kappa, lag, best.Penalised, best)
			}
			if sum > limit-0.3 {
				continue
			}
			c := Exponential.curve(kappa)
			atEnd := end - drop*c.steepness()*lag/(d.To-d.From)
			if outside(region.True, atEnd, 0.02) || outside(region.First, end+drop, 0.1) || outside(Range{region.Fall.Low, region.Fall.High + fallBeyond}, drop*c.at(0.75), 0.1) {
				t.Fatalf("sum %v is below the limit %v, and end %v, first %v, fall %v outside %+v", sum, limit, atEnd, end+drop, drop*c.at(0.75), region)
			}
		}
	})
}

// Errors so small that the region lies between the points of the coarse grid
// still give a region, and it holds the truth: 20 + 40 exp(-0.1 (t-5)).
func TestSmallErrorsFindTheRegion(t *testing.T) {
	for _, u := range []float64{1, 0.1, 0.01, 0.001} {
		d := &Decline{From: 5, To: 45, Onset: 5, Ceiling: 80, LagScale: 0.75, Starts: []int{0}}
		for n := range 16 {
			a, b := 5+2.5*float64(n), 7.5+2.5*float64(n)
			mean := 20 + 400*(math.Exp(-0.1*(a-5))-math.Exp(-0.1*(b-5)))/(b-a)
			d.Data = append(d.Data, Mean{a, b, mean, u})
		}
		solution := NewSearch(d, Exponential).From(0)
		best := solution.Optimum()
		r := solution.Region(best.Penalised+3.84, 35, &best)
		truth := 20 + 40*math.Exp(-4)
		if r.True.Low > truth+1e-6 || r.True.High < truth-1e-6 || r.True.High-r.True.Low > 4*u {
			t.Errorf("u = %v: %v to %v, want a range of at most %v round %v", u, r.True.Low, r.True.High, 4*u, truth)
		}
		if math.Abs(best.True-truth) > u {
			t.Errorf("u = %v: value %v, want %v", u, best.True, truth)
		}
	}
}

// From a later start the fit is that of the later data alone.
func TestStarts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := drawn(t)
		if len(d.Data) < 6 {
			return
		}
		d.Starts = []int{0, 1, 3}
		late := *d
		late.Data, late.Starts = d.Data[3:], []int{0}
		a, b := NewSearch(d, Exponential).From(2).Optimum(), NewSearch(&late, Exponential).From(0).Optimum()
		if math.Abs(a.Penalised-b.Penalised) > 1e-9*(1+a.Penalised) {
			t.Fatalf("sum %v from the third interval on, %v of these alone", a.Penalised, b.Penalised)
		}
	})
}
