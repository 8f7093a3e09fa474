package api_test

import (
	"flag"
	"fmt"
	"os"
	"sync"
	"testing"

	"sheetwash/api/problem"
	"sheetwash/api/store"
	"sheetwash/api/store/storetest"
	"sheetwash/ingest/columnar"
)

func TestMain(m *testing.M) {
	columnar.ChildMain() // Parquet is decoded in a process of this binary
	code := m.Run()
	if code == 0 && all() {
		code = everyCodeProvoked()
	}
	if code == 0 {
		code = onPostgres(m)
	}
	os.Exit(code)
}

// onPostgres runs every test once more on PostgreSQL, where there is one.
func onPostgres(m *testing.M) int {
	switch {
	case os.Getenv(storetest.PostgresVariable) != "":
		database = storetest.Postgres
		fmt.Println("once more on PostgreSQL")
		return m.Run()
	case os.Getenv(storetest.RequireVariable) == "1":
		fmt.Printf("%s=1, but %s is not set\n", storetest.RequireVariable, storetest.PostgresVariable)
		return 1
	}
	storetest.LeftOut("the service")
	return 0
}

// database makes the records of each test.
var database = sqliteCopies()

// sqliteCopies makes copies of one empty database, which the first test makes.
func sqliteCopies() func(testing.TB) store.Config {
	var once sync.Once
	var another func(testing.TB) store.Config
	return func(t testing.TB) store.Config {
		once.Do(func() { another = storetest.SQLiteCopies(t) })
		return another(t)
	}
}

// all reports whether every test has run.
func all() bool {
	for _, name := range []string{"test.run", "test.skip", "test.list", "test.fuzz", "test.bench"} {
		if f := flag.Lookup(name); f != nil && f.Value.String() != "" {
			return false
		}
	}
	return !testing.Short()
}

// everyCodeProvoked fails where no test has met a code of the table.
func everyCodeProvoked() int {
	missing := 0
	for _, k := range problem.Kinds() {
		if !provoked.seen[string(k.Code)] {
			fmt.Printf("no test provokes the code %s\n", k.Code)
			missing = 1
		}
	}
	return missing
}
