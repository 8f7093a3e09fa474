package derivation

import (
	"math"
	"reflect"
)

// identity is by what a node is looked for among those above it.
type identity struct {
	name, unit, equation, note string
	operation                  Operation
	value                      uint64
}

// Shorten leaves each value that occurs several times with the same tree below it
// its tree at the first place, and lets the others point there (See).
func (n *Node) Shorten() {
	seen := map[identity]Node{}
	n.shorten(seen)
	for i := range n.Beside {
		n.Beside[i].shorten(seen)
	}
}

func (n *Node) shorten(seen map[identity]Node) {
	for i := range n.Inputs {
		n.Inputs[i].pointed(seen)
	}
	if n.Fit == nil {
		return
	}
	for i := range n.Fit.Constants {
		n.Fit.Constants[i].pointed(seen)
	}
	for _, d := range n.Fit.Data {
		for i := range d {
			d[i].pointed(seen)
		}
	}
}

// pointed shortens a node, or what is below it.
func (n *Node) pointed(seen map[identity]Node) {
	if len(n.Inputs) == 0 || n.Value == nil || n.Operation == List || n.Fit != nil {
		n.shorten(seen)
		return
	}
	id := identity{n.Name, n.Unit, n.Equation, n.Note, n.Operation, math.Float64bits(*n.Value)}
	if first, ok := seen[id]; ok && reflect.DeepEqual(first, *n) {
		*n = Node{Name: n.Name, Value: n.Value, Unit: n.Unit, U: n.U, See: n.Name, Note: n.Note}
		return
	}
	if _, ok := seen[id]; !ok {
		seen[id] = n.Copy()
	}
	n.shorten(seen)
}

// Copy returns the tree without anything in common with it but what it points to as values.
func (n *Node) Copy() Node {
	out := *n
	out.Inputs, out.Beside = copies(n.Inputs), copies(n.Beside)
	if n.Fit != nil {
		f := *n.Fit
		f.Constants = copies(f.Constants)
		f.Data = make([]Datum, len(n.Fit.Data))
		for i, d := range n.Fit.Data {
			f.Data[i] = copies(d)
		}
		out.Fit = &f
	}
	return out
}

func copies(nodes []Node) []Node {
	if nodes == nil {
		return nil
	}
	out := make([]Node, len(nodes))
	for i := range nodes {
		out[i] = nodes[i].Copy()
	}
	return out
}
