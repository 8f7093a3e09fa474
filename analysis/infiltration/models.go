package infiltration

import (
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// The flags of a fitted model, beside those of a steady infiltration rate.
const (
	FlagAtBound      = "at_bound"      // the parameter lies at an end of what the model allows; its interval is one-sided
	FlagNotConverged = "not_converged" // the search did not come to an end
	FlagFormExcluded = "form_excluded" // another form of curve describes the intervals so much better that this one is out of question
)

// ModelAverage is the model name of the row that averages the models.
const ModelAverage = "average"

// Names of the rows that every model has beside its parameters.
const (
	CapacityAtEnd = "f_end"     // capacity at the end of rain, mm/h, at most the intensity
	PondingTime   = "t_ponding" // min since the start of rain
)

// ModelFit is one infiltration model fitted to the intervals of a plot.
type ModelFit struct {
	Model        string
	Parameters   []Parameter // the model's own, then CapacityAtEnd and PondingTime; no value without a flag that says why
	RSS          quantity.Optional
	AICc, Weight quantity.Optional // Weight: of Akaike, where all models have an AICc
	N            int
	Converged    bool
	Flags        result.Flags
}

// Comparison is what the seven models make of a plot.
type Comparison struct {
	Fits []ModelFit
	// Average is the capacity at the end of rain, mm/h, averaged over the models
	// with their Akaike weights. Its interval is that of all forms that the intervals
	// do not exclude, with the errors that all intervals share.
	Average result.Estimate
	// Sorptivity is that of Philip's model, mm/h^0.5, with the errors that all
	// intervals share; no value where the intervals exclude that model.
	Sorptivity result.Estimate
}

// Models fits seven models of infiltration capacity to the interval means after
// the onset of runoff, each through time compression under constant rain, by
// least squares weighted with the known errors and with water in flow on the plot
// taken out, and weighs them with Akaike's criterion. All are fitted to the same
// intervals: those that the curve of Steady bears.
//
// It always answers: a model that cannot be had has rows without values and a
// flag that says why. The steady rate of a plot is that of Steady; this says how
// much of it depends on the form of the curve.
func Models(in Input) Comparison {
	in.defaults()
	data, verdicts := in.forModels()
	r := rain{i: in.IntensityMMH, end: in.RainMin / 60}
	c := Comparison{Fits: make([]ModelFit, 0, 7)}
	models := capacities()
	if len(data.data) == 0 {
		for n := range models {
			c.Fits = append(c.Fits, models[n].without(0, verdicts))
		}
	} else {
		best := make([]minimum, len(models))
		for n := range models {
			best[n] = models[n].minimum(&data, r)
		}
		forms := in.compare(best)
		for n := range best {
			f := best[n].report(&in, data.data, r, &forms, n)
			f.add(verdicts)
			c.Fits = append(c.Fits, f)
		}
	}
	c.Average = in.average(c.Fits)
	c.Sorptivity = in.sorptivity(c.Fits, &data)
	return c
}

// Rows returns the rows of the fits table: all parameters of all models with
// their weights, and the average.
func (c *Comparison) Rows() []Parameter {
	var rows []Parameter
	for n := range c.Fits {
		rows = append(rows, c.Fits[n].Parameters...)
	}
	a := &c.Average
	return append(rows, Parameter{
		Model: ModelAverage, Name: CapacityAtEnd, Unit: "mm/h", Value: a.Value, U: a.U, Low: a.Low, High: a.High,
		N: a.N, Converged: a.Value.OK, Flags: a.Flags,
	})
}

// forModels returns the intervals that the models are fitted to, or the verdict
// why there are none.
func (in *Input) forModels() (seen, result.Flags) {
	if !in.sound() {
		return seen{}, result.Flags{FlagBadInput}
	}
	u := in.usable()
	switch {
	case in.RanOff && u.nothing:
		return seen{}, result.Flags{FlagNoData}
	case !in.RanOff || u.dry:
		return seen{}, result.Flags{FlagLowerBound}
	case len(u.means) == 0:
		return seen{}, result.Flags{FlagNoReadings}
	}
	c := in.horton(&u, in.RainMin*(1-windowShare))
	var flags result.Flags
	if c.first > 0 {
		flags.Add(FlagStartMoved)
	}
	if len(u.atMost) > 0 {
		flags.Add(FlagOverflow)
	}
	if in.RainMin-u.means[len(u.means)-1].End > extrapolatedShare*in.RainMin {
		flags.Add(FlagExtrapolated)
	}
	return c.rises(), flags
}

// without is the answer of a model that is not fitted.
func (c *capacity) without(n int, flags result.Flags) ModelFit {
	f := ModelFit{Model: c.name, N: n}
	for _, row := range c.allRows() {
		f.Parameters = append(f.Parameters, Parameter{Model: c.name, Name: row.name, Unit: row.unit, N: n})
	}
	f.add(flags)
	return f
}

// add adds flags to a fit and all of its rows.
func (f *ModelFit) add(flags result.Flags) {
	f.Flags.Add(flags...)
	for n := range f.Parameters {
		f.Parameters[n].Flags.Add(flags...)
	}
}
