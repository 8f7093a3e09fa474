package store

import (
	"context"
	"fmt"
	"strconv"
	"strings"
	"time"
)

// listing describes the rows of one kind: where they lie, who may see them, and by
// what they filter and sort.
type listing[T any] struct {
	from    string                   // tables and fixed conditions, ending in a WHERE
	columns string                   // what read reads
	group   string                   // GROUP BY, or empty
	id      string                   // column that is unique; breaks ties
	season  string                   // column that the scope is about
	see     func(*statement, Scope)  // the scope's condition where it is not that of one column
	filters map[string][]string      // field of Filter: columns one of which must match
	via     map[string]string        // field of Filter: start of a condition around the column, closed by ")"
	at      string                   // column for From and To, or empty
	changed string                   // column for ChangedSince, or empty
	sorts   map[string]sortBy        // besides "id", which is text unless it stands here
	read    func(scanner) (T, error) // columns to a record
}

// sortBy is a column to sort by; it is never null.
type sortBy struct {
	column string
	number bool
}

// get reads one row by its id, in scope.
func (l *listing[T]) get(ctx context.Context, r *Reader, s Scope, id string) (T, error) {
	q := statement{}
	q.add("SELECT " + l.columns + " FROM " + l.from + " AND ")
	l.scope(&q, s)
	q.add(" AND "+l.id+" = ?", id)
	q.add(" " + l.group)
	return one(ctx, r, q, l.read)
}

// scope adds the condition that a caller may see a row.
func (l *listing[T]) scope(q *statement, s Scope) {
	if l.see != nil {
		l.see(q, s)
		return
	}
	q.scope(l.season, s)
}

// keyed is a row with the value that it sorts by and its id.
type keyed[T any] struct {
	row T
	key []string
}

// page reads a page of the list.
func (l *listing[T]) page(ctx context.Context, r *Reader, s Scope, f Filter, p Page) (List[T], error) {
	order, down, err := l.order(p.Sort)
	if err != nil {
		return List[T]{}, err
	}
	q := statement{}
	q.add("SELECT " + order.column + ", " + l.id + ", " + l.columns + " FROM " + l.from + " AND ")
	l.scope(&q, s)
	if err := l.filter(&q, f); err != nil {
		return List[T]{}, err
	}
	direction, beyond := "", " > "
	if down {
		direction, beyond = " DESC", " < "
	}
	if p.After != nil {
		key, err := order.key(p.After)
		if err != nil {
			return List[T]{}, err
		}
		if order.column == l.id {
			q.add(" AND "+l.id+beyond+"?", key[0])
		} else {
			q.add(" AND ("+order.column+", "+l.id+")"+beyond+"(?, ?)", key...)
		}
	}
	q.add(" " + l.group + " ORDER BY " + order.column + direction + ", " + l.id + direction + " LIMIT ?")
	q.args = append(q.args, max(1, p.Limit)+1)
	rows, err := all(ctx, r, q, func(scan scanner) (k keyed[T], err error) {
		k.key = make([]string, 2)
		k.row, err = l.read(func(to ...any) error { return scan(append([]any{&k.key[0], &k.key[1]}, to...)...) })
		return k, err
	})
	if err != nil {
		return List[T]{}, err
	}
	return cut(rows, max(1, p.Limit)), nil
}

// cut makes a page of at most limit of the rows.
func cut[T any](rows []keyed[T], limit int) List[T] {
	list := List[T]{Rows: make([]T, 0, len(rows))}
	if len(rows) > limit {
		rows = rows[:limit]
		list.More, list.Next = true, rows[limit-1].key
	}
	for _, k := range rows {
		list.Rows = append(list.Rows, k.row)
	}
	return list
}

// order finds the column that a list sorts by.
func (l *listing[T]) order(sort string) (by sortBy, down bool, err error) {
	name, down := strings.CutPrefix(sort, "-")
	if name == "" || name == "id" {
		_, number := l.sorts["id"]
		return sortBy{l.id, number}, down, nil
	}
	by, ok := l.sorts[name]
	if !ok {
		return by, down, fmt.Errorf("%w: %q", ErrSort, name)
	}
	return by, down, nil
}

// key turns a page's After into arguments.
func (by sortBy) key(after []string) ([]any, error) {
	if len(after) != 2 {
		return nil, ErrCursor
	}
	if !by.number {
		return []any{after[0], after[1]}, nil
	}
	n, err := strconv.ParseInt(after[0], 10, 64)
	if err != nil {
		return nil, ErrCursor
	}
	return []any{n, after[1]}, nil
}

// filter adds the conditions of a filter, or refuses one that the list lacks.
func (l *listing[T]) filter(q *statement, f Filter) error {
	for _, field := range []struct {
		name   string
		values []string
	}{
		{"seasons", f.Seasons}, {"events", f.Events}, {"datasets", f.Datasets}, {"runs", f.Runs},
		{"plots", f.Plots}, {"treatments", f.Treatments}, {"states", f.States},
	} {
		columns, ok := l.filters[field.name]
		if len(field.values) == 0 {
			continue
		}
		if !ok {
			return fmt.Errorf("%w: %s", ErrFilter, field.name)
		}
		q.add(" AND (" + l.via[field.name])
		for i, column := range columns {
			if i > 0 {
				q.add(" OR ")
			}
			q.in(column, field.values)
		}
		q.add(")")
		if l.via[field.name] != "" {
			q.add(")")
		}
	}
	for _, bound := range []struct {
		column, compare string
		at              time.Time
	}{{l.at, " >= ?", f.From}, {l.at, " < ?", f.To}, {l.changed, " >= ?", f.ChangedSince}} {
		if bound.at.IsZero() {
			continue
		}
		if bound.column == "" {
			return fmt.Errorf("%w: times", ErrFilter)
		}
		q.add(" AND "+bound.column+bound.compare, micros(bound.at))
	}
	return nil
}

// scope adds the condition that a caller may see the season in a column.
func (q *statement) scope(column string, s Scope) {
	switch {
	case s.All:
		q.add("1 = 1")
		return
	case len(s.Seasons) == 0 && !s.Published:
		q.add("1 = 0")
		return
	}
	q.add("(")
	if len(s.Seasons) > 0 {
		q.in(column, s.Seasons)
		if s.Published {
			q.add(" OR ")
		}
	}
	if s.Published {
		q.add(column + " IN (SELECT published_seasons.id FROM seasons AS published_seasons WHERE published_seasons.published)")
	}
	q.add(")")
}

// owned is the scope for writing: being published gives no right to write.
func (s Scope) owned() Scope { return Scope{All: s.All, Seasons: s.Seasons} }
