package mapping

import (
	"slices"
	"strings"

	"sheetwash/ingest/issue"
	"sheetwash/ingest/table"
	"sheetwash/ingest/units"
)

// field finds a header that the mapping names: as written, or else the only one
// that is the same in small letters with blanks, dashes and dots as underscores.
func (o *opener) field(fields []table.Field, header string, line int, tableName string) (int, bool) {
	header = strings.TrimSpace(header)
	like := -1
	var all []string
	for i, f := range fields {
		if f.Name == header {
			return i, true
		}
		all = append(all, f.Name)
		if units.Normalise(f.Name) == units.Normalise(header) {
			if like >= 0 {
				o.fault(line, NoSuchColumn, tableName, header, "%q may be %q or %q; write the header as it stands", header, fields[like].Name, f.Name)
				return 0, false
			}
			like = i
		}
	}
	if like >= 0 {
		return like, true
	}
	o.fault(line, NoSuchColumn, tableName, header, "the file has no column %q%s; its columns are %s", header, didYouMean(header, all), shortList(all))
	return 0, false
}

// shortList joins names for a message, the first dozen of them.
func shortList(all []string) string {
	const most = 12
	if len(all) > most {
		return strings.Join(all[:most], ", ") + ", …"
	}
	return strings.Join(all, ", ")
}

// rule makes the binding that one rule of the mapping asks for.
func (o *opener) rule(b *binder, bound *Bound, s *Source, r *Rule, opened table.Table) {
	c, ok := findTarget(bound.Table, r.Name)
	if !ok {
		return // reported by Parse
	}
	binding := c.binding()
	binding.Translate, binding.Missing, binding.Clock = r.Translate, r.Missing, r.Clock
	binding.Header = r.Name
	b.fixed[bound.Table.Name+"/"+c.name] = true
	if !o.fill(&binding, b, s, r, opened) {
		b.byName[bound.Table.Name+"/"+c.name] = r.Name // reported, so not missing as well
		return
	}
	b.byName[bound.Table.Name+"/"+c.name] = binding.Header
	switch {
	case r.HasUnit:
		binding.Unit, binding.Canonical = r.Unit, c.canonical(r.Unit)
	case c.numeric():
		h, metadata := units.Header{}, ""
		if binding.Source >= 0 {
			f := b.fields[binding.Source]
			h, _ = units.Split(f.Name, func(string) bool { return false })
			metadata = f.Unit
		}
		if !b.chooseUnit(c, &binding, h, metadata) {
			return
		}
	}
	bound.Bindings = append(bound.Bindings, binding)
	bound.Wide = bound.Wide || c.channel != ""
}

// fill sets where the cells of a binding come from.
func (o *opener) fill(binding *Binding, b *binder, s *Source, r *Rule, opened table.Table) bool {
	switch {
	case r.Constant != nil:
		binding.Constant = *r.Constant
		if binding.Numeric && b.t.DecimalComma() {
			binding.Constant = otherMark(binding.Constant, false) // a mapping writes 0.75 whatever its file does
		}
	case r.FileName != nil:
		m := r.FileName.FindStringSubmatch(opened.Name())
		if m == nil {
			o.fault(r.Line, BadValue, s.Table, r.Name, "the file name %q does not fit the pattern %q (names are compared in small letters, without extension)", opened.Name(), r.FileName)
			return false
		}
		binding.Constant = m[1]
	case r.Compose != nil:
		for _, p := range r.Compose {
			part := Part{Field: -1, Literal: p.Literal}
			if p.Header != "" {
				i, ok := o.field(b.fields, p.Header, r.Line, s.Table)
				if !ok {
					return false
				}
				part = Part{Field: i}
			}
			binding.Compose = append(binding.Compose, part)
		}
		binding.Header = composedHeader(r.Compose)
	default:
		i, ok := o.field(b.fields, r.From, r.Line, s.Table)
		if !ok {
			return false
		}
		binding.Source, binding.Header = i, b.fields[i].Name
		b.used[i] = true
	}
	return true
}

// composedHeader names the first header of a composed text, for findings.
func composedHeader(pieces []Piece) string {
	if i := slices.IndexFunc(pieces, func(p Piece) bool { return p.Header != "" }); i >= 0 {
		return pieces[i].Header
	}
	return ""
}

// conditions ties conditions to the fields that they test.
func (o *opener) conditions(fields []table.Field, all []Condition, tableName string) []fieldCondition {
	var out []fieldCondition
	for _, c := range all {
		if i, ok := o.field(fields, c.Header, c.Line, tableName); ok {
			f := fieldCondition{field: i, words: map[string]bool{}}
			for _, w := range c.Words {
				f.words[w] = true
			}
			out = append(out, f)
		}
	}
	return out
}

func (o *opener) filter(s *Source, t table.Table, used map[string]bool) table.Table {
	f := &filtered{Table: t, where: o.conditions(t.Fields(), s.Where, s.Table), skip: o.conditions(t.Fields(), s.Skip, s.Table)}
	for _, c := range append(slices.Clone(f.where), f.skip...) {
		used[t.Fields()[c.field].Name] = true
	}
	return f
}

func (o *opener) unpivot(s *Source, t table.Table, used map[string]bool) (table.Table, bool) {
	u, left := newUnpivoted(t, s.Unpivot)
	if u == nil {
		o.fault(s.Unpivot.Line, NoSuchColumn, s.Table, "", "no header fits the pattern %q; the headers are %s", s.Unpivot.Columns, shortList(left))
		return nil, false
	}
	for _, i := range u.sources() {
		used[t.Fields()[i].Name] = true
	}
	return u, true
}

// warn adds a warning at a row of a file to the issues of a batch.
func warn(b *table.Batch, code issue.Code, file, tableName string, row int64, column, value, message string) {
	b.Issues.Add(issue.Issue{Code: code, Severity: issue.Warning, File: file, Table: tableName, Row: row, Column: column, Value: value, Message: message})
}
