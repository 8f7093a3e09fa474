package inference

import (
	"math"
	"slices"

	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// Blocked is an analysis of treatments in blocks, such as events or runs.
type Blocked struct {
	Treatments, Blocks            []string // in order of first appearance
	DFBlock, DFTreatment, DFError int
	SSBlock, SSTreatment, SSError float64 // blocks first; treatments after blocks
	FBlock, PBlock                quantity.Optional
	FTreatment, PTreatment        quantity.Optional
	Adjusted                      []Interval // treatment means with blocks counting alike
	Raw                           []quantity.Optional
	Pairs                         Pairwise          // Tukey's, of adjusted means
	Efficiency                    quantity.Optional // relative to no blocks; full designs only
	Level                         float64
	Flags                         result.Flags

	model   linearModel
	columns int // blocks
}

// BlockedAnova fits y = block + treatment by least squares, the usual analysis of
// a randomised block design; plots may be missing.
//
//	F = (RSS(blocks) - RSS(blocks + treatments))/(t-1) / MSE
//	adjusted mean = treatment effect + mean of the block effects
//	efficiency = ((b-1) MSB + b (t-1) MSE)/((bt-1) MSE)
//
// Source: Fisher (1935); Yates (1933), Empire Journal of Experimental Agriculture
// 1:129-142, for missing plots by least squares; Searle, Speed & Milliken (1980), The American Statistician 34:216-221, for adjusted
// means; Cochran & Cox (1957), 4.37, for the efficiency. One block or treatment, or too
// few values: flags. Errors: ErrInput for NaN, unlike lengths or the level.
func BlockedAnova(y []float64, treatment, block []string, level float64) (Blocked, error) {
	r := Blocked{Level: level}
	if err := checkLevel(level); err != nil {
		return r, err
	}
	if err := checkFinite("y", y); err != nil {
		return r, err
	}
	if err := checkLengths("y", "treatment", len(y), len(treatment)); err != nil {
		return r, err
	}
	if err := checkLengths("y", "block", len(y), len(block)); err != nil {
		return r, err
	}
	r.Treatments, r.Blocks = appearances(treatment), appearances(block)
	t, b := len(r.Treatments), len(r.Blocks)
	switch {
	case len(y) == 0:
		r.Flags.Add(FlagNoData)
		return r, nil
	case t < 2:
		r.Flags.Add(FlagOneGroup)
		return r, nil
	}
	blocks := indicators(block, r.Blocks)
	treatments := indicators(treatment, r.Treatments)
	for _, c := range treatments {
		r.Raw = append(r.Raw, maskedMean(y, c))
	}
	without, okB := fitLinear(blocks, y)
	full, ok := fitLinear(append(slices.Clone(blocks), treatments[1:]...), y)
	if !ok || !okB {
		r.Flags.Add(FlagNotDefined) // treatments and blocks cannot be told apart
		return r, nil
	}
	r.model, r.columns = full, b
	mean, total := moments(y)
	r.DFBlock, r.DFTreatment, r.DFError = b-1, t-1, full.df
	r.SSBlock, r.SSTreatment, r.SSError = total-without.rss, without.rss-full.rss, full.rss
	if full.df < 1 {
		r.Flags.Add(FlagNSmall)
		return r, nil
	}
	mse := full.rss / float64(full.df)
	if !spread(mean, math.Sqrt(mse)) {
		r.Flags.Add(FlagNoSpread)
		return r, nil
	}
	r.tests(mse)
	r.means(mse)
	if len(y) == t*b && b > 1 {
		k, m := float64(t), float64(b)
		r.Efficiency = quantity.Some(((m-1)*r.SSBlock/(m-1) + m*(k-1)*mse) / ((m*k - 1) * mse))
	}
	return r, nil
}

func (r *Blocked) tests(mse float64) {
	if r.DFBlock > 0 {
		r.FBlock = quantity.Some(r.SSBlock / float64(r.DFBlock) / mse)
		if p, err := FUpper(math.Max(0, r.FBlock.V), float64(r.DFBlock), float64(r.DFError)); err == nil {
			r.PBlock = quantity.Some(p)
		}
	}
	r.FTreatment = quantity.Some(r.SSTreatment / float64(r.DFTreatment) / mse)
	if p, err := FUpper(math.Max(0, r.FTreatment.V), float64(r.DFTreatment), float64(r.DFError)); err == nil {
		r.PTreatment = quantity.Some(p)
	}
}

// means fills adjusted means and their pairs.
func (r *Blocked) means(mse float64) {
	df := float64(r.DFError)
	critical := critical(r.Level, df)
	for i := range r.Treatments {
		v, variance := r.model.contrast(r.row(i, 1))
		se := math.Sqrt(variance * mse)
		r.Adjusted = append(r.Adjusted, Interval{
			Value: quantity.Some(v), SE: quantity.Some(se), DF: quantity.Some(df), Level: r.Level,
			Low: quantity.Some(v - critical*se), High: quantity.Some(v + critical*se), SD: quantity.Some(math.Sqrt(mse)),
		})
	}
	r.Pairs.DF = df
	err := r.Pairs.tukey(len(r.Treatments), r.Level, func(i, j int) (float64, float64, bool) {
		c := r.row(i, 0)
		for k, v := range r.row(j, 0) {
			c[k] -= v
		}
		d, variance := r.model.contrast(c)
		return d, variance * mse, true
	}, len(r.Treatments))
	if err != nil {
		r.Pairs.Flags.Add(FlagNotDefined)
	}
}

// row returns the contrast of a treatment, with the blocks weighted alike times share.
func (r *Blocked) row(treatment int, share float64) []float64 {
	c := make([]float64, r.columns+len(r.Treatments)-1)
	for j := range r.columns {
		c[j] = share / float64(r.columns)
	}
	if treatment > 0 {
		c[r.columns+treatment-1] = 1
	}
	return c
}

// appearances lists labels in order of first appearance.
func appearances(labels []string) []string {
	var out []string
	for _, l := range labels {
		if !slices.Contains(out, l) {
			out = append(out, l)
		}
	}
	return out
}

// indicators returns a column of zeros and ones for each level.
func indicators(labels, levels []string) [][]float64 {
	out := make([][]float64, len(levels))
	for j, level := range levels {
		out[j] = make([]float64, len(labels))
		for i, l := range labels {
			if l == level {
				out[j][i] = 1
			}
		}
	}
	return out
}

func maskedMean(y, mask []float64) quantity.Optional {
	var v []float64
	for i, m := range mask {
		if m == 1 {
			v = append(v, y[i])
		}
	}
	return meanOf(v)
}
