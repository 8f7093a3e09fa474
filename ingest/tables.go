package ingest

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"

	"sheetwash/ingest/issue"
	"sheetwash/ingest/mapping"
	"sheetwash/ingest/schema"
	"sheetwash/ingest/table"
)

// tables is what a dataset's files hold: bounds in the order of the data
// dictionary, those of one joined table sharing a Source.
type tables struct {
	bounds []*mapping.Bound
	opened []table.Table   // besides the sources of bounds
	broken map[string]bool // tables of the dictionary that could not be opened
	issues *issue.List
}

func (t *tables) close() error {
	var errs []error
	closed := map[table.Table]bool{}
	for _, b := range t.bounds {
		if !closed[b.Source] {
			closed[b.Source] = true
			errs = append(errs, b.Source.Close())
		}
	}
	for _, o := range t.opened {
		if !closed[o] {
			closed[o] = true
			errs = append(errs, o.Close())
		}
	}
	return errors.Join(errs...)
}

// candidate is an opened table that no mapping names.
type candidate struct {
	table table.Table
	holds []string // tables of the dictionary, in its order
	named bool     // after one of them
}

// openTables opens the files of a dataset and says which table of the data
// dictionary each feeds.
func (t *tables) openTables(ctx context.Context, files []file, m *mapping.Map, l Limits) error {
	fed := map[string]string{} // table of the dictionary: file that feeds it
	if m != nil {
		bounds, err := m.Open(ctx, datasetFiles{files, l}, t.issues)
		t.bounds = bounds
		if err != nil {
			return err
		}
		for _, b := range bounds {
			fed[b.Table.Name] = b.Source.File()
			t.measure(b.Source, l)
		}
	}
	var found []candidate
	for _, f := range files {
		if f.role != roleTable || m != nil && m.Uses(f.name) {
			continue
		}
		opened, issues, err := openAll(ctx, f, l)
		t.opened = append(t.opened, opened...)
		if err != nil {
			return err
		}
		t.issues.AddAll(issues)
		for _, o := range opened {
			t.measure(o, l)
			c := candidate{table: o, holds: mapping.Recognise(o.Name(), o.Fields())}
			_, c.named = schema.Find(o.Name())
			found = append(found, c)
		}
	}
	t.assign(found, fed, m != nil)
	t.sort()
	return nil
}

// measure refuses a table with more columns than are allowed.
func (t *tables) measure(o table.Table, l Limits) {
	if n := len(o.Fields()); l.Columns > 0 && n > l.Columns {
		t.issues.Add(issue.Issue{Code: TableTooWide, Severity: issue.Error, File: o.File(), Row: 1,
			Message: fmt.Sprintf("the table has %d columns, more than the %d that are allowed: leave out what is not used", n, l.Columns)})
	}
}

// assign binds the candidates. Files named after a table come first; a joined
// table gives only what no other table has.
func (t *tables) assign(found []candidate, fed map[string]string, mapped bool) {
	for _, c := range found {
		if !c.named {
			continue
		}
		if other, twice := fed[c.table.Name()]; twice {
			t.duplicate(c.table, other, c.table.Name())
			continue
		}
		fed[c.table.Name()] = c.table.File()
	}
	for _, named := range []bool{true, false} {
		for _, c := range found {
			if c.named != named {
				continue
			}
			if named && fed[c.table.Name()] != c.table.File() {
				continue // the second of two
			}
			t.bind(c, fed)
		}
	}
	if len(t.bounds) == 0 && len(found) > 0 && !mapped && t.issues.Errors() == 0 {
		for _, c := range found {
			t.issues.Add(issue.Issue{Code: TableUnknown, Severity: issue.Error, File: c.table.File(), Row: 1,
				Message: "the headers are not those of the data dictionary: rename the columns, or describe them in mapping.yaml (the command map proposes one)"})
		}
	}
}

