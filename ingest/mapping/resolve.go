package mapping

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"sheetwash/analysis/quantity"
	"sheetwash/ingest/issue"
	"sheetwash/ingest/schema"
	"sheetwash/ingest/table"
	"sheetwash/ingest/units"
)

// The findings of this package, besides those of units.
const (
	ColumnMissing   issue.Code = "column.missing"   // a required column is not there
	ColumnDuplicate issue.Code = "column.duplicate" // two headers stand for one column
	ColumnUnused    issue.Code = "column.unused"    // a column that nothing reads
	ColumnCovariate issue.Code = "column.covariate" // a column kept as a covariate
	UnitDefault     issue.Code = "unit.default"     // no unit stated, the default taken
	UnitConflict    issue.Code = "unit.conflict"    // header and field metadata disagree
	UnitMissing     issue.Code = "unit.missing"     // no unit stated where there is no default
	UnitIgnored     issue.Code = "unit.ignored"     // a unit on a column of text
	ReadingsForm    issue.Code = "readings.form"    // long and wide form in one table
)

// Resolve binds an opened table whose headers are those of the data dictionary
// to the named tables of it: one, or several for a joined table. There a column
// that more than one of them has goes to the most specific (samples before plots
// before runs); run and plot go to each. It reports missing required columns,
// columns given twice, units that are unknown or of the wrong dimension, and
// notes what was assumed or left unused. The Bounds share the table.
func Resolve(t table.Table, tables []string, issues *issue.List) []*Bound {
	b := newBinder(t, t.File(), issues)
	for _, n := range tables {
		if s, ok := schema.Find(n); ok {
			b.add(s)
		}
	}
	b.matchHeaders()
	b.finish()
	return b.bounds
}

// binder ties the fields of one table to one or more tables of the dictionary.
type binder struct {
	t      table.Table
	file   string
	fields []table.Field
	issues *issue.List
	bounds []*Bound
	used   []bool            // per field
	byName map[string]string // table/column to the header bound to it
	fixed  map[string]bool   // table/column that a mapping names: a header of that name is then another column
}

func newBinder(t table.Table, file string, issues *issue.List) *binder {
	return &binder{
		t: t, file: file, fields: t.Fields(), issues: issues,
		used: make([]bool, len(t.Fields())), byName: map[string]string{}, fixed: map[string]bool{},
	}
}

func (b *binder) add(s *schema.Table) { b.bounds = append(b.bounds, &Bound{Table: s, Source: b.t}) }

func (b *binder) report(severity issue.Severity, code issue.Code, tableName, column, format string, args ...any) {
	b.issues.Add(issue.Issue{
		Code: code, Severity: severity, File: b.file, Table: tableName, Column: column,
		Message: fmt.Sprintf(format, args...),
	})
}

// specific returns the bounds from the most specific to the most general one.
func (b *binder) specific() []*Bound {
	out := slices.Clone(b.bounds)
	slices.Reverse(out)
	return out
}

// matchHeaders binds every unused field whose header is a name of the dictionary.
func (b *binder) matchHeaders() {
	var doubtful []int
	for i, f := range b.fields {
		if b.used[i] || strings.TrimSpace(f.Name) == "" {
			continue
		}
		if !b.matchHeader(i, f) {
			doubtful = append(doubtful, i)
		}
	}
	for _, i := range doubtful {
		b.matchSuffix(i, b.fields[i])
	}
}

// targetOf takes a header apart and finds the table that it belongs to.
func (b *binder) targetOf(header string) (target, units.Header, bool) {
	for _, bound := range b.specific() {
		known := func(name string) bool {
			c, ok := findTarget(bound.Table, name)
			return ok && !c.analyte
		}
		h, ok := units.Split(header, known)
		if !ok {
			continue
		}
		c, _ := findTarget(bound.Table, h.Name)
		if h.Unit != "" && !h.Bracketed && !c.numeric() {
			continue // a text column has no unit: "plot_size" is not "plot"
		}
		return c, h, true
	}
	return target{}, units.Header{}, false
}

// matchHeader binds field i and reports whether that is settled; it is not for
// a suffix that is no unit.
func (b *binder) matchHeader(i int, f table.Field) bool {
	c, h, ok := b.targetOf(f.Name)
	if !ok {
		return b.matchAnalyte(i, f)
	}
	if b.fixed[c.table.Name+"/"+c.name] {
		return true
	}
	if h.Unit != "" && !h.Bracketed {
		if _, err := units.Resolve(h.Unit, c.dimensions()...); errors.Is(err, units.ErrUnknown) {
			return false
		}
	}
	b.bind(c, i, f, h)
	return true
}

