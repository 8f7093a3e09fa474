package mapping

import (
	"errors"
	"regexp"
	"slices"
	"strings"

	"go.yaml.in/yaml/v3"

	"sheetwash/ingest/issue"
	"sheetwash/ingest/schema"
	"sheetwash/ingest/units"
)

// rule reads one of our columns: the header that feeds it, or keys that say more.
func (d *document) rule(t *schema.Table, e entry) (Rule, bool) {
	c, ok := findTarget(t, e.key.Value)
	if !ok {
		d.fault(UnknownKey, e.key, "the table %s has no column %q%s", t.Name, e.key.Value, didYouMean(e.key.Value, names(t)))
		return Rule{}, false
	}
	r := Rule{Name: e.key.Value, Line: e.key.Line}
	if e.value.Kind == yaml.ScalarNode {
		r.From, ok = d.text(e.value, "the header of "+r.Name)
		return r, ok
	}
	ways := 0
	for _, k := range d.entries(e.value, "the column "+r.Name, "from", "constant", "compose", "file_name", "unit", "translate", "missing", "clock") {
		switch k.key.Value {
		case "from":
			ways++
			r.From, _ = d.text(k.value, "from")
		case "constant":
			ways++
			if s, ok := d.text(k.value, "constant"); ok {
				s = strings.TrimSpace(s)
				r.Constant = &s
			}
		case "compose":
			ways++
			r.Compose = d.compose(k.value)
		case "file_name":
			ways++
			r.FileName = d.pattern(k.value, "file_name")
		default:
			d.ruleDetail(c, k, &r)
		}
	}
	if ways != 1 {
		d.fault(Syntax, e.key, "the column %s needs exactly one of from, constant, compose and file_name", r.Name)
	}
	return r, true
}

// ruleDetail reads the keys that say how the cells of a column are to be read.
func (d *document) ruleDetail(c target, k entry, r *Rule) {
	switch k.key.Value {
	case "unit":
		d.unit(c, k.value, r)
	case "translate":
		r.Translate = map[string]string{}
		for _, w := range d.entries(k.value, "translate") {
			if s, ok := d.text(w.value, "a translation"); ok {
				r.Translate[strings.TrimSpace(w.key.Value)] = s
				d.translation(c, w.value, s)
			}
		}
	case "missing":
		r.Missing = d.missing(k.value)
	case "clock":
		if r.Clock = d.bool(k.value, "clock"); c.column == nil || c.column.Kind != schema.Time {
			d.fault(BadValue, k.key, "only columns of times take clock, and %s is none", r.Name)
		}
	}
}

func (d *document) unit(c target, n *yaml.Node, r *Rule) {
	s, ok := d.text(n, "unit")
	if !ok {
		return
	}
	if !c.numeric() {
		d.fault(BadValue, n, "the column %s has no unit", r.Name)
		return
	}
	u, err := units.Resolve(s, c.dimensions()...)
	if err != nil {
		code := units.UnknownUnit
		if errors.Is(err, units.ErrDimension) {
			code = units.OtherKind
		}
		d.fault(code, n, "column %s: %v", r.Name, err)
		return
	}
	for _, note := range u.Notes {
		d.issues.Add(issue.Issue{
			Code: note.Code, Severity: issue.Note, File: d.file, Table: c.table.Name, Row: int64(n.Line), Column: r.Name, Value: s, Message: note.Message,
		})
	}
	r.Unit, r.HasUnit = u.Unit, true
}

// translation reports a translation into a word that the column does not take.
func (d *document) translation(c target, n *yaml.Node, word string) {
	if c.column != nil && c.column.Kind == schema.Word && word != "" && !slices.Contains(c.column.Words, word) {
		d.fault(BadValue, n, "%s is one of %s, not %q", c.name, strings.Join(c.column.Words, ", "), word)
	}
}

