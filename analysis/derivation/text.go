package derivation

import (
	"fmt"
	"strconv"
	"strings"
	"unicode/utf8"
)

// Layout says how a tree is written for people. Zero: 79 columns, all levels.
type Layout struct {
	Width int // columns
	Depth int // levels below the root
}

// Alike siblings with trees of their own are shown up to mostAlike, leaves up to
// mostLeaves; the rest is counted.
const (
	mostAlike  = 12
	mostLeaves = 40
	shownAlike = 4
)

// Text writes the tree for people: values rounded by their uncertainties, siblings
// aligned, lines wrapped.
func (n *Node) Text(l Layout) string {
	w := writer{width: l.Width, depth: l.Depth}
	if w.width <= 0 {
		w.width = 79
	}
	w.root(n)
	for i := range n.Beside {
		w.b.WriteByte('\n')
		w.root(&n.Beside[i])
	}
	if n.Budget != nil {
		w.budget(n.Budget)
	}
	w.b.WriteByte('\n')
	for _, d := range n.Data {
		w.wrapped("", "        ", "Data    "+d.Dataset+", SHA-256 "+d.SHA256)
	}
	if n.Program != "" {
		w.wrapped("", "        ", "Program "+n.Program)
	}
	return w.b.String()
}

// writer writes a tree.
type writer struct {
	b            strings.Builder
	width, depth int
}

// root writes a node with all that is said of it, and its tree.
func (w *writer) root(n *Node) {
	head := n.Name + "   " + value(n)
	if n.Censored != "right" && n.Low != nil || n.Censored != "left" && n.High != nil {
		head += "   (" + interval(n) + ")"
	}
	w.line(head)
	if n.Key != "" {
		w.line(n.Key)
	}
	if n.Method != "" {
		w.wrapped("", "  ", "method "+n.Method)
	}
	if d := details(n); d != "" {
		w.wrapped("", "  ", d)
	}
	for _, f := range n.Flags {
		w.wrapped("", "  ", "flag "+f.Word+": "+f.Meaning)
	}
	if n.Source != "" {
		w.wrapped("", "  ", "source: "+n.Source)
	}
	if equation(n) != "" || len(n.Inputs) > 0 || n.Fit != nil || len(n.LeftOut) > 0 {
		w.b.WriteByte('\n')
		w.body(n, "", "", 0)
	}
}

// node writes a node below another: its name and value in columns, and where it
// comes from; first stands before its first line, rest before the others.
func (w *writer) node(n *Node, first, rest string, columns [2]int, level int) {
	head := first + pad(n.Name, columns[0])
	v := value(n)
	if n.Operation == List {
		v = "list of " + strconv.Itoa(len(n.Inputs))
	}
	if v != "" {
		head += "  " + v
	}
	d := details(n)
	if d != "" {
		column := utf8.RuneCountInString(first) + columns[0] + columns[1] + 4
		head = pad(head, column-2)
		if column > w.width-24 || utf8.RuneCountInString(head) > column-2 {
			w.line(strings.TrimRight(head, " "))
			w.wrapped(rest+"   ", rest+"   ", d)
		} else {
			w.wrapped(head+"  ", rest+strings.Repeat(" ", column-utf8.RuneCountInString(rest)), d)
		}
	} else {
		w.line(strings.TrimRight(head, " "))
	}
	w.body(n, rest, rest, level)
}

// body writes the equation of a node, what it left out, its fit and its inputs.
func (w *writer) body(n *Node, first, rest string, level int) {
	cut := w.depth > 0 && level >= w.depth
	bar := first + "   "
	switch {
	case level == 0:
		bar = ""
	case len(n.Inputs) > 0 && !cut:
		bar = first + "│  "
	}
	if e := equation(n); e != "" {
		w.wrapped(bar+"= ", bar+"  ", e)
	}
	for _, o := range n.LeftOut {
		text := "left out: " + o.What + ": " + o.Why
		if o.From != nil {
			text += " (" + o.From.text() + ")"
		}
		w.wrapped(bar, bar+"  ", text)
	}
	if n.Fit != nil {
		w.fit(n.Fit, bar)
	}
	if !cut {
		w.children(n.Inputs, rest, level+1)
	}
}

// children writes siblings, their names and values aligned.
func (w *writer) children(all []Node, rest string, level int) {
	shown, more := abridged(all)
	var columns [2]int
	for i := range shown {
		columns[0] = max(columns[0], utf8.RuneCountInString(shown[i].Name))
		columns[1] = max(columns[1], utf8.RuneCountInString(value(&shown[i])))
	}
	columns[1] = min(columns[1], 22)
	for i := range shown {
		branch, below := "├─ ", "│  "
		if i == len(shown)-1 {
			branch, below = "└─ ", "   "
		}
		w.node(&shown[i], rest+branch, rest+below, columns, level)
		if more > 0 && i == len(shown)-2 {
			w.line(rest + "⋮  " + strconv.Itoa(more) + " more like these")
		}
	}
}

