package page

import (
	"fmt"
	"html/template"
	"strings"

	"sheetwash/analysis/derivation"
	"sheetwash/analysis/result"
	"sheetwash/api/report"
)

// fold is an entry of a page that opens from a number: how it came about.
type fold struct {
	ID   string
	Body template.HTML
}

// largest is how many bytes a page has at most because of its fold-outs. A number
// that comes after them has none; the command explain tells it.
var largest = map[Kind]int{EventPage: 280 << 10, RunPage: 900 << 10, SeasonPage: 1950 << 10}

// mostFolds is how many bytes of fold-outs a page has at most.
const mostFolds = 700 << 10

// What an entry and a button take besides their text, in bytes.
const (
	entryBytes  = 125
	buttonBytes = 60
)

// opening lists the columns whose numbers are the values that a derivation is of.
func opening(p *part) bool {
	return p.Key != "" && !p.Bare && (p.Col == "value" || p.Col == "rate_mm_h")
}

// openNumbers lets the numbers of a document open their derivations: on the page
// itself, or on a page of the service.
func (s *Site) openNumbers(d *document, kind Kind) error {
	if s.in.Explain == nil && s.in.Why == nil {
		return nil
	}
	var without counter
	if err := write(&without, d); err != nil {
		return err
	}
	f := &folds{site: s, kind: kind, left: min(largest[kind]-int(without), mostFolds), byRow: map[string]string{}, byBody: map[string]string{}}
	each := func(p phrase) {
		for i := range p {
			if q := &p[i]; opening(q) {
				if s.in.Why != nil {
					q.Href = s.in.Why(q.Key)
				} else {
					q.Open = f.row(q.Key)
					f.left -= buttonBytes
				}
			}
		}
	}
	d.numbers(each)
	d.Folds, d.Short, d.Foreign = f.list, f.short, s.in.Units == report.US
	return nil
}

// counter counts what is written to it.
type counter int

func (c *counter) Write(p []byte) (int, error) {
	*c += counter(len(p))
	return len(p), nil
}

// numbers calls f for the phrases of a document that may hold numbers: first what
// is said, then what tables and charts show, and what is folded away last.
func (d *document) numbers(f func(phrase)) {
	cells := func(t *table) {
		for _, row := range t.Rows {
			for _, c := range row {
				f(c)
			}
		}
	}
	var walk func(list []section, do func(*section))
	walk = func(list []section, do func(*section)) {
		for i := range list {
			do(&list[i])
			walk(list[i].Parts, do)
		}
	}
	walk(d.Sections, func(sec *section) {
		for _, p := range sec.Sentences {
			f(p)
		}
	})
	walk(d.Sections, func(sec *section) {
		for i := range sec.Tables {
			if !sec.Tables[i].Folded {
				cells(&sec.Tables[i])
			}
		}
		for i := range sec.Charts {
			cells(&sec.Charts[i].Table)
		}
	})
	walk(d.Sections, func(sec *section) {
		for i := range sec.Tables {
			if sec.Tables[i].Folded {
				cells(&sec.Tables[i])
			}
		}
	})
}

// folds collects the entries of a page. A tree that several numbers stand on is
// one entry.
type folds struct {
	site   *Site
	kind   Kind
	left   int // bytes
	short  bool
	list   []fold
	byRow  map[string]string // id by key
	byBody map[string]string // id by content
	top    map[string]string // id by name and value, within one tree
	why    func(string) string
	flat   bool // entries stand below each other and do not open
}

// row returns the id of the entry of a row; "" where there is none.
func (f *folds) row(key string) string {
	if id, ok := f.byRow[key]; ok {
		return id
	}
	f.byRow[key] = "" // a tree that holds its own key would not end
	if f.left <= 0 {
		f.short = true
		return ""
	}
	n := f.site.in.Explain(key)
	if n == nil {
		return ""
	}
	was := f.top
	f.top = map[string]string{}
	id := f.entry(n, true)
	f.top = was
	f.byRow[key] = id
	return id
}

// hasEntry reports whether a node is more than a value with its origin.
func hasEntry(n *derivation.Node) bool {
	return len(n.Inputs) > 0 || n.Fit != nil || len(n.LeftOut) > 0
}

