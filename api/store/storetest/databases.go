package storetest

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime/debug"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"sheetwash/api/store"
)

// Environment variables that say where a PostgreSQL for tests is, and that tests
// without one must fail.
const (
	PostgresVariable = "SHEETWASH_TEST_POSTGRES"
	RequireVariable  = "SHEETWASH_REQUIRE_POSTGRES"
)

// SQLite is an empty database in a folder of the test.
func SQLite(t testing.TB) store.Config {
	t.Helper()
	return store.Config{SQLitePath: filepath.Join(t.TempDir(), "records.sqlite")}
}

// SQLiteCopies makes copies of one empty database, which costs less than a fresh
// one each time.
func SQLiteCopies(t testing.TB) func(testing.TB) store.Config {
	t.Helper()
	c := SQLite(t)
	migrate(t, c)
	empty, err := os.ReadFile(c.SQLitePath)
	if err != nil {
		t.Fatal(err)
	}
	return func(t testing.TB) store.Config {
		t.Helper()
		c := SQLite(t)
		if err := os.WriteFile(c.SQLitePath, empty, 0o644); err != nil {
			t.Fatal(err)
		}
		return c
	}
}

// migrate makes the tables of a database.
func migrate(t testing.TB, c store.Config) {
	t.Helper()
	s, err := store.Open(context.Background(), c)
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
}

// HasPostgres reports whether the tests on PostgreSQL can run. Without a server
// they are left out, which is printed; where a server is required, that is a
// failure.
func HasPostgres(t testing.TB) bool {
	t.Helper()
	if os.Getenv(PostgresVariable) != "" {
		return true
	}
	if os.Getenv(RequireVariable) == "1" {
		t.Fatalf("%s=1, but %s is not set", RequireVariable, PostgresVariable)
	}
	LeftOut(t.Name() + " and its parts")
	return false
}

// LeftOut says that tests on PostgreSQL are left out. The go command shows what a
// package prints only with -v or where a test fails; so a terminal is told as well,
// once for each package.
func LeftOut(what string) {
	fmt.Printf("LEFT OUT: %s on PostgreSQL, since %s is not set. See .ci/postgres.\n", what, PostgresVariable)
	tellTerminal()
}

// tellTerminal writes past the go command, where there is a terminal.
var tellTerminal = sync.OnceFunc(func() {
	terminal, err := os.OpenFile("/dev/tty", os.O_WRONLY, 0)
	if err != nil {
		return // nobody watches
	}
	name := "this package"
	if build, ok := debug.ReadBuildInfo(); ok {
		name = strings.TrimSuffix(build.Path, ".test")
	}
	_, err = fmt.Fprintf(terminal, "LEFT OUT\t%s\ttests on PostgreSQL, since %s is not set (bash .ci/run has them all)\n", name, PostgresVariable)
	_ = errors.Join(err, terminal.Close()) // it is a notice
})

// Postgres is an empty database on the server of the tests, dropped at the end.
// Call it when HasPostgres.
func Postgres(t testing.TB) store.Config {
	t.Helper()
	return onServerDatabase(t, "template0")
}

// PostgresCopies makes copies of one empty database. Call it when HasPostgres.
func PostgresCopies(t testing.TB) func(testing.TB) store.Config {
	t.Helper()
	c := Postgres(t)
	migrate(t, c)
	config, err := pgx.ParseConfig(c.PostgresDSN)
	if err != nil {
		t.Fatal(err)
	}
	return func(t testing.TB) store.Config {
		t.Helper()
		return onServerDatabase(t, config.Database)
	}
}

// onServerDatabase copies a database of the server of the tests until the end of
// the test.
func onServerDatabase(t testing.TB, template string) store.Config {
	t.Helper()
	server := os.Getenv(PostgresVariable)
	name := "sheetwash_" + strings.ReplaceAll(store.NewID(), "-", "")
	onServer(t, server, "CREATE DATABASE "+name+" TEMPLATE "+template)
	t.Cleanup(func() { onServer(t, server, "DROP DATABASE "+name+" WITH (FORCE)") })
	config, err := pgx.ParseConfig(server)
	if err != nil {
		t.Fatal(err)
	}
	return store.Config{PostgresDSN: fmt.Sprintf("host=%s port=%d user=%s password='%s' dbname=%s sslmode=disable",
		config.Host, config.Port, config.User, config.Password, name)}
}

func onServer(t testing.TB, server, sql string) {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), 30*time.Second)
	defer cancel()
	c, err := pgx.Connect(ctx, server)
	if err != nil {
		t.Fatalf("connect to the PostgreSQL of the tests: %v", err)
	}
	defer c.Close(ctx)
	if _, err := c.Exec(ctx, sql); err != nil {
		t.Fatalf("%s: %v", sql, err)
	}
}

// Open opens a store until the end of the test.
func Open(t testing.TB, c store.Config) *store.Store {
	t.Helper()
	s, err := store.Open(context.Background(), c)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Errorf("close the store: %v", err)
		}
	})
	return s
}
