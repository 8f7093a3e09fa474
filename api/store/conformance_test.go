package store_test

import (
	"testing"

	"sheetwash/api/store/storetest"
)

func TestSQLite(t *testing.T) { storetest.Run(t, storetest.SQLite) }

func TestPostgreSQL(t *testing.T) {
	if storetest.HasPostgres(t) {
		storetest.Run(t, storetest.Postgres)
	}
}
