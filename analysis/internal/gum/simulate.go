package gum

import (
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// Draws and Seed are those of Simulate: fixed, so that equal inputs give equal
// results on any number of workers.
const (
	Draws = 4000
	Seed  = 20310414
)

// enough is the share of draws that has to be possible for an answer.
const enough = 0.02

// Simulate returns the value of a model with the standard deviation of what it
// makes of draws from its inputs, and the interval that is as short as the level
// allows with probabilities equal in both tails.
//
// Each input is normal about its value with its standard uncertainty, or Student's t
// with its degrees of freedom. The draws are stratified: one from each of 4000
// equally likely slices of each input, in random order (a Latin hypercube), so that 4000 give the ends of an interval
// of a smooth model to about 1 % of its half width. Draws for which the
// model has no answer are impossible and left out: what is known of the inputs
// counts, nothing is cut off. Where they leave the value itself outside, as at the edge of what is
// possible, the interval is drawn out to it. It reports false where the model has no value, or
// fewer than one draw in fifty has.
//
// Source: propagation of distributions [JCGM101] 5.9, 6.4.7 and 6.4.9, 7.5 to 7.7;
// stratified draws [McKay1979]. Departure: 4000 stratified draws in the
// place of 10^6 plain ones.
func Simulate(f Model, in []Input, level float64) (Result, bool) {
	x := make([]float64, len(in))
	for i := range in {
		x[i] = in[i].Value
	}
	y, ok := f(x)
	if !ok || math.IsNaN(y) || math.IsInf(y, 0) {
		return Result{}, false
	}
	columns := make([][]float64, len(in))
	random := rand.New(rand.NewPCG(Seed, uint64(len(in))))
	for i := range in {
		columns[i] = strata(in[i], random)
	}
	all := sample(f, in, columns, func(int) bool { return true })
	if float64(len(all)) < enough*Draws {
		return Result{}, false
	}
	r := Result{Value: y, Simulated: true, U: deviation(all)}
	common := sample(f, in, columns, func(i int) bool { return in[i].Common })
	if len(common) > 1 {
		r.UCommon = min(r.U, deviation(common))
	}
	slices.Sort(all)
	r.Low, r.High = min(y, quantile(all, (1-level)/2)), max(y, quantile(all, (1+level)/2))
	return r, true
}

// strata draws one value from each slice of an input's distribution, shuffled.
func strata(in Input, random *rand.Rand) []float64 {
	out := make([]float64, Draws)
	unit := distuv.Normal{Mu: 0, Sigma: 1}.Quantile
	if in.DF > 0 && in.DF < manyDF {
		unit = distuv.StudentsT{Mu: 0, Sigma: 1, Nu: in.DF}.Quantile
	}
	for i := range out {
		p := (float64(i) + random.Float64()) / Draws
		out[i] = in.Value
		if in.U > 0 && p > 0 && p < 1 {
			out[i] += in.U * unit(p)
		}
	}
	random.Shuffle(Draws, func(a, b int) { out[a], out[b] = out[b], out[a] })
	return out
}

// sample returns what the model makes of the draws, those inputs varied that are
// asked for.
func sample(f Model, in []Input, columns [][]float64, vary func(i int) bool) []float64 {
	out := make([]float64, 0, Draws)
	x := make([]float64, len(in))
	any := false
	for i := range in {
		any = any || vary(i) && in[i].U > 0
	}
	if !any {
		return nil
	}
	for n := range Draws {
		for i := range in {
			x[i] = in[i].Value
			if vary(i) {
				x[i] = columns[i][n]
			}
		}
		if y, ok := f(x); ok && !math.IsNaN(y) && !math.IsInf(y, 0) {
			out = append(out, y)
		}
	}
	return out
}

func deviation(y []float64) float64 {
	var sum float64
	for _, v := range y {
		sum += v
	}
	mean := sum / float64(len(y))
	var squares float64
	for _, v := range y {
		squares += (v - mean) * (v - mean)
	}
	return math.Sqrt(squares / max(1, float64(len(y)-1)))
}

// quantile interpolates between sorted values.
func quantile(sorted []float64, p float64) float64 {
	at := p*float64(len(sorted)) - 0.5
	i := int(math.Floor(at))
	switch {
	case i < 0:
		return sorted[0]
	case i >= len(sorted)-1:
		return sorted[len(sorted)-1]
	}
	part := at - float64(i)
	return sorted[i] + part*(sorted[i+1]-sorted[i])
}
