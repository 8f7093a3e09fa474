package report

import (
	"fmt"
	"slices"
	"strings"

	"sheetwash/analysis/result"
)

// Where says which rows of a table are wanted: per column of words or truths, the
// cells that will do. flags and flag are matched by word.
type Where map[string][]string

// Select returns an analysis that holds the wanted rows of one table and nothing
// else, in their order. The error names a table or column that does not exist, or
// a column of numbers.
func Select(a *result.Analysis, table string, where Where) (*result.Analysis, error) {
	for _, t := range tables() {
		if t.describe(SI).Name == table {
			return t.selectRows(a, where)
		}
	}
	return nil, fmt.Errorf("there is no result table %q", table)
}

// Selectable lists the columns of a table that Where may name.
func (t Table) Selectable() []string {
	var out []string
	for _, c := range t.Columns {
		if c.Kind == Text && c.Name != "value" && c.Name != "message" || c.Kind == Bool {
			out = append(out, c.Name)
		}
	}
	return out
}

func (s *sheet[R]) selectRows(a *result.Analysis, where Where) (*result.Analysis, error) {
	tests, err := s.tests(where)
	if err != nil {
		return nil, err
	}
	r := s.rows(a)
	var kept []R
	var scratch []R
	for from := 0; from < r.n; from += blockRows {
		scratch = r.block(from, min(r.n, from+blockRows), scratch)
		for i := range scratch {
			if !slices.ContainsFunc(tests, func(ok func(*R) bool) bool { return !ok(&scratch[i]) }) {
				kept = append(kept, scratch[i])
			}
		}
	}
	out := &result.Analysis{}
	s.put(out, kept)
	return out, nil
}

// tests returns what a wanted row must pass.
func (s *sheet[R]) tests(where Where) ([]func(*R) bool, error) {
	selectable := s.describe(SI).Selectable()
	var out []func(*R) bool
	for name, words := range where {
		i := slices.IndexFunc(s.columns, func(c column[R]) bool { return c.Name == name })
		if i < 0 || !slices.Contains(selectable, name) {
			return nil, fmt.Errorf("rows of %s are not chosen by %q, but by %s", s.name, name, strings.Join(selectable, ", "))
		}
		c := &s.columns[i]
		switch {
		case c.boolean != nil:
			out = append(out, func(r *R) bool { return slices.Contains(words, fmt.Sprint(c.boolean(r))) })
		case c.isUnit:
			out = append(out, func(r *R) bool { return slices.Contains(words, s.unit(r)) })
		case name == "flags" || name == "flag":
			out = append(out, func(r *R) bool {
				return slices.ContainsFunc(strings.Fields(c.text(r)), func(f string) bool {
					return slices.Contains(words, f) || slices.Contains(words, result.WordOf(f))
				})
			})
		default:
			out = append(out, func(r *R) bool { return slices.Contains(words, c.text(r)) })
		}
	}
	return out, nil
}

// courses gathers steps under their courses again.
func courses(rows []step) []result.Course {
	var out []result.Course
	var last *result.Course
	for _, r := range rows {
		if r.Course != last {
			out = append(out, *r.Course)
			out[len(out)-1].Steps = nil
			last = r.Course
		}
		c := &out[len(out)-1]
		c.Steps = append(c.Steps, *r.Step)
	}
	return out
}
