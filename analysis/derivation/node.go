package derivation

import "sheetwash/analysis/quantity"

// Node is one value of a derivation.
//
// A node has an Equation over its inputs by their names, or an Operation over all
// of them, or neither: then its value was read (From), was found by a fit (Fit of
// the node above), is a setting (Note says which), stands at another place of the
// same tree (See) or is the value of another row (Key).
type Node struct {
	Name  string   `json:"name"`          // by which the equation above calls it
	Key   string   `json:"key,omitempty"` // of the row of a result table whose value this is
	Value *float64 `json:"value"`         // null: there is none, and Flags say why
	Unit  string   `json:"unit,omitempty"`
	U     *float64 `json:"u,omitempty"` // standard uncertainty of the measurement
	Low   *float64 `json:"low,omitempty"`
	High  *float64 `json:"high,omitempty"`
	Level float64  `json:"level,omitempty"` // of Low and High
	// Censored says which side of the value is unknown: right (at least the
	// value), left (at most) or interval (between Low and High).
	Censored string `json:"censored,omitempty"`

	Method    string    `json:"method,omitempty"`
	Equation  string    `json:"equation,omitempty"`
	Operation Operation `json:"operation,omitempty"`
	Inputs    []Node    `json:"inputs,omitempty"`
	Fit       *Fit      `json:"fit,omitempty"`
	Seed      *uint64   `json:"seed,omitempty"` // of a value that a simulation gave

	From    *Place     `json:"from,omitempty"`
	See     string     `json:"see,omitempty"` // name of the node of this tree that shows how it came about
	Note    string     `json:"note,omitempty"`
	Flags   []Flag     `json:"flags,omitempty"`
	LeftOut []Omission `json:"left_out,omitempty"`
	Source  string     `json:"source,omitempty"` // published
	Beside  []Node     `json:"beside,omitempty"` // other values of the row, each with its own tree

	// Of the root of a tree:
	Budget  *Budget `json:"budget,omitempty"` // of U, where it follows from a model
	Data    []Data  `json:"data,omitempty"`
	Program string  `json:"program,omitempty"` // name, version and revision
}

// Operation is what a node does with all of its inputs.
type Operation string

// The operations. A List is no value: equations hand it to a function.
const (
	Sum     Operation = "sum"
	Mean    Operation = "mean"
	Largest Operation = "largest"
	Least   Operation = "least"
	List    Operation = "list"
)

// Place is where a value stands in the input.
type Place struct {
	Dataset string `json:"dataset,omitempty"` // where it is not that of the root
	File    string `json:"file"`
	Row     int64  `json:"row,omitempty"`
	Column  string `json:"column,omitempty"` // by the name of the data dictionary
	Header  string `json:"header,omitempty"` // as it stands in the file, where that is another name
}

// Flag is a word of the flags column with what it means.
type Flag struct {
	Word    string `json:"word"`
	Meaning string `json:"meaning,omitempty"`
}

// Omission is what did not enter a value, and why.
type Omission struct {
	What string `json:"what"`
	Why  string `json:"why"`
	From *Place `json:"from,omitempty"`
}

// Data names bytes that a value follows from.
type Data struct {
	Dataset string `json:"dataset"`
	SHA256  string `json:"sha256"`
}

// Fit is a fit by least squares or likelihood: the parameters that make the objective least.
//
//	objective = sum over the data of residual^2, plus penalty
//
// or, of a fit by likelihood, the sum of Terms, one for each datum.
//
// Each datum is a list of nodes; Definitions give names to what follows from a
// datum and the parameters, in order, each from those before; Residual and Penalty
// are equations of the same kind.
type Fit struct {
	Parameters  []Parameter  `json:"parameters"`
	Data        []Datum      `json:"data"`
	Constants   []Node       `json:"constants,omitempty"`
	Definitions []Definition `json:"definitions,omitempty"`
	Residual    string       `json:"residual,omitempty"`
	Terms       []string     `json:"terms,omitempty"` // of a likelihood, in the order of Data
	Penalty     string       `json:"penalty,omitempty"`
	Objective   float64      `json:"objective"`
}

// Parameter is a parameter of a fit at the least objective. One that is held at
// a bound, or follows from a condition, says so; the objective has a gradient of
// zero in the others.
type Parameter struct {
	Name  string  `json:"name"`
	Value float64 `json:"value"`
	Unit  string  `json:"unit,omitempty"`
	Held  string  `json:"held,omitempty"` // why it is not free
	Tied  string  `json:"tied,omitempty"` // equation of a parameter that follows from the others
}

// Datum is what one residual is made of.
type Datum []Node

// Definition gives an expression a name.
type Definition struct {
	Name     string `json:"name"`
	Equation string `json:"equation"`
}

// Value returns a node with a value that is what it is.
func Value(name string, v float64, unit string) Node {
	return Node{Name: name, Value: &v, Unit: unit}
}

// Read returns a value as it was read, with its standard uncertainty; u below 0
// is none.
func Read(name string, v float64, unit string, u float64, from Place) Node {
	n := Value(name, v, unit)
	if u >= 0 {
		n.U = &u
	}
	n.From = &from
	return n
}

// Setting returns a value that was chosen and not read.
func Setting(name string, v float64, unit, note string) Node {
	n := Value(name, v, unit)
	n.Note = note
	return n
}

// Formula returns a value with its equation.
func Formula(name string, v float64, unit, equation string, inputs ...Node) Node {
	n := Value(name, v, unit)
	n.Equation, n.Inputs = equation, inputs
	return n
}

// Of returns the value of an operation over its inputs.
func Of(name string, v float64, unit string, op Operation, inputs ...Node) Node {
	n := Value(name, v, unit)
	n.Operation, n.Inputs = op, inputs
	return n
}

// ListOf returns a list for the functions of an equation.
func ListOf(name, unit string, items ...Node) Node {
	return Node{Name: name, Unit: unit, Operation: List, Inputs: items}
}

// Empty returns a node without a value.
func Empty(name, unit string) Node { return Node{Name: name, Unit: unit} }

// Named returns the node under another name.
func (n Node) Named(name string) Node {
	n.Name = name
	return n
}

// Again returns the value of the node for another place of the tree, where the
// node itself need not be repeated.
func (n Node) Again(name string) Node {
	return Node{Name: name, Value: n.Value, Unit: n.Unit, U: n.U, See: n.Name}
}

// With returns the node with a standard uncertainty.
func (n Node) With(u float64) Node {
	n.U = &u
	return n
}

// Noting returns the node with a note.
func (n Node) Noting(note string) Node {
	n.Note = note
	return n
}

// Number returns a pointer to a number that is there.
func Number(o quantity.Optional) *float64 {
	if !o.OK {
		return nil
	}
	return &o.V
}

// Walk calls f for the node and everything below it, until f returns false.
func (n *Node) Walk(f func(*Node) bool) bool {
	if !f(n) {
		return false
	}
	for i := range n.Inputs {
		if !n.Inputs[i].Walk(f) {
			return false
		}
	}
	if n.Fit != nil {
		for i := range n.Fit.Constants {
			if !n.Fit.Constants[i].Walk(f) {
				return false
			}
		}
		for _, d := range n.Fit.Data {
			for i := range d {
				if !d[i].Walk(f) {
					return false
				}
			}
		}
	}
	for i := range n.Beside {
		if !n.Beside[i].Walk(f) {
			return false
		}
	}
	return true
}