// plain returns the only input of a node that is nothing but this input, under the
// node's name.
func plain(n *derivation.Node) *derivation.Node {
	if len(n.Inputs) != 1 || n.Equation != n.Inputs[0].Name || len(n.LeftOut) > 0 || n.Fit != nil || hasEntry(&n.Inputs[0]) {
		return n
	}
	in := n.Inputs[0].Named(n.Name)
	in.Note = strings.Trim(n.Note+"; "+in.Note, "; ")
	return &in
}

// entry adds the entry of a node, those of its inputs first, and returns its id.
func (f *folds) entry(n *derivation.Node, root bool) string {
	var b strings.Builder
	said := n.Said()
	fmt.Fprintf(&b, `<p><b>%s</b> %s`, esc(methodWord(n.Name)), esc(said.Value))
	if said.Interval != "" {
		fmt.Fprintf(&b, ` <i>%s</i>`, esc(said.Interval))
	}
	b.WriteString("</p>")
	if root {
		f.about(&b, n)
	}
	if said.Equation != "" {
		fmt.Fprintf(&b, `<p class="eq">= %s</p>`, esc(signs(said.Equation)))
	}
	if said.PutIn != "" {
		fmt.Fprintf(&b, `<p class="eq">= %s</p>`, esc(signs(said.PutIn)))
	}
	for _, o := range n.LeftOut {
		fmt.Fprintf(&b, `<p>Left out: %s: %s</p>`, esc(o.What), esc(o.Why))
	}
	if n.Fit != nil {
		f.fit(&b, n.Fit)
	}
	f.inputs(&b, n.Inputs)
	if root && len(n.Beside) > 0 {
		f.inputs(&b, n.Beside)
	}
	body := b.String()
	id, ok := f.byBody[body]
	if !ok {
		id = fmt.Sprint("w", len(f.list)+1)
		f.byBody[body] = id
		f.list = append(f.list, fold{id, template.HTML(body)}) // every text of it is escaped
		f.left -= len(body) + entryBytes
	}
	if f.top != nil {
		f.top[n.Name+said.Value] = id
	}
	return id
}

// about says by what method a row came about, and where that is published.
func (f *folds) about(b *strings.Builder, n *derivation.Node) {
	var said []string
	if n.Method != "" {
		said = append(said, "method "+methodWord(n.Method))
	}
	if n.Source != "" {
		said = append(said, "source: "+n.Source)
	}
	for _, flag := range n.Flags {
		said = append(said, flag.Word+": "+flag.Meaning)
	}
	if len(said) > 0 {
		fmt.Fprintf(b, `<p>%s</p>`, esc(strings.Join(said, "; ")))
	}
}

// inputs lists what an equation takes.
func (f *folds) inputs(b *strings.Builder, all []derivation.Node) {
	if len(all) == 0 {
		return
	}
	shown, more := derivation.Abridged(all)
	b.WriteString("<ul>")
	for i := range shown {
		if more > 0 && i == len(shown)-1 {
			fmt.Fprintf(b, "<li>and %d more like these</li>", more)
		}
		b.WriteString("<li>")
		f.input(b, &shown[i])
		b.WriteString("</li>")
	}
	b.WriteString("</ul>")
}

// input writes a value that an equation takes: it opens an entry of its own, leads
// to the page of its row, or says where it was read.
func (f *folds) input(b *strings.Builder, n *derivation.Node) {
	n = plain(n)
	said := n.Said()
	value := said.Value
	if n.Operation == derivation.List {
		value = fmt.Sprint("list of ", len(n.Inputs))
	}
	fmt.Fprintf(b, `<b>%s</b> `, esc(methodWord(n.Name)))
	id, href := "", ""
	switch {
	case hasEntry(n):
		id = f.entry(n, false)
	case n.Key != "" && f.why != nil:
		href = f.why(n.Key)
	case n.Key != "" && f.kind == SeasonPage:
		href = f.site.pageOf(n.Key)
	case n.Key != "" && f.site.in.Explain != nil:
		id = f.row(n.Key)
	case n.See != "":
		id = f.top[n.See+value]
	}
	switch {
	case id != "" && f.flat:
		fmt.Fprintf(b, `<a href="#%s">%s</a>`, id, esc(value))
	case id != "":
		fmt.Fprintf(b, `<button type="button" class="why" popovertarget="%s">%s</button>`, id, esc(value))
	case href != "":
		fmt.Fprintf(b, `<a href="%s">%s</a>`, esc(href), esc(value))
	default:
		b.WriteString(esc(value))
	}
	origin := said.Origin
	if id != "" && n.See != "" || n.Key != "" && (id != "" || href != "") {
		origin = n.Note
	}
	if n.Key != "" {
		if _, values, ok := result.ParseKey(n.Key); ok && len(values) > 2 {
			origin = strings.Trim(strings.Join([]string{values[1] + ", plot " + values[2], n.Note}, "; "), "; ")
		}
	}
	if origin != "" {
		fmt.Fprintf(b, ` <i>%s</i>`, esc(origin))
	}
}

