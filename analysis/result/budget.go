package result

import "math"

// Budget is where the uncertainty of one value comes from: a line per input, in the form
// of the tables of the Guide to the expression of uncertainty in measurement. It is made when
// someone asks, never with the rows.
type Budget struct {
	Metric   Metric
	Method   string
	Unit     string
	Model    string // the equation, in the names of the lines
	Value, U float64
	Lines    []BudgetLine
	// Simulated says that U comes from draws, because the model bends within its
	// errors; the contributions of the lines then do not make it.
	Simulated bool
}

// BudgetLine is one input of a value.
type BudgetLine struct {
	Input, Unit  string
	Value, U     float64
	Sensitivity  float64 // change of the value per change of the input
	Contribution float64 // |Sensitivity| U
	// Common says that the error is shared with other values of the plot or the run, so that it
	// does not shrink with their number.
	Common bool
}

// InQuadrature returns the standard uncertainty that the lines make.
func (b *Budget) InQuadrature() float64 {
	var s float64
	for _, l := range b.Lines {
		s += l.Contribution * l.Contribution
	}
	return math.Sqrt(s)
}
