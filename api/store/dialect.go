package store

import (
	"errors"
	"fmt"
	"strconv"
	"strings"

	"github.com/jackc/pgx/v5/pgconn"
	"modernc.org/sqlite"

	"sheetwash/api/store/schema"
)

// Dialect is the kind of database.
type Dialect int

// The two databases.
const (
	SQLite Dialect = iota + 1
	PostgreSQL
)

// String is the name of the database as people write it.
func (d Dialect) String() string {
	if d == PostgreSQL {
		return "PostgreSQL"
	}
	return "SQLite"
}

// now is an expression for the database's clock in microseconds.
func (d Dialect) now() string {
	if d == PostgreSQL {
		return "CAST(EXTRACT(EPOCH FROM clock_timestamp()) * 1000000 AS bigint)"
	}
	return "CAST(unixepoch('subsec') * 1000000 AS integer)"
}

// numbered writes the places of arguments as the database wants them. Our
// statements have question marks nowhere else.
func (d Dialect) numbered(sql string) string {
	if d != PostgreSQL {
		return sql
	}
	var b strings.Builder
	for n := 1; ; n++ {
		before, after, found := strings.Cut(sql, "?")
		b.WriteString(before)
		if !found {
			return b.String()
		}
		b.WriteByte('$')
		b.WriteString(strconv.Itoa(n))
		sql = after
	}
}

// Error codes of a row that names, or is named by, another row that is missing or
// still there: SQLITE_CONSTRAINT_FOREIGNKEY and foreign_key_violation.
const (
	sqliteForeignKey   = 787
	postgresForeignKey = "23503"
)

// foreignKey reports whether an error is a broken reference between rows.
func foreignKey(err error) bool {
	var s *sqlite.Error
	if errors.As(err, &s) {
		return s.Code() == sqliteForeignKey
	}
	var p *pgconn.PgError
	return errors.As(err, &p) && p.Code == postgresForeignKey
}

// checkVersion refuses a schema that is not this program's.
func checkVersion(version int64) error {
	switch {
	case version > schema.Current:
		return fmt.Errorf("%w: their schema is %d, this program knows %d", ErrNewerSchema, version, schema.Current)
	case version < schema.Current:
		return fmt.Errorf("the schema is %d, not yet %d", version, schema.Current)
	}
	return nil
}