// fit writes a fit: what was made least, its parameters and its data.
func (f *folds) fit(b *strings.Builder, fit *derivation.Fit) {
	what := "Least squares: sum of (" + fit.Residual + ")²"
	if len(fit.Terms) > 0 {
		what = "Maximum likelihood: minus its logarithm, less a constant,"
	}
	if fit.Penalty != "" {
		what += " + " + fit.Penalty
	}
	fmt.Fprintf(b, `<p class="eq">%s is %s at its least, over %d data</p>`, esc(signs(what)), derivation.Rounded(fit.Objective, 0), len(fit.Data))
	for _, d := range fit.Definitions {
		fmt.Fprintf(b, `<p class="eq">%s = %s</p>`, esc(d.Name), esc(signs(d.Equation)))
	}
	b.WriteString("<ul>")
	for _, p := range fit.Parameters {
		note := p.Held
		if p.Tied != "" {
			note = "= " + p.Tied
		}
		fmt.Fprintf(b, `<li>parameter <b>%s</b> %s <i>%s</i></li>`, esc(methodWord(p.Name)), esc(strings.TrimSpace(derivation.Rounded(p.Value, 0)+" "+readable(p.Unit))), esc(note))
	}
	for i := range fit.Constants {
		b.WriteString("<li>")
		f.input(b, &fit.Constants[i])
		b.WriteString("</li>")
	}
	b.WriteString("</ul>")
	f.data(b, fit)
}

// data writes the data of a fit as a table.
func (f *folds) data(b *strings.Builder, fit *derivation.Fit) {
	if len(fit.Data) == 0 {
		return
	}
	b.WriteString("<table><tr>")
	for i := range fit.Data[0] {
		fmt.Fprintf(b, `<th scope="col">%s</th>`, esc(methodWord(fit.Data[0][i].Name)))
	}
	b.WriteString("</tr>")
	shown := derivation.Abridge(len(fit.Data))
	for k, d := range fit.Data {
		if k == shown && k < len(fit.Data)-1 {
			fmt.Fprintf(b, `<tr><td colspan="%d">and %d more</td></tr>`, len(d), len(fit.Data)-shown-1)
		}
		if k >= shown && k < len(fit.Data)-1 {
			continue
		}
		b.WriteString("<tr>")
		for i := range d {
			text, u := "", 0.0
			if d[i].U != nil {
				u = *d[i].U
			}
			if d[i].Value != nil {
				text = derivation.Rounded(*d[i].Value, u)
			}
			if i >= len(fit.Data[0]) || d[i].Name != fit.Data[0][i].Name {
				text = methodWord(d[i].Name) + " " + text
			}
			fmt.Fprintf(b, "<td>%s</td>", esc(text))
		}
		b.WriteString("</tr>")
	}
	b.WriteString("</table>")
}

// pageOf is where the run of a row lies; "" where it has no page.
func (s *Site) pageOf(key string) string {
	_, values, ok := result.ParseKey(key)
	if !ok || len(values) < 2 {
		return ""
	}
	r, ok := s.findRun(Target{Dataset: values[0], Run: values[1]})
	if !ok {
		return ""
	}
	return s.link(r.target)
}

// signs writes an equation with the sign of multiplication.
func signs(equation string) string { return strings.ReplaceAll(equation, " * ", " × ") }

func esc(text string) string { return template.HTMLEscapeString(text) }
