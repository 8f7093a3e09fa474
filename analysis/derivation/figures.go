package derivation

import (
	"math"
	"strconv"
	"strings"
)

// value writes the value of a node with its uncertainty and unit.
func value(n *Node) string {
	if n.Operation == List {
		return ""
	}
	if n.Value == nil {
		return "no value"
	}
	side := map[string]string{"right": "at least ", "left": "at most "}[n.Censored]
	if n.U == nil || !(*n.U > 0) {
		return side + withUnit(figure(*n.Value, 0), n.Unit)
	}
	return side + withUnit(figure(*n.Value, *n.U)+" ± "+figure(*n.U, *n.U), n.Unit)
}

func withUnit(figure, unit string) string {
	if unit == "" || unit == "1" {
		return figure
	}
	return figure + " " + unit
}

// interval writes the limits of a node.
func interval(n *Node) string {
	u := 0.0
	if n.U != nil {
		u = *n.U
	}
	level := strconv.FormatFloat(100*n.Level, 'g', 4, 64) + " %: "
	switch {
	case n.High == nil:
		return level + "from " + figure(*n.Low, u)
	case n.Low == nil:
		return level + "up to " + figure(*n.High, u)
	}
	return level + figure(*n.Low, u) + " to " + figure(*n.High, u)
}

// figure writes a number to the second digit of its uncertainty, or to six
// digits where it has none.
func figure(v, u float64) string {
	size := math.Abs(v)
	if v == 0 && u == 0 {
		return "0"
	}
	if size >= 1e7 || size < 1e-4 && u < 1e-4 {
		return strconv.FormatFloat(v, 'g', 4, 64)
	}
	decimals := 5 - int(math.Floor(math.Log10(size)))
	if u > 0 {
		decimals = min(decimals+4, 1-int(math.Floor(math.Log10(u))))
	}
	text := strconv.FormatFloat(v, 'f', min(max(decimals, 0), 12), 64)
	if u == 0 && strings.Contains(text, ".") {
		text = strings.TrimRight(strings.TrimRight(text, "0"), ".")
	}
	return text
}

// equation writes what a node does with its inputs.
func equation(n *Node) string {
	switch {
	case n.Operation != "" && n.Operation != List:
		return string(n.Operation) + " of " + strconv.Itoa(len(n.Inputs))
	}
	return n.Equation
}

// details writes where a value comes from.
func details(n *Node) string {
	var out []string
	if n.From != nil {
		out = append(out, n.From.text())
	}
	switch n.See {
	case "":
	case n.Name:
		out = append(out, "as above")
	default:
		out = append(out, "see "+n.See)
	}
	if n.Key != "" && len(n.Data) == 0 && len(n.Inputs) == 0 && n.Value != nil {
		out = append(out, n.Key)
	}
	if n.Note != "" {
		out = append(out, n.Note)
	}
	return strings.Join(out, "; ")
}

func (p *Place) text() string {
	out := p.File
	if p.Dataset != "" {
		out = p.Dataset + "/" + out
	}
	if p.Row > 0 {
		out += " row " + strconv.FormatInt(p.Row, 10)
	}
	switch {
	case p.Header != "":
		out += ", " + strconv.Quote(p.Header) + " (" + p.Column + ")"
	case p.Column != "":
		out += ", " + p.Column
	}
	return out
}
