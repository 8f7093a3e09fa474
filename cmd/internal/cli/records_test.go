package cli

import (
	"os"
	"path/filepath"
	"testing"

	"sheetwash/api/store"
	"sheetwash/api/store/storetest"
	"sheetwash/cmd/internal/config"
)

// What stands against opening the records has one exit code, whichever command it
// is that opens them.
func TestRecordsThatCannotBeOpened(t *testing.T) {
	commands := map[string][]string{
		"serve":      {"serve", "--listen", "127.0.0.1:0", "--metrics", "off"},
		"worker":     {"worker"},
		"key create": {"key", "create", "k"},
		"key list":   {"key", "list"},
		"key revoke": {"key", "revoke", "01890a5d-ac96-774b-bcce-b302099a8057"},
	}
	at := func(data string) string {
		c := config.Default()
		c.Data = data
		return c.Records()
	}
	newer := t.TempDir()
	s := storetest.Open(t, store.Config{SQLitePath: at(newer)})
	if _, err := s.DB().Exec("INSERT INTO schema_version (version_id, is_applied) VALUES (9999, true)"); err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	broken := t.TempDir()
	if err := os.WriteFile(at(broken), []byte("this is no database, whatever its name says, and it is longer than a header of one, which has 100 bytes"), 0o600); err != nil {
		t.Fatal(err)
	}
	folder := t.TempDir()
	if err := os.MkdirAll(filepath.Join(at(folder), "x"), 0o700); err != nil {
		t.Fatal(err)
	}
	for name, command := range commands {
		for data, want := range map[string]int{newer: exitConflict, broken: exitIO, folder: exitIO} {
			if got := run(t, append(command, "--data", data)...); got.code != want {
				t.Errorf("%s ended with %d, want %d: %s", name, got.code, want, got.err)
			}
		}
	}
}
