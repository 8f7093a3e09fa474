package derivation

import "strings"

// Said is a node in words for people, part by part, for whoever lays out a tree in
// another way than Text.
type Said struct {
	Value    string // with uncertainty and unit; "" for a list
	Interval string // with its level; "": none
	Equation string // or what is done with the inputs
	PutIn    string // the equation with the values of its inputs; "": it speaks of lists
	Origin   string // where the value was read, or what is noted of it
}

// Said puts a node into words, rounded as Text rounds.
func (n *Node) Said() Said {
	s := Said{Value: value(n), Equation: equation(n), Origin: details(n)}
	if n.Censored != "right" && n.Low != nil || n.Censored != "left" && n.High != nil {
		s.Interval = interval(n)
	}
	if n.Equation != "" {
		s.PutIn = n.putIn()
	}
	return s
}

// putIn replaces the names of an equation by the values of the inputs.
func (n *Node) putIn() string {
	values := map[string]string{}
	for i := range n.Inputs {
		in := &n.Inputs[i]
		if in.Value == nil {
			return ""
		}
		u := 0.0
		if in.U != nil {
			u = *in.U
		}
		values[in.Name] = figure(*in.Value, u)
	}
	var b strings.Builder
	for rest := n.Equation; rest != ""; {
		word := len(rest) - len(strings.TrimLeftFunc(rest, named))
		if word == 0 {
			b.WriteByte(rest[0])
			rest = rest[1:]
			continue
		}
		name := rest[:word]
		if v, ok := values[name]; ok {
			name = v
		}
		b.WriteString(name)
		rest = rest[word:]
	}
	if b.String() == n.Equation {
		return ""
	}
	return b.String()
}

// named reports whether a letter may stand in a name or a number of an equation.
func named(r rune) bool {
	return r == '_' || r == '.' || r >= '0' && r <= '9' || r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z'
}

// Rounded writes a number as Text does: to the second digit of its uncertainty, or
// to six digits where u is 0.
func Rounded(v, u float64) string { return figure(v, u) }

// Abridged returns those of alike siblings that are shown, and how many before the
// last are not.
func Abridged(all []Node) (shown []Node, more int) { return abridged(all) }

// Abridge returns how many of n data are shown before a gap: all, or some and the
// last.
func Abridge(n int) int {
	if n > mostLeaves {
		return shownAlike
	}
	return n
}
