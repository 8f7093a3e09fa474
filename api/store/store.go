package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"time"
)

// Config says where the records are. Exactly one of SQLitePath and PostgresDSN is
// set.
type Config struct {
	SQLitePath  string           // file, made when missing; its folder must exist
	PostgresDSN string           // as pgx reads it
	Exclusive   bool             // SQLite: be the only serve or worker on the file's folder, else ErrLocked
	Clock       func() time.Time // nil: time.Now; leases use the database's clock
}

// Store is an open set of records. It is a Reader of what is committed.
type Store struct {
	Reader
	write    *sql.DB
	read     *sql.DB
	closers  []io.Closer // closed in reverse
	warnings []string
}

// statementLimit is how long one statement may take.
const statementLimit = 10 * time.Second

// Open opens the records and brings the schema up to date, one process at a time.
// An existing SQLite database is copied beside itself first. Errors:
// ErrNewerSchema, ErrLocked, and those of the driver.
func Open(ctx context.Context, c Config) (*Store, error) {
	if (c.SQLitePath == "") == (c.PostgresDSN == "") {
		return nil, errors.New("open the records: give a SQLite file or a PostgreSQL database, and not both")
	}
	if c.Clock == nil {
		c.Clock = time.Now
	}
	s := &Store{Reader: Reader{clock: c.Clock}}
	var err error
	if c.SQLitePath != "" {
		err = s.openSQLite(ctx, c)
	} else {
		err = s.openPostgres(ctx, c)
	}
	if err != nil {
		return nil, errors.Join(fmt.Errorf("open the records: %w", err), s.Close())
	}
	return s, nil
}

// Close closes every connection and gives up the folder's lock.
func (s *Store) Close() error {
	var errs []error
	for i := len(s.closers) - 1; i >= 0; i-- {
		errs = append(errs, s.closers[i].Close())
	}
	s.closers = nil
	return errors.Join(errs...)
}

// DB is the pool that writes, for the job queue: one connection on SQLite.
func (s *Store) DB() *sql.DB { return s.write }

// ReadDB is the pool that reads, for questions about the job queue.
func (s *Store) ReadDB() *sql.DB { return s.read }

// Dialect is the kind of database.
func (s *Store) Dialect() Dialect { return s.dialect }

// Warnings are settings of the database that endanger what was acknowledged, as
// sentences for the operator.
func (s *Store) Warnings() []string { return s.warnings }

// Ping reports whether the database answers and has, at this moment, the schema of
// this program.
func (s *Store) Ping(ctx context.Context) error {
	q := statement{}
	q.add("SELECT MAX(version_id) FROM schema_version")
	version, err := one(ctx, &s.Reader, q, func(scan scanner) (v int64, err error) { return v, scan(&v) })
	if err != nil {
		return fmt.Errorf("ask the database for its schema: %w", err)
	}
	return checkVersion(version)
}

// InTx runs do in a transaction that may write, and commits when it returns nil.
// On SQLite one such transaction runs at a time: keep it short, and read through
// the Tx, not the Store.
func (s *Store) InTx(ctx context.Context, do func(*Tx) error) error {
	tx, err := s.write.BeginTx(ctx, nil)
	if err != nil {
		return fmt.Errorf("begin a transaction: %w", err)
	}
	defer tx.Rollback() // after Commit it does nothing
	t := &Tx{Reader: Reader{on: tx, dialect: s.dialect, clock: s.clock}, tx: tx}
	if err := do(t); err != nil {
		return err
	}
	if err := tx.Commit(); err != nil {
		return fmt.Errorf("commit: %w", err)
	}
	for _, f := range t.after {
		f()
	}
	return nil
}

// Tx is a write transaction. It is a Reader that sees its own writes.
type Tx struct {
	Reader
	tx    *sql.Tx
	after []func()
}

// AfterCommit has f called once the transaction is committed, in this process; not
// where it is rolled back, and not where the process ends before.
func (t *Tx) AfterCommit(f func()) { t.after = append(t.after, f) }

// SQL is the transaction itself, for the job queue.
func (t *Tx) SQL() *sql.Tx { return t.tx }
