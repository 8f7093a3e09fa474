package mapping

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"strings"

	"sheetwash/ingest/issue"
	"sheetwash/ingest/schema"
	"sheetwash/ingest/table"
)

// Open opens everything that the mapping feeds and binds it, in the order of
// the data dictionary and within a table in that of the mapping. What is wrong
// is added to issues, the Issues of the opened tables included: at the line of
// the mapping file, or at the header. The Bounds come also where there are
// errors, as far as they could be made; the caller closes the Source of each.
// The error is for I/O and ctx.
func (m *Map) Open(ctx context.Context, files Files, issues *issue.List) ([]*Bound, error) {
	o := &opener{m: m, files: files, issues: issues, seen: map[Location]*usage{}}
	var out []*Bound
	for i := range m.Sources {
		bounds, err := o.source(ctx, &m.Sources[i])
		out = append(out, bounds...)
		if err != nil {
			for _, b := range out {
				b.Source.Close()
			}
			return nil, err
		}
	}
	o.reportUnused()
	return out, nil
}

type opener struct {
	m      *Map
	files  Files
	issues *issue.List
	seen   map[Location]*usage
	order  []Location
}

// usage is which headers of a file were read, over all its sources.
type usage struct {
	file, table string
	fields      []table.Field
	read        map[string]bool
}

func (o *opener) fault(line int, code issue.Code, tableName, column, format string, args ...any) {
	o.issues.Add(issue.Issue{
		Code: code, Severity: issue.Error, File: o.m.File, Table: tableName, Row: int64(line), Column: column,
		Message: fmt.Sprintf(format, args...),
	})
}

func (o *opener) source(ctx context.Context, s *Source) ([]*Bound, error) {
	names := o.matching(s.File)
	if len(names) == 0 {
		o.fault(s.Line, NoSuchFile, s.Table, "", "no file of the dataset is called %q%s", s.File, didYouMean(s.File, o.files.Names()))
		return nil, nil
	}
	var out []*Bound
	for _, n := range names {
		at := s.Location
		at.File = n
		t, err := o.open(ctx, at, s.Table)
		if err != nil {
			return out, err
		}
		b, err := o.bind(ctx, s, at, t)
		if err != nil {
			t.Close()
			return out, err
		}
		if b == nil {
			if err := t.Close(); err != nil {
				return out, err
			}
			continue
		}
		out = append(out, b)
	}
	return out, nil
}

// matching returns the files of that name or pattern; a plain name is also found in other case.
func (o *opener) matching(pattern string) []string {
	var exact, folded []string
	for _, n := range o.files.Names() {
		switch {
		case matchFile(pattern, n):
			exact = append(exact, n)
		case strings.EqualFold(pattern, n):
			folded = append(folded, n)
		}
	}
	if exact == nil {
		return folded
	}
	return exact
}

// open opens a table in the mapping's format and takes over its issues, once
// for all sources that read it.
func (o *opener) open(ctx context.Context, at Location, tableName string) (table.Table, error) {
	key := at
	at.Format = merge(at.Format, o.m.Format)
	t, err := o.files.Open(ctx, at)
	if err != nil {
		return nil, fmt.Errorf("open %s: %w", at.File, err)
	}
	if o.seen[key] == nil {
		o.issues.AddAll(t.Issues())
		o.seen[key] = &usage{file: t.File(), table: tableName, fields: t.Fields(), read: map[string]bool{}}
		o.order = append(o.order, key)
	}
	return t, nil
}

func merge(f, from Format) Format {
	if f.Delimiter == "" {
		f.Delimiter = from.Delimiter
	}
	if f.Decimal == "" {
		f.Decimal = from.Decimal
	}
	if f.Encoding == "" {
		f.Encoding = from.Encoding
	}
	return f
}

// bind joins, unpivots and filters an opened table as the source says and binds
// its columns; nil where the table could not be read.
func (o *opener) bind(ctx context.Context, s *Source, at Location, t table.Table) (*Bound, error) {
	if t.Issues().Errors() > 0 {
		return nil, nil
	}
	v := view{Table: t}
	used := o.seen[at].read
	current := table.Table(v)
	for _, j := range s.Joins {
		joined, err := o.join(ctx, s, j, current, used)
		if err != nil {
			return nil, err
		}
		current = joined
	}
	if s.Unpivot != nil {
		u, ok := o.unpivot(s, current, used)
		if !ok {
			return nil, nil
		}
		current = u
	}
	if len(s.Where)+len(s.Skip) > 0 {
		current = o.filter(s, current, used)
	}
	return o.columns(s, t, current, used), nil
}

// columns binds the columns that the source names, and with OwnHeaders the others.
func (o *opener) columns(s *Source, opened, current table.Table, used map[string]bool) *Bound {
	dictionary, _ := schema.Find(s.Table)
	b := newBinder(current, opened.File(), o.issues)
	b.add(dictionary)
	bound := b.bounds[0]
	bound.Zone = o.m.Zone
	for i := range s.Columns {
		o.rule(b, bound, s, &s.Columns[i], opened)
	}
	for _, h := range s.Covariates {
		if i, ok := o.field(b.fields, h, s.Line, s.Table); ok {
			b.addCovariate(bound, i)
		}
	}
	if s.OwnHeaders {
		b.matchHeaders()
		if s.Covariates == nil {
			b.leftOver()
			for i, f := range b.fields { // kept, or noted as not read
				used[f.Name] = true
				b.used[i] = true
			}
		}
	}
	b.checkForm(bound)
	b.checkRequired(bound)
	order(bound)
	for i, f := range b.fields {
		used[f.Name] = used[f.Name] || b.used[i] || bound.Want()[i]
	}
	for i := range bound.Bindings {
		bound.Bindings[i].Missing = o.missing(s, bound.Bindings[i].Missing)
	}
	return bound
}

// missing returns the words of a column over those of its source over those of the map.
func (o *opener) missing(s *Source, own map[string]Meaning) map[string]Meaning {
	if len(own)+len(s.Missing)+len(o.m.Missing) == 0 {
		return nil
	}
	out := map[string]Meaning{}
	for _, words := range []map[string]Meaning{o.m.Missing, s.Missing, own} {
		maps.Copy(out, words)
	}
	return out
}

// reportUnused notes every header that no source of its file reads.
func (o *opener) reportUnused() {
	for _, at := range o.order {
		u := o.seen[at]
		var left []string
		for _, f := range u.fields {
			if !u.read[f.Name] {
				left = append(left, f.Name)
			}
		}
		for _, h := range slices.Compact(left) {
			o.issues.Add(issue.Issue{
				Code: ColumnUnused, Severity: issue.Note, File: u.file, Table: u.table, Column: h,
				Message: "the mapping does not name this column; it is not read",
			})
		}
	}
}

// view is an opened table whose issues have been taken over.
type view struct{ table.Table }

// Issues returns an empty list.
func (view) Issues() *issue.List { return &issue.List{} }