// matchSuffix decides about "volume_x" where x is no unit: an error if nothing
// else is the volume, and otherwise a column of its own.
func (b *binder) matchSuffix(i int, f table.Field) {
	c, h, ok := b.targetOf(f.Name)
	if !ok || h.Unit == "" || h.Bracketed || b.byName[c.table.Name+"/"+c.name] != "" || b.keepsCovariates() {
		return
	}
	b.used[i] = true
	b.report(issue.Error, units.UnknownUnit, c.table.Name, f.Name,
		"%q is read as the column %s, but %q is no unit known here; write the unit in brackets, such as %s [%s], or rename the column",
		f.Name, c.name, h.Unit, c.name, c.defaultUnit())
}

// matchAnalyte binds "analyte_nitrate [mg/L]" and "analyte_nitrate_mg_L".
func (b *binder) matchAnalyte(i int, f table.Field) bool {
	h, _ := units.Split(f.Name, func(string) bool { return false })
	for _, bound := range b.bounds {
		c, ok := findTarget(bound.Table, h.Name)
		if !ok || !c.analyte {
			continue
		}
		if !h.Bracketed {
			for at := len(analytePrefix) + 1; at < len(f.Name); at++ {
				if strings.IndexByte("_. ", f.Name[at]) < 0 {
					continue
				}
				if _, err := units.Resolve(f.Name[at+1:], quantity.Concentration); err == nil {
					c.name, h.Unit = units.Normalise(f.Name[:at]), f.Name[at+1:]
					break
				}
			}
		}
		b.bind(c, i, f, h)
		return true
	}
	return false
}

// bind ties field i to a target, in every table that shares the key.
func (b *binder) bind(c target, i int, f table.Field, h units.Header) {
	b.used[i] = true
	key := c.table.Name + "/" + c.name
	if first := b.byName[key]; first != "" {
		b.report(issue.Error, ColumnDuplicate, c.table.Name, f.Name,
			"%q and %q both stand for the column %s; rename or remove one of them", first, f.Name, c.name)
		return
	}
	for _, bound := range b.bounds {
		own := bound.Table == c.table
		if !own && c.name != "run" && (c.name != "plot" || c.column == nil) {
			continue
		}
		mine, ok := findTarget(bound.Table, c.name)
		if !ok {
			if !own {
				continue
			}
			mine = c
		}
		binding := mine.binding()
		binding.Source, binding.Header = i, f.Name
		b.byName[bound.Table.Name+"/"+c.name] = f.Name
		if b.chooseUnit(mine, &binding, h, f.Unit) {
			bound.Bindings = append(bound.Bindings, binding)
			bound.Wide = bound.Wide || mine.channel != ""
		}
	}
}

// chooseUnit sets the binding's units from the header, the field's metadata or
// the default, and reports false after an error.
func (b *binder) chooseUnit(c target, binding *Binding, h units.Header, metadata string) bool {
	stated := h.Unit
	if stated == "" {
		stated = metadata
	}
	if !c.numeric() {
		if stated != "" {
			b.report(issue.Note, UnitIgnored, c.table.Name, binding.Header, "%q in the header of a column of text is ignored", stated)
		}
		return true
	}
	if stated == "" {
		return b.defaultUnit(c, binding)
	}
	r, err := units.Resolve(stated, c.dimensions()...)
	if err != nil {
		b.unitError(c, binding.Header, stated, err)
		return false
	}
	if h.Unit != "" && metadata != "" {
		if m, err := units.Resolve(metadata, c.dimensions()...); err != nil || !m.Unit.Equal(r.Unit) {
			b.report(issue.Error, UnitConflict, c.table.Name, binding.Header,
				"the header says %q and the field's metadata say %q; make them agree", h.Unit, metadata)
			return false
		}
	}
	for _, n := range r.Notes {
		b.report(issue.Note, n.Code, c.table.Name, binding.Header, "%s", n.Message)
	}
	binding.Unit, binding.Canonical = r.Unit, c.canonical(r.Unit)
	return true
}

func (b *binder) defaultUnit(c target, binding *Binding) bool {
	code := c.defaultUnit()
	switch {
	case code != "":
		binding.Unit = quantity.MustParse(code)
		binding.Canonical = c.canonical(binding.Unit)
		b.report(issue.Note, UnitDefault, c.table.Name, binding.Header, "no unit is stated; numbers are taken to be in %s", code)
	case c.analyte:
		b.report(issue.Warning, UnitMissing, c.table.Name, binding.Header,
			"no unit is stated for an analyte, which has no default; name one, such as %s [mg/L]", c.name)
	}
	return true
}

func (b *binder) unitError(c target, header, stated string, err error) {
	code, want := units.UnknownUnit, ""
	if errors.Is(err, units.ErrDimension) {
		code = units.OtherKind
	}
	if d := c.defaultUnit(); d != "" {
		want = fmt.Sprintf("; state one of the dimension of %s", d)
	}
	b.report(issue.Error, code, c.table.Name, header, "%v%s", err, want)
}
