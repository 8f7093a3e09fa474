package derivation

import (
	"cmp"
	"math"
	"slices"
	"strconv"
	"unicode/utf8"
)

// Budget is where the standard uncertainty of a value comes from.
type Budget struct {
	Equation string  `json:"equation"` // in the names of the lines
	U        float64 `json:"u"`
	Unit     string  `json:"unit,omitempty"`
	// Simulated: u is that of draws, since the equation bends within the errors; the
	// contributions then do not make it.
	Simulated bool         `json:"simulated,omitempty"`
	Lines     []BudgetLine `json:"lines"`
}

// BudgetLine is what one input adds to an uncertainty.
type BudgetLine struct {
	Input        string  `json:"input"`
	Value        float64 `json:"value"`
	Unit         string  `json:"unit,omitempty"`
	U            float64 `json:"u"`
	Sensitivity  float64 `json:"sensitivity"`  // change of the value per change of the input
	Contribution float64 `json:"contribution"` // its size times u; in quadrature they make the u of the value
	Common       bool    `json:"common,omitempty"`
}

// mostBudget is how many lines of a budget are written; the rest is one line.
const mostBudget = 12

// budget writes where the uncertainty comes from: the share of each input in its square,
// the largest first.
func (w *writer) budget(b *Budget) {
	lines := slices.Clone(b.Lines)
	slices.SortStableFunc(lines, func(x, y BudgetLine) int { return cmp.Compare(y.Contribution, x.Contribution) })
	var all float64
	for _, l := range lines {
		all += l.Contribution * l.Contribution
	}
	if !(all > 0) {
		return
	}
	w.b.WriteByte('\n')
	w.wrapped("", "  ", "u = "+withUnit(figure(b.U, b.U), b.Unit)+" of "+b.Equation)
	if b.Simulated {
		w.wrapped("  ", "  ", "by draws, since the equation bends within the errors; the shares are those of small ones")
	}
	width, left := 0, 0.0
	shown := lines[:min(len(lines), mostBudget)]
	for _, l := range shown {
		width = max(width, utf8.RuneCountInString(l.Input))
	}
	for i, l := range lines {
		share := l.Contribution * l.Contribution / all
		if i >= mostBudget {
			left += share
			continue
		}
		if l.Contribution == 0 {
			continue
		}
		text := withUnit(figure(l.Value, l.U)+" ± "+figure(l.U, l.U), l.Unit)
		if l.Common {
			text += ", common"
		}
		w.wrapped("  "+percent(share)+"  "+pad(l.Input, width)+"  ", "         ", text)
	}
	if left > 0 {
		w.line("  " + percent(left) + "  " + strconv.Itoa(len(lines)-mostBudget) + " more")
	}
}

// percent writes a share in a column.
func percent(share float64) string {
	text := strconv.FormatFloat(100*share, 'f', 0, 64)
	if share < 0.005 {
		text = "<1"
	}
	if math.IsNaN(share) {
		text = "–"
	}
	return pad("", 3-utf8.RuneCountInString(text)) + text + " %"
}
