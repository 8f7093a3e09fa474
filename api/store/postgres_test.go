package store_test

import (
	"context"
	"strings"
	"testing"
	"time"

	"sheetwash/api/store"
	"sheetwash/api/store/storetest"
)

// Every session commits to the disk, whatever the database's default is.
func TestPostgresSessions(t *testing.T) {
	if !storetest.HasPostgres(t) {
		return
	}
	c := storetest.Postgres(t)
	s := storetest.Open(t, c)
	if s.Dialect() != store.PostgreSQL {
		t.Errorf("the dialect is %v", s.Dialect())
	}
	var name string
	if err := s.DB().QueryRow("SELECT current_database()").Scan(&name); err != nil {
		t.Fatal(err)
	}
	if _, err := s.DB().Exec(`ALTER DATABASE "` + name + `" SET synchronous_commit = off`); err != nil {
		t.Fatal(err)
	}
	again := storetest.Open(t, c)
	var got string
	if err := again.DB().QueryRow("SHOW synchronous_commit").Scan(&got); err != nil || got != "on" {
		t.Errorf("synchronous_commit is %q, %v", got, err)
	}
	if err := again.Ping(context.Background()); err != nil {
		t.Error(err)
	}
	if len(again.Warnings()) != 0 { // the server of the tests has the usual settings
		t.Errorf("warnings: %v", again.Warnings())
	}
}

// Settings under which a power failure loses records are warned of.
func TestPostgresWarnings(t *testing.T) {
	if !storetest.HasPostgres(t) {
		return
	}
	c := storetest.Postgres(t)
	s := storetest.Open(t, c)
	set := func(text, want string) {
		t.Helper()
		for _, q := range []string{text, "SELECT pg_reload_conf()"} {
			if _, err := s.DB().Exec(q); err != nil {
				t.Fatal(err)
			}
		}
		for deadline := time.Now().Add(10 * time.Second); ; time.Sleep(10 * time.Millisecond) {
			var got string
			if err := s.DB().QueryRow("SHOW full_page_writes").Scan(&got); err != nil || time.Now().After(deadline) {
				t.Fatalf("full_page_writes is %q, %v", got, err)
			} else if got == want {
				return
			}
		}
	}
	defer set("ALTER SYSTEM RESET full_page_writes", "on")
	set("ALTER SYSTEM SET full_page_writes = off", "off")
	warned := storetest.Open(t, c).Warnings()
	if len(warned) != 1 || !strings.Contains(warned[0], "full_page_writes=off") {
		t.Errorf("warnings: %q", warned)
	}
}