// abridged returns the siblings that are shown, and how many alike ones before
// the last are not.
func abridged(all []Node) (shown []Node, more int) {
	most := mostLeaves
	for i := range all {
		if all[i].Name != all[0].Name {
			return all, 0
		}
		if len(all[i].Inputs) > 0 {
			most = mostAlike
		}
	}
	if len(all) <= most {
		return all, 0
	}
	shown = append(append(shown, all[:shownAlike]...), all[len(all)-1])
	return shown, len(all) - len(shown)
}

// fit writes a fit: what was made least, the parameters and the data.
func (w *writer) fit(f *Fit, bar string) {
	objective := "least squares: sum of (" + f.Residual + ")^2"
	if len(f.Terms) > 0 {
		objective = "maximum likelihood: minus its logarithm, less a constant,"
	}
	if f.Penalty != "" {
		objective += " + " + f.Penalty
	}
	w.wrapped(bar, bar+"  ", objective+" is "+figure(f.Objective, 0)+" at its least, over "+strconv.Itoa(len(f.Data))+" data")
	for _, d := range f.Definitions {
		w.wrapped(bar+"  ", bar+"    ", d.Name+" = "+d.Equation)
	}
	var list [][3]string
	for _, p := range f.Parameters {
		why := ""
		switch {
		case p.Tied != "":
			why = "= " + p.Tied
		case p.Held != "":
			why = "held: " + p.Held
		}
		list = append(list, [3]string{"parameter " + p.Name, withUnit(figure(p.Value, 0), p.Unit), why})
	}
	for i := range f.Constants {
		c := &f.Constants[i]
		list = append(list, [3]string{"constant  " + c.Name, value(c), details(c)})
	}
	var widths [2]int
	for _, l := range list {
		widths[0], widths[1] = max(widths[0], utf8.RuneCountInString(l[0])), max(widths[1], utf8.RuneCountInString(l[1]))
	}
	for _, l := range list {
		head := bar + pad(l[0], widths[0]) + "  " + pad(l[1], widths[1])
		if l[2] == "" {
			w.line(strings.TrimRight(head, " "))
			continue
		}
		w.wrapped(head+"  ", bar+strings.Repeat(" ", widths[0]+widths[1]+4), l[2])
	}
	w.data(f, bar)
}

// data writes the data of a fit as a table.
func (w *writer) data(f *Fit, bar string) {
	if len(f.Data) == 0 {
		return
	}
	head := bar + " "
	for i := range f.Data[0] {
		head += fmt.Sprintf(" %13s", f.Data[0][i].Name)
	}
	w.line(head)
	for k, d := range f.Data {
		if len(f.Data) > mostLeaves && k >= shownAlike && k < len(f.Data)-1 {
			if k == shownAlike {
				w.line(bar + "  ⋮ " + strconv.Itoa(len(f.Data)-shownAlike-1) + " more")
			}
			continue
		}
		row := bar + " "
		for i := range d {
			u := 0.0
			if d[i].U != nil {
				u = *d[i].U
			}
			text := ""
			if d[i].Value != nil {
				text = figure(*d[i].Value, u)
			}
			if i >= len(f.Data[0]) || d[i].Name != f.Data[0][i].Name {
				text = d[i].Name + " " + text
			}
			row += fmt.Sprintf(" %13s", text)
		}
		w.line(row)
	}
}

func (w *writer) line(text string) {
	w.b.WriteString(text)
	w.b.WriteByte('\n')
}

// wrapped writes text behind first, and behind rest on the lines after it. A key
// that is longer than a line is broken behind a slash.
func (w *writer) wrapped(first, rest, text string) {
	current, blank := first, ""
	room := func(part string) bool {
		return utf8.RuneCountInString(current)+utf8.RuneCountInString(blank)+utf8.RuneCountInString(part) <= w.width
	}
	put := func(part string) {
		current, blank = current+blank+part, ""
	}
	for _, word := range strings.Fields(text) {
		if !room(word) && blank != "" {
			w.line(current)
			current, blank = rest, ""
		}
		for !room(word) && strings.Contains(word, "/") {
			part, left, _ := strings.Cut(word, "/")
			if !room(part+"/") && strings.TrimLeft(current, " │├└─") != "" {
				w.line(current)
				current = rest
			}
			put(part + "/")
			word = left
		}
		if !room(word) && strings.HasSuffix(current, "/") {
			w.line(current)
			current = rest
		}
		put(word)
		blank = " "
	}
	w.line(current)
}

func pad(text string, width int) string {
	if n := width - utf8.RuneCountInString(text); n > 0 {
		return text + strings.Repeat(" ", n)
	}
	return text
}
