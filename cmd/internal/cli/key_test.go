package cli

import (
	"context"
	"encoding/json"
	"path/filepath"
	"strings"
	"testing"

	"sheetwash/api/store"
	"sheetwash/api/wire"
)

// A key is made, listed, used and revoked from the shell, and its secret is said
// once.
func TestKeys(t *testing.T) {
	data := filepath.Join(t.TempDir(), "data")
	made := run(t, "key", "create", "basin dashboard", "--role", "reader", "--origin", "https://dashboard.example", "--expires", "2099-12-31", "--data", data)
	secret := strings.TrimSpace(made.out)
	if made.code != exitDone || !strings.HasPrefix(secret, store.SecretPrefix) || strings.Contains(made.err, secret) {
		t.Fatalf("create said %v", made)
	}
	k := keyOf(t, data, secret)
	if k.Name != "basin dashboard" || k.Role != store.RoleReader || k.ExpiresAt.Format("2006-01-02T15:04") != "2100-01-01T00:00" {
		t.Errorf("the key is %+v", k)
	}
	other := run(t, "key", "create", "office", "--role", "manager", "--json", "--data", data)
	var shown wire.MadeKey
	if err := json.Unmarshal([]byte(other.out), &shown); err != nil || shown.Role != store.RoleManager || shown.ID == "" || shown.Seasons == nil || keyOf(t, data, shown.Secret).ID != shown.ID {
		t.Errorf("create --json said %v, %v", other, err)
	}
	list := run(t, "key", "list", "--data", data)
	if list.code != exitDone || !strings.Contains(list.out, "basin dashboard") || !strings.Contains(list.out, "office") || strings.Contains(list.out, store.SecretPrefix) {
		t.Errorf("list said %v", list)
	}
	if said := run(t, "key", "revoke", k.ID, "--data", data); said.code != exitDone || said.out != "" {
		t.Errorf("revoke said %v", said)
	}
	var keys []wire.Key
	list = run(t, "key", "list", "--json", "--data", data)
	if err := json.Unmarshal([]byte(list.out), &keys); err != nil || len(keys) != 2 || keys[0].RevokedAt == nil || keys[1].RevokedAt != nil {
		t.Errorf("list --json said %v, %v", list, err)
	}
	if said := run(t, "key", "revoke", shown.ID, "--json", "--data", data); said.code != exitDone || !strings.Contains(said.out, `"revoked_at":"`) {
		t.Errorf("revoke --json said %v", said)
	}
	checkAudit(t, data, []string{"key.create", "key.create", "key.revoke", "key.revoke"})
}

func recordsOf(t *testing.T, data string) *store.Store {
	t.Helper()
	s, err := store.Open(context.Background(), store.Config{SQLitePath: filepath.Join(data, "records.db")})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	return s
}

func keyOf(t *testing.T, data, secret string) store.Key {
	t.Helper()
	k, err := recordsOf(t, data).KeyBySecretHash(context.Background(), store.HashSecret(secret))
	if err != nil {
		t.Fatal(err)
	}
	return k
}

func checkAudit(t *testing.T, data string, want []string) {
	t.Helper()
	log, err := recordsOf(t, data).Audit(context.Background(), store.Everything, store.Filter{}, store.Page{Limit: 100})
	if err != nil || len(log.Rows) != len(want) {
		t.Fatalf("the audit log is %+v, %v", log.Rows, err)
	}
	for i, e := range log.Rows {
		if e.Action != want[i] || e.Caller != "operator" || e.Object == "" {
			t.Errorf("entry %d is %+v, want %s", i, e, want[i])
		}
	}
}

func TestKeyRefusals(t *testing.T) {
	data := t.TempDir()
	for name, tt := range map[string]struct {
		args []string
		code int
		says string
	}{
		"no command":      {[]string{"key", "make"}, exitUsage, "make"},
		"no name":         {[]string{"key", "create"}, exitUsage, "name"},
		"an empty name":   {[]string{"key", "create", " "}, exitUsage, "name"},
		"a role":          {[]string{"key", "create", "a", "--role", "owner"}, exitUsage, "reader, recorder, manager"},
		"an origin":       {[]string{"key", "create", "a", "--origin", "dashboard.example/page"}, exitUsage, "origin"},
		"a writing page":  {[]string{"key", "create", "a", "--role", "manager", "--origin", "https://a.example"}, exitUsage, "reader"},
		"a day":           {[]string{"key", "create", "a", "--expires", "soon"}, exitUsage, "2027-03-31"},
		"a day long over": {[]string{"key", "create", "a", "--expires", "2001-01-01"}, exitUsage, "over"},
		"a season":        {[]string{"key", "create", "a", "--season", store.NewID()}, exitNotFound, "season"},
		"an unknown key":  {[]string{"key", "revoke", store.NewID()}, exitNotFound, "key"},
		"a missing file":  {[]string{"key", "list", "--config", filepath.Join(data, "none.yaml")}, exitUsage, "none.yaml"},
	} {
		if len(tt.args) > 2 && !strings.Contains(strings.Join(tt.args, " "), "--config") {
			tt.args = append(tt.args, "--data", data)
		}
		if said := run(t, tt.args...); said.code != tt.code || said.out != "" || !strings.Contains(said.err, tt.says) {
			t.Errorf("%s: %v; want exit %d and %q", name, said, tt.code, tt.says)
		}
	}
}
