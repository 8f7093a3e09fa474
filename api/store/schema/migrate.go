package schema

import (
	"context"
	"database/sql"
	"embed"
	"fmt"
	"io/fs"

	"github.com/pressly/goose/v3"
	"github.com/pressly/goose/v3/lock"
	"github.com/riverqueue/river/riverdriver"
	"github.com/riverqueue/river/riverdriver/riverdatabasesql"
	"github.com/riverqueue/river/riverdriver/riversqlite"
	"github.com/riverqueue/river/rivermigrate"
)

//go:embed sqlite/*.sql postgres/*.sql
var steps embed.FS

// Current is the schema of this program.
const Current = 2

// Schema is the schema of one database. The database must have more than one
// connection to give.
type Schema struct {
	provider *goose.Provider
}

// SQLite is the schema of a SQLite database. Whoever calls Up sees to it that
// nobody else does at the same time.
func SQLite(db *sql.DB) (*Schema, error) {
	return load(goose.DialectSQLite3, db, "sqlite",
		func(db *sql.DB) riverdriver.Driver[*sql.Tx] { return riversqlite.New(db) })
}

// PostgreSQL is the schema of a PostgreSQL database. Up waits for an advisory lock.
func PostgreSQL(db *sql.DB) (*Schema, error) {
	locker, err := lock.NewPostgresSessionLocker(lock.WithLockID(lockID), lock.WithLockTimeout(1, 300))
	if err != nil {
		return nil, err
	}
	return load(goose.DialectPostgres, db, "postgres",
		func(db *sql.DB) riverdriver.Driver[*sql.Tx] { return riverdatabasesql.New(db) }, goose.WithSessionLocker(locker))
}

// lockID is the advisory lock of our migrations: "sheetwas" in ASCII.
const lockID = 0x7368656574776173

func load(dialect goose.Dialect, db *sql.DB, folder string, queue func(*sql.DB) riverdriver.Driver[*sql.Tx], more ...goose.ProviderOption) (*Schema, error) {
	files, err := fs.Sub(steps, folder)
	if err != nil {
		return nil, err
	}
	options := append([]goose.ProviderOption{
		goose.WithDisableGlobalRegistry(true),
		goose.WithTableName("schema_version"),
		goose.WithGoMigrations(queueTables(2, 8, queue)),
	}, more...)
	p, err := goose.NewProvider(dialect, db, files, options...)
	if err != nil {
		return nil, fmt.Errorf("load the steps of the schema: %w", err)
	}
	return &Schema{p}, nil
}

// queueTables is the step that brings the queue's own tables to a version of
// theirs, pinned so that a new library without a new step changes nothing. It has
// transactions of its own; one that was cut off goes on where it ended.
func queueTables(step int64, version int, queue func(*sql.DB) riverdriver.Driver[*sql.Tx]) *goose.Migration {
	up := func(ctx context.Context, db *sql.DB) error {
		m, err := rivermigrate.New(queue(db), nil)
		if err != nil {
			return err
		}
		_, err = m.Migrate(ctx, rivermigrate.DirectionUp, &rivermigrate.MigrateOpts{TargetVersion: version})
		return err
	}
	return goose.NewGoMigration(step, &goose.GoFunc{RunDB: up}, nil)
}

// Version is the version of the database; 0 when it is empty.
func (s *Schema) Version(ctx context.Context) (int64, error) {
	v, err := s.provider.GetDBVersion(ctx)
	if err != nil {
		return 0, fmt.Errorf("read the version of the schema: %w", err)
	}
	return v, nil
}

// Up applies the steps that the database lacks.
func (s *Schema) Up(ctx context.Context) error {
	if _, err := s.provider.Up(ctx); err != nil {
		return fmt.Errorf("bring the schema up to date: %w", err)
	}
	return nil
}
