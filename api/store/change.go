package store

import (
	"context"
	"time"
)

// revise adds the new revision and time of a change.
func (q *statement) revise(now time.Time) {
	q.add("revision = revision + 1, updated_at = ?", micros(now))
}

// changeOne runs an UPDATE of one row that is in scope and has the revision. The
// statement lacks its WHERE.
func changeOne[T any](ctx context.Context, t *Tx, l *listing[T], s Scope, q statement, id string, revision int64) error {
	update := statement{args: q.args}
	update.add(q.text.String()+" WHERE id = ? AND revision = ? AND ", id, revision)
	l.scope(&update, s.owned())
	n, err := t.exec(ctx, update)
	if err != nil {
		return err
	}
	if n == 0 {
		return t.missing(l.get(ctx, &t.Reader, s.owned(), id))
	}
	return nil
}

// missing says why a row was not changed: it is not there, or it has changed.
func (t *Tx) missing(_ any, err error) error {
	if err != nil {
		return err
	}
	return ErrRevision
}

// deleteOne deletes a row that is in scope, has the revision, and is not used: the
// statement returns no row.
func deleteOne[T any](ctx context.Context, t *Tx, l *listing[T], s Scope, uses statement, table, id string, revision int64) error {
	if _, err := l.get(ctx, &t.Reader, s.owned(), id); err != nil {
		return err
	}
	used, err := all(ctx, &t.Reader, uses, func(scan scanner) (id string, err error) { return id, scan(&id) })
	if err != nil {
		return err
	}
	if len(used) > 0 {
		return ErrConflict
	}
	q := statement{}
	q.add("DELETE FROM "+table+" WHERE id = ? AND revision = ?", id, revision)
	n, err := t.exec(ctx, q)
	switch {
	case foreignKey(err):
		return ErrConflict
	case err != nil:
		return err
	case n == 0:
		return ErrRevision
	}
	return nil
}

// lock keeps a row from being changed by others until the transaction ends. On
// SQLite the transaction is the only writer anyhow.
func (t *Tx) lock(ctx context.Context, table, id string) error {
	if t.dialect != PostgreSQL {
		return nil
	}
	q := statement{}
	q.add("SELECT id FROM "+table+" WHERE id = ? FOR UPDATE", id)
	_, err := all(ctx, &t.Reader, q, func(scan scanner) (id string, err error) { return id, scan(&id) })
	return err
}

// gone makes a reference to a row that another transaction deleted ErrNotFound.
func gone(err error) error {
	if foreignKey(err) {
		return ErrNotFound
	}
	return err
}
