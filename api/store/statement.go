package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"strings"
	"time"
	"unicode/utf8"
)

// Reader reads records.
type Reader struct {
	on      database
	dialect Dialect
	clock   func() time.Time
}

// database is what *sql.DB and *sql.Tx have in common.
type database interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
	ExecContext(ctx context.Context, query string, args ...any) (sql.Result, error)
}

// scanner reads the columns of a row.
type scanner func(...any) error

// statement is SQL with its arguments. Text is always ours; what comes from
// outside is always an argument.
type statement struct {
	text strings.Builder
	args []any
}

func (q *statement) add(text string, args ...any) {
	q.text.WriteString(text)
	q.args = append(q.args, args...)
}

// in adds a condition that a column has one of the values.
func (q *statement) in(column string, values []string) {
	q.text.WriteString(column)
	q.text.WriteString(" IN (")
	for i, v := range values {
		if i > 0 {
			q.text.WriteByte(',')
		}
		q.add("?", v)
	}
	q.text.WriteByte(')')
}

// ErrText says that a text holds what no database keeps: a NUL or bytes that are
// not UTF-8.
var ErrText = errors.New("a text holds a NUL or is not UTF-8")

func (q *statement) check() error {
	for _, a := range q.args {
		if s, ok := a.(string); ok && (strings.ContainsRune(s, 0) || !utf8.ValidString(s)) {
			return ErrText
		}
	}
	return nil
}

// exec runs a statement and returns the number of rows that it changed.
func (r *Reader) exec(ctx context.Context, q statement) (int64, error) {
	if err := q.check(); err != nil {
		return 0, err
	}
	ctx, cancel := context.WithTimeout(ctx, statementLimit)
	defer cancel()
	result, err := r.on.ExecContext(ctx, r.dialect.numbered(q.text.String()), q.args...)
	if err != nil {
		return 0, err
	}
	return result.RowsAffected()
}

// all reads every row that a statement returns.
func all[T any](ctx context.Context, r *Reader, q statement, read func(scanner) (T, error)) ([]T, error) {
	if err := q.check(); err != nil {
		return nil, err
	}
	ctx, cancel := context.WithTimeout(ctx, statementLimit)
	defer cancel()
	rows, err := r.on.QueryContext(ctx, r.dialect.numbered(q.text.String()), q.args...)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	found := []T{}
	for rows.Next() {
		row, err := read(rows.Scan)
		if err != nil {
			return nil, fmt.Errorf("read a row: %w", err)
		}
		found = append(found, row)
	}
	return found, rows.Err()
}

// one reads the row that a statement returns, or returns ErrNotFound.
func one[T any](ctx context.Context, r *Reader, q statement, read func(scanner) (T, error)) (T, error) {
	rows, err := all(ctx, r, q, read)
	if err == nil && len(rows) == 0 {
		err = ErrNotFound
	}
	if err != nil {
		var none T
		return none, err
	}
	return rows[0], nil
}

// now is the store's clock, in the resolution that is kept.
func (r *Reader) now() time.Time { return r.clock().UTC().Truncate(time.Microsecond) }

// micros is how an instant is kept.
func micros(t time.Time) int64 { return t.UnixMicro() }

// perhaps is how an instant that may be missing is kept.
func perhaps(t *time.Time) any {
	if t == nil {
		return nil
	}
	return t.UnixMicro()
}

// instant reads a kept instant into a time.
type instant struct{ to *time.Time }

// Scan implements sql.Scanner.
func (i instant) Scan(value any) error {
	n, ok := value.(int64)
	if !ok {
		return fmt.Errorf("an instant is kept as %T", value)
	}
	*i.to = time.UnixMicro(n).UTC()
	return nil
}

// maybe reads a kept instant that may be missing.
type maybe struct{ to **time.Time }

// Scan implements sql.Scanner.
func (m maybe) Scan(value any) error {
	*m.to = nil
	if value == nil {
		return nil
	}
	var t time.Time
	if err := (instant{&t}).Scan(value); err != nil {
		return err
	}
	*m.to = &t
	return nil
}
