package mapping_test

import (
	"context"
	"fmt"
	"io/fs"
	"maps"
	"slices"
	"strings"
	"testing"

	"sheetwash/ingest/issue"
	"sheetwash/ingest/mapping"
	"sheetwash/ingest/table"
)

// files is a dataset in memory.
type files map[string]string

func (f files) Names() []string { return slices.Sorted(maps.Keys(f)) }

func (f files) Open(_ context.Context, at mapping.Location) (table.Table, error) {
	text, ok := f[at.File]
	if !ok {
		return nil, fs.ErrNotExist
	}
	var opt table.TextOptions
	if at.Delimiter != "" {
		opt.Delimiter = at.Delimiter[0]
	}
	return table.OpenText(at.File, "", strings.NewReader(text), opt)
}

// open opens one text table.
func open(t *testing.T, file, text string) table.Table {
	t.Helper()
	tab, err := table.OpenText(file, "", strings.NewReader(text), table.TextOptions{})
	if err != nil {
		t.Fatal(err)
	}
	return tab
}

// codes returns "severity code column" of every issue, in order.
func codes(l *issue.List) []string {
	var out []string
	for _, i := range l.All() {
		out = append(out, strings.TrimSpace(fmt.Sprintf("%s %s %s", i.Severity, i.Code, i.Column)))
	}
	return out
}

// bindings returns "table.name <- header [unit > canonical]" of every binding.
func bindings(bounds []*mapping.Bound) []string {
	var out []string
	for _, b := range bounds {
		for _, x := range b.Bindings {
			s := fmt.Sprintf("%s.%s <- %s", x.Table, x.Name, x.Header)
			if x.Numeric && x.Unit.Code != "" {
				s += fmt.Sprintf(" [%s > %s]", x.Unit, x.Canonical)
			}
			out = append(out, s)
		}
	}
	return out
}

// cells scans a bound and returns its rows, "row|cell|cell" with the text of
// every binding's cell before translation, and the findings of the rows.
func cells(t *testing.T, b *mapping.Bound) ([]string, *issue.List) {
	t.Helper()
	type part struct {
		rows   []string
		issues *issue.List
	}
	var out []string
	var issues issue.List
	err := b.Source.Scan(t.Context(), table.ScanOptions{Workers: 2, Want: b.Want()}, func(batch *table.Batch) any {
		p := part{issues: &batch.Issues}
		for i := range batch.N {
			row := []string{fmt.Sprint(batch.Row(i))}
			for _, x := range b.Bindings {
				row = append(row, cell(batch, &x, i))
			}
			p.rows = append(p.rows, strings.Join(row, "|"))
		}
		return p
	}, func(x any) {
		out = append(out, x.(part).rows...)
		issues.AddAll(x.(part).issues)
	})
	if err != nil {
		t.Fatal(err)
	}
	return out, &issues
}

func cell(b *table.Batch, x *mapping.Binding, i int) string {
	switch {
	case x.Source >= 0:
		return text(&b.Cols[x.Source], i)
	case x.Compose == nil:
		return x.Constant
	}
	s := ""
	for _, p := range x.Compose {
		if p.Field < 0 {
			s += p.Literal
		} else {
			s += text(&b.Cols[p.Field], i)
		}
	}
	return s
}

func text(c *table.Column, i int) string {
	if c.IsNull(i) {
		return "null"
	}
	switch c.Kind {
	case table.Text:
		return string(c.Bytes(i))
	case table.Dict:
		return c.Words[c.Codes[i]]
	case table.Float:
		return fmt.Sprint(c.Float[i])
	case table.Int:
		return fmt.Sprint(c.Int[i])
	}
	return fmt.Sprint(c.Bool[i])
}

func parse(t *testing.T, text string) *mapping.Map {
	t.Helper()
	m, issues := mapping.Parse([]byte(text), "mapping.yaml")
	if m == nil {
		t.Fatalf("Parse: %v", issues.All())
	}
	return m
}

func equal(t *testing.T, what string, got, want []string) {
	t.Helper()
	if !slices.Equal(got, want) {
		t.Errorf("%s:\n got  %s\n want %s", what, strings.Join(got, "\n      "), strings.Join(want, "\n      "))
	}
}
