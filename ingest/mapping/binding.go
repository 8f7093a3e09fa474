package mapping

import (
	"sheetwash/analysis/quantity"
	"sheetwash/ingest/schema"
)

// Binding says how one of our columns is filled from a foreign table.
type Binding struct {
	Table  string         // of the data dictionary
	Name   string         // our column; for covariates and analytes the name in the file
	Column *schema.Column // nil for covariates, analytes and wide channels
	Source int            // index of the field that feeds it; -1: Constant or Compose
	Header string         // header as found, for findings

	Constant string // every cell is this text (Source < 0 and Compose empty)
	Compose  []Part // text put together from fields and literals

	Unit      quantity.Unit // unit of the file's numbers
	Canonical quantity.Unit // unit of the decoded numbers
	Numeric   bool          // cells are numbers with Unit

	Translate map[string]string  // cell text to our text, after trimming
	Missing   map[string]Meaning // cell text that is not a value
	Clock     bool               // time cells such as 10:05 are times of day, not elapsed
	Channel   string             // readings, wide form: the channel that this field holds; "" otherwise
}

// Part is a piece of a composed text: a field, or literal text where Field < 0.
type Part struct {
	Field   int
	Literal string
}

// Meaning says what a missing-value word stands for.
type Meaning uint8

// A missing word may mean that nothing was measured, or that the thing did not
// happen ("none": a plot that never ran off).
const (
	NotMeasured Meaning = iota
	NotHappened
)