// bind resolves one candidate's headers and records what it feeds.
func (t *tables) bind(c candidate, fed map[string]string) {
	if unreadable(c.table) {
		t.issues.AddAll(c.table.Issues())
		for _, h := range append(c.holds, c.table.Name()) {
			t.broken[h] = true
		}
		return
	}
	var holds []string
	for _, h := range c.holds {
		switch other := fed[h]; {
		case other == "" || other == c.table.File():
			holds = append(holds, h)
		case !c.named && (h == "samples" || h == c.holds[len(c.holds)-1]):
			t.duplicate(c.table, other, h)
			return
		}
	}
	if len(holds) == 0 {
		t.issues.Add(unusedTable(c.table))
		return
	}
	t.issues.AddAll(c.table.Issues())
	for _, h := range holds {
		fed[h] = c.table.File()
	}
	t.bounds = append(t.bounds, mapping.Resolve(c.table, holds, t.issues)...)
}

// unreadable reports whether a table has no header that could be bound: the
// file is empty or damaged, and its issues say so.
func unreadable(t table.Table) bool {
	if len(t.Fields()) == 0 {
		return true
	}
	return slices.ContainsFunc(t.Issues().All(), func(i issue.Issue) bool {
		return i.Severity == issue.Error && i.Code != table.CodeHeaderDuplicate && fileFault(i.Code)
	})
}

// fileFault reports whether a code is about the bytes of a file, so that rows of
// it are missing.
func fileFault(c issue.Code) bool {
	family, _, _ := strings.Cut(string(c), ".")
	return slices.Contains([]string{"file", "csv", "text", "columnar", "header", "workbook", "table", "zip"}, family)
}

// bindingFault reports whether a code is about which columns feed a table, so
// that cells of it are missing.
func bindingFault(c issue.Code) bool {
	family, _, _ := strings.Cut(string(c), ".")
	return slices.Contains([]string{"column", "unit", "mapping", "package"}, family)
}

// brokenTables returns the tables of the dictionary of which rows are missing.
func (t *tables) brokenTables() map[string]bool {
	files := map[string]bool{}
	for _, i := range t.issues.All() {
		switch {
		case i.Severity != issue.Error:
		case fileFault(i.Code):
			files[i.File] = true
		case i.Table != "" && bindingFault(i.Code):
			t.broken[i.Table] = true
		}
	}
	for _, b := range t.bounds {
		if files[b.Source.File()] {
			t.broken[b.Table.Name] = true
		}
	}
	return t.broken
}

func (t *tables) duplicate(second table.Table, first, name string) {
	t.issues.Add(issue.Issue{Code: TableDuplicate, Severity: issue.Error, File: second.File(), Table: name,
		Message: fmt.Sprintf("%s and %s both hold the table %s: keep one of them", first, second.File(), name)})
}

// sort puts the bounds into the order of the data dictionary, keeping the order
// of several sources of one table.
func (t *tables) sort() {
	order := map[string]int{}
	for i, s := range schema.Tables() {
		order[s.Name] = i
	}
	slices.SortStableFunc(t.bounds, func(a, b *mapping.Bound) int { return order[a.Table.Name] - order[b.Table.Name] })
}

// missing reports the tables without which the others have no meaning.
func (t *tables) missing(file string) {
	has := maps.Clone(t.broken)
	for _, b := range t.bounds {
		has[b.Table.Name] = true
	}
	need := func(name string, columns ...string) {
		t.broken[name] = true
		t.issues.Add(issue.Issue{Code: TableMissing, Severity: issue.Error, File: file, Table: name,
			Message: fmt.Sprintf("there is no table of %s, and its required columns (%s) stand in no other: add %s.csv or the columns", name, strings.Join(columns, ", "), name)})
	}
	if (has["plots"] || has["samples"] || has["readings"]) && !has["runs"] {
		need("runs", "run", "rain_duration")
	}
	if (has["samples"] || has["runs"] || has["readings"]) && !has["plots"] {
		need("plots", "run", "plot", "treatment", "area")
	}
}
