package infiltration

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"sheetwash/analysis/internal/fit"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// hortonLeast is the number of intervals from which the curve's three
// parameters leave something to check it by.
const hortonLeast = 4

// horton fits the Horton (1940) capacity curve, integrated over each interval.
func (in *Input) horton(u *usable, windowMin float64) (result.Estimate, []Parameter) {
	d := fit.Decline{Data: u.means, From: u.fromMin, Onset: u.onsetMin, To: in.RainMin, Ceiling: in.IntensityMMH, Starts: starts(len(u.means)), LagScale: LagScale}
	grid := fit.NewGrid(&d, fit.Exponential)
	at, moved := chooseStart(grid, &d)
	grid.Choose(at)
	first := d.Starts[at]
	n := len(d.Data) - first
	best := grid.Best()
	df := n - 3
	scale := 1.0
	if df > 0 {
		scale = math.Max(1, best.Sum/float64(df))
	}
	z := in.z()
	limit := z * z * scale
	if TMode && df > 0 && scale > 1 {
		tq := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(df)}.Quantile((1 + in.Level) / 2)
		limit = tq * tq * scale
	}
	r := grid.Region(best.Penalised+limit, windowMin)
	low, high := r.True.Low, r.True.High
	if UseRoot {
		root := fit.NewGrid(&d, fit.Root)
		root.Choose(at)
		rb := root.Best()
		rs := 1.0
		if df > 0 {
			rs = math.Max(1, rb.Sum/float64(df))
		}
		least := math.Min(rb.Penalised/rs, best.Penalised/scale)
		_ = least
		rr := root.Region(rb.Penalised+limit/scale*rs, windowMin)
		if rb.Penalised <= best.Penalised+z*z*scale {
			low, high = math.Min(low, rr.True.Low), math.Max(high, rr.True.High)
		}
		if UseRootValue && rb.Penalised < best.Penalised-2 {
			best.True = rb.True
		}
	}
	uEnd := (high - low) / (2 * z)
	e := in.finish(best.True, uEnd, low, high)
	e.N = n
	if r.Fall.High > in.Tolerance.at(best.True, in.IntensityMMH) {
		e.Flags.Add(FlagNotSteady)
	}
	if n < hortonLeast {
		e.Flags.Add(FlagNotIdentifiable)
	}
	if scale > 1 {
		e.Flags.Add(FlagScatter)
	}
	if moved {
		e.Flags.Add(FlagStartMoved)
	}
	return e, []Parameter{{Model: "horton", Name: "f_end", Unit: "mm/h", Value: quantity.Some(best.End)}}
}

var LagScale = 0.75
var UseRoot = true
var TMode = false
var UseRootValue = true

// starts returns the intervals from which the fit may begin: the first, and
// later ones up to half of them.
func starts(n int) []int {
	last := min(n/2, n-hortonLeast)
	s := []int{0}
	for step := 1; len(s) < fit.MaxStarts; {
		next := s[len(s)-1] + step
		if next > last {
			break
		}
		s = append(s, next)
		if len(s) >= 4 {
			step = max(1, (last-next)/(fit.MaxStarts-len(s)+1))
		}
	}
	return s
}

// chooseStart returns the earliest start whose curve is not made significantly
// worse by the intervals right after it.
func chooseStart(g *fit.Grid, d *fit.Decline) (at int, moved bool) {
	sums := make([]float64, len(d.Starts))
	for j := range sums {
		sums[j] = g.Least(j)
	}
	for j := range sums {
		ok := true
		for m := j + 1; m < len(sums); m++ {
			dropped := d.Starts[m] - d.Starts[j]
			df := len(d.Data) - d.Starts[m] - 3
			scale := 1.0
			if df > 0 {
				scale = math.Max(1, sums[m]/float64(df))
			}
			if sums[j]-sums[m] > chi2Quantile95(dropped)*scale {
				ok = false
				break
			}
		}
		if ok {
			return j, j > 0
		}
	}
	return len(sums) - 1, len(sums) > 1
}

// chi2Quantile95 approximates the 95 % point (Wilson & Hilferty 1931).
func chi2Quantile95(df int) float64 {
	n := float64(df)
	c := 1 - 2/(9*n) + 1.6448536269514722*math.Sqrt(2/(9*n))
	return n * c * c * c
}
