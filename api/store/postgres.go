package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/stdlib"

	"sheetwash/api/store/schema"
)

// postgresConnections is the size of the pool of one process.
const postgresConnections = 10

// openPostgres opens one pool for reads and writes. Every session commits to disk
// before it answers, whatever the server's default is.
func (s *Store) openPostgres(ctx context.Context, c Config) error {
	s.dialect = PostgreSQL
	config, err := pgx.ParseConfig(c.PostgresDSN)
	if err != nil {
		return errors.New("the PostgreSQL connection string is not understood") // the cause would show its password
	}
	config.RuntimeParams["application_name"] = "sheetwash"
	config.RuntimeParams["timezone"] = "UTC"
	config.RuntimeParams["synchronous_commit"] = "on"
	if err := migratePostgres(ctx, config); err != nil {
		return err
	}
	db := stdlib.OpenDB(*config)
	db.SetMaxOpenConns(postgresConnections)
	db.SetMaxIdleConns(postgresConnections)
	db.SetConnMaxIdleTime(5 * time.Minute)
	s.closers = append(s.closers, db)
	s.write, s.read, s.on = db, db, db
	return s.askSettings(ctx)
}

// migratePostgres brings the database up to date.
func migratePostgres(ctx context.Context, config *pgx.ConnConfig) (err error) {
	db := stdlib.OpenDB(*config)
	defer func() { err = errors.Join(err, db.Close()) }()
	steps, err := schema.PostgreSQL(db)
	if err != nil {
		return err
	}
	version, err := postgresVersion(ctx, db, steps)
	if err != nil {
		return err
	}
	if version == schema.Current {
		return nil
	}
	if err := checkVersion(version); version > schema.Current {
		return err
	}
	return steps.Up(ctx)
}

// postgresVersion reads the version without making the table that holds it, which
// two processes could try at the same time.
func postgresVersion(ctx context.Context, db *sql.DB, steps *schema.Schema) (int64, error) {
	var there bool
	if err := db.QueryRowContext(ctx, "SELECT to_regclass('schema_version') IS NOT NULL").Scan(&there); err != nil {
		return 0, err
	}
	if !there {
		return 0, nil
	}
	return steps.Version(ctx)
}

// askSettings warns of settings under which a committed record can be lost.
func (s *Store) askSettings(ctx context.Context) error {
	for _, name := range []string{"fsync", "full_page_writes"} {
		q := statement{}
		q.add("SELECT current_setting(?)", name)
		value, err := one(ctx, &s.Reader, q, func(scan scanner) (v string, err error) { return v, scan(&v) })
		if err != nil {
			return fmt.Errorf("ask for the setting %s: %w", name, err)
		}
		if value == "off" {
			s.warnings = append(s.warnings, "PostgreSQL runs with "+name+"=off: a power failure can lose or damage what was acknowledged")
		}
	}
	return nil
}