// compose reads text with headers in braces: "{slope} deg, {rainfall}". Doubled
// braces stand for themselves.
func (d *document) compose(n *yaml.Node) []Piece {
	s, ok := d.text(n, "compose")
	if !ok {
		return nil
	}
	var out []Piece
	var literal strings.Builder
	for s != "" {
		at := strings.IndexAny(s, "{}")
		if at < 0 {
			literal.WriteString(s)
			break
		}
		literal.WriteString(s[:at])
		if strings.HasPrefix(s[at:], "{{") || strings.HasPrefix(s[at:], "}}") {
			literal.WriteByte(s[at])
			s = s[at+2:]
			continue
		}
		end := strings.IndexByte(s[at:], '}')
		if s[at] == '}' || end < 0 {
			d.fault(BadValue, n, "a brace without its partner; write {{ or }} for a brace in the text")
			return nil
		}
		if literal.Len() > 0 {
			out = append(out, Piece{Literal: literal.String()})
			literal.Reset()
		}
		out = append(out, Piece{Header: strings.TrimSpace(s[at+1 : at+end])})
		s = s[at+end+1:]
	}
	if literal.Len() > 0 {
		out = append(out, Piece{Literal: literal.String()})
	}
	if !slices.ContainsFunc(out, func(p Piece) bool { return p.Header != "" }) {
		d.fault(BadValue, n, "compose names no column; write headers in braces, or use constant")
		return nil
	}
	return out
}

// pattern reads a regular expression with at least one group.
func (d *document) pattern(n *yaml.Node, what string) *regexp.Regexp {
	s, ok := d.text(n, what)
	if !ok {
		return nil
	}
	re, err := regexp.Compile(s)
	if err != nil {
		d.fault(BadValue, n, "%s: %v", what, err)
		return nil
	}
	if re.NumSubexp() == 0 {
		d.fault(BadValue, n, "%s needs a group in parentheses that says which part is meant", what)
	}
	return re
}

func (d *document) conditions(n *yaml.Node, what string) []Condition {
	var out []Condition
	for _, e := range d.entries(n, what) {
		c := Condition{Header: e.key.Value, Line: e.key.Line}
		for _, w := range d.texts(e.value, "a word of "+what) {
			c.Words = append(c.Words, strings.TrimSpace(w))
		}
		out = append(out, c)
	}
	return out
}

func (d *document) join(n *yaml.Node) Join {
	j := Join{Line: n.Line}
	allowed := append([]string{"file", "sheet", "range", "on"}, formatKeys...)
	for _, e := range d.entries(n, "join", allowed...) {
		if e.key.Value != "on" {
			d.location(e, &j.Location)
			continue
		}
		if e.value.Kind == yaml.MappingNode {
			for _, k := range d.entries(e.value, "on") {
				if there, ok := d.text(k.value, "on"); ok {
					j.On = append(j.On, KeyPair{Here: k.key.Value, There: there})
				}
			}
			continue
		}
		for _, h := range d.texts(e.value, "on") {
			j.On = append(j.On, KeyPair{Here: h, There: h})
		}
	}
	switch {
	case n.Kind != yaml.MappingNode:
	case j.File == "" || len(j.On) == 0:
		d.fault(Syntax, n, "a join needs a file and the key column to join it on")
	case strings.ContainsAny(j.File, "*?["):
		d.fault(BadValue, n, "a join takes one file, not a pattern")
	}
	return j
}

func (d *document) unpivot(n *yaml.Node) *Unpivot {
	u := &Unpivot{DropEmpty: true, Line: n.Line}
	for _, e := range d.entries(n, "unpivot", "columns", "value", "drop_empty") {
		switch e.key.Value {
		case "columns":
			u.Columns = d.pattern(e.value, "columns")
		case "value":
			u.Value, _ = d.text(e.value, "value")
		case "drop_empty":
			u.DropEmpty = d.bool(e.value, "drop_empty")
		}
	}
	if n.Kind != yaml.MappingNode {
		return u
	}
	if u.Columns == nil {
		d.fault(Syntax, n, "unpivot needs columns, a pattern for the headers that become rows")
		return u
	}
	seen := map[string]bool{}
	for _, g := range u.Columns.SubexpNames()[1:] {
		if g == "" || seen[g] {
			d.fault(BadValue, n, "every group of the pattern needs a name of its own: (?P<end>[0-9]+)")
		}
		seen[g] = true
	}
	if seen[measureGroup] == (u.Value != "") {
		d.fault(Syntax, n, "unpivot needs either value, the name of the new column, or a group named measure in the pattern")
	}
	return u
}

// measureGroup is the group of an unpivot pattern that names the new column.
const measureGroup = "measure"
