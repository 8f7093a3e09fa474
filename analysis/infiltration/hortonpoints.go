package infiltration

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"sheetwash/analysis/internal/fit"
	"sheetwash/analysis/quantity"
)

// Coefficient is a fitted parameter with its standard error and its
// profile-likelihood interval; a limit that the readings do not give is missing.
type Coefficient struct {
	Value, SE float64
	Low, High quantity.Optional
}

// HortonFit is a Horton curve fitted to rates at points of time.
type HortonFit struct {
	FC, F0, K Coefficient
	RSS       float64
	DF        int
}

// HortonPoints fits
//
//	f = fc + (f0 - fc) exp(-k t)
//
// to infiltration rates at points of time, such as those of a ponded
// infiltrometer, by unweighted least squares. Units are the caller's,
// consistently. Bottles have means over intervals and errors that are known: they
// go to Steady and Models. fc is not kept above 0; the standard errors scale with
// the scatter.
//
// For a given k the curve is linear in fc and f0; the best of some values of k is
// where the walk to the minimum begins. It needs four readings at different times, and
// gives an error where these do not show an exponential.
func HortonPoints(t, rate []float64) (HortonFit, error) {
	h, err := newPoints(t, rate)
	if err != nil {
		return HortonFit{}, err
	}
	least := h.box.From(h.start())
	e, ok := h.box.Errors(least.At)
	if !least.Settled || !ok {
		return HortonFit{}, fmt.Errorf("%w: the rates do not show an exponential decline", ErrModel)
	}
	f := HortonFit{RSS: least.Sum, DF: len(t) - 3}
	scatter := math.Sqrt(f.RSS / float64(f.DF))
	k := math.Exp(least.At[2]) / h.length
	f.FC = Coefficient{Value: h.span * least.At[0], SE: h.span * e[0] * scatter}
	f.F0 = Coefficient{Value: h.span * least.At[1], SE: h.span * e[1] * scatter}
	f.K = Coefficient{Value: k, SE: k * e[2] * scatter}
	return f, nil
}

// Profile adds the profile-likelihood intervals: all values of a parameter for
// which the others give a sum of squares of at most RSS (1 + t^2/df), with Student's
// t for the level (Bates & Watts 1988, Nonlinear Regression Analysis, section 6.1).
func (f *HortonFit) Profile(t, rate []float64, level float64) error {
	h, err := newPoints(t, rate)
	if err != nil {
		return err
	}
	least := h.box.From(fit.Point{f.FC.Value / h.span, f.F0.Value / h.span, math.Log(f.K.Value * h.length)})
	q := distuv.StudentsT{Sigma: 1, Nu: float64(f.DF)}.Quantile((1 + level) / 2)
	limit := least.Sum * (1 + q*q/float64(f.DF))
	for c, row := range []*Coefficient{&f.FC, &f.F0, &f.K} {
		for _, sign := range [2]float64{-1, 1} {
			e := h.box.Extreme(func(u fit.Point) float64 { return u[c] }, least, limit, sign)
			if !e.Settled || e.Ends != [fit.MostCoordinates]bool{} {
				continue
			}
			v := quantity.Some(h.span * e.Value)
			if c == 2 {
				v = quantity.Some(math.Exp(e.Value) / h.length)
			}
			if sign < 0 {
				row.Low = v
			} else {
				row.High = v
			}
		}
	}
	return nil
}

// points are readings of a rate, with the box of their fit: its coordinates are fc
// and f0 in units of span, and ln(k length).
type points struct {
	t, rate      []float64
	span, length float64
	box          *fit.Box
}

// farthest is how far fc and f0 may lie from 0, in units of the largest rate.
const farthest = 1e4

func newPoints(t, rate []float64) (*points, error) {
	if len(t) != len(rate) || len(t) < 4 {
		return nil, fmt.Errorf("%w: %d times and %d rates; need at least four pairs", ErrModel, len(t), len(rate))
	}
	h := &points{t: t, rate: rate, length: slices.Max(t) - slices.Min(t)}
	for n, v := range rate {
		if math.IsNaN(v-v) || math.IsNaN(t[n]-t[n]) {
			return nil, fmt.Errorf("%w: rate %v at time %v", ErrModel, v, t[n])
		}
		h.span = max(h.span, math.Abs(v))
	}
	if !(h.span > 0) || !(h.length > 0) || math.IsInf(h.length, 0) {
		return nil, fmt.Errorf("%w: rates up to %v over a time of %v", ErrModel, h.span, h.length)
	}
	low, high := fit.Point{-farthest, -farthest, -reach}, fit.Point{farthest, farthest, reach}
	h.box = fit.NewBox(3, len(t), low, high, h.residuals)
	return h, nil
}

func (h *points) residuals(u fit.Point, r []float64, j *[fit.MostCoordinates][]float64) {
	fc, f0, k := h.span*u[0], h.span*u[1], math.Exp(u[2])/h.length
	t, rate := h.t[:len(r)], h.rate[:len(r)]
	if j == nil {
		for n := range r {
			r[n] = rate[n] - fc - (f0-fc)*math.Exp(-k*t[n])
		}
		return
	}
	byFC, byF0, byK := j[0][:len(r)], j[1][:len(r)], j[2][:len(r)]
	for n := range r {
		e := math.Exp(-k * t[n])
		r[n] = rate[n] - fc - (f0-fc)*e
		byFC[n], byF0[n], byK[n] = -h.span*(1-e), -h.span*e, (f0-fc)*e*k*t[n]
	}
}

// start returns the best point over some values of k, each twice the one before.
func (h *points) start() fit.Point {
	best, least := fit.Point{}, math.Inf(1)
	n := float64(len(h.t))
	var room [64]float64
	decay := append(room[:0], h.t...)
	const first, most = 0.5, 7
	for i, t := range h.t {
		decay[i] = math.Exp(-first / h.length * t)
	}
	for k := range most {
		var e, ee, y, ey, yy float64
		for i, v := range h.rate {
			w := decay[i]
			e += w
			ee += w * w
			y += v
			ey += w * v
			yy += v * v
			decay[i] = w * w
		}
		det := n*ee - e*e
		if !(det > 1e-12*n*ee) {
			continue
		}
		fall := (n*ey - e*y) / det
		fc := (y - fall*e) / n
		if sum := yy - fc*y - fall*ey; sum < least {
			least, best = sum, fit.Point{fc / h.span, (fc + fall) / h.span, math.Log(first) + float64(k)*math.Ln2}
		}
	}
	return best
}
