package config_test

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"sheetwash/cmd/internal/config"
)

func none(string) string { return "" }

func TestDefaultIsValidAndAtHome(t *testing.T) {
	c, err := config.Load("", none)
	if err != nil || !reflect.DeepEqual(c, config.Default()) {
		t.Fatalf("loaded %+v, %v", c, err)
	}
	if err := c.Validate(); err != nil || !config.Loopback(c.Listen) || !config.Loopback(c.Metrics) {
		t.Errorf("the default is refused or not on the loopback: %v", err)
	}
}

// The environment goes over the file, and the file over the defaults.
func TestOrder(t *testing.T) {
	file := write(t, "listen: 127.0.0.1:1\ndata: there\norigins: [https://a.example, https://b.example]\nlimits:\n  upload_bytes: 5\n  json_time: 3s\n  reads_per_second: 0.5\n")
	c, err := config.Load(file, func(name string) string {
		return map[string]string{"SHEETWASH_LISTEN": "127.0.0.1:2", "SHEETWASH_LIMIT_UPLOAD_FILES": "7", "SHEETWASH_PUBLISHED": "true"}[name]
	})
	if err != nil {
		t.Fatal(err)
	}
	l := c.Limits
	if c.Listen != "127.0.0.1:2" || c.Data != "there" || len(c.Origins) != 2 || !c.Published || l.UploadBytes != 5 || l.UploadFiles != 7 || l.JSONTime != 3*time.Second || l.ReadsPerSecond != 0.5 {
		t.Errorf("loaded %+v", c)
	}
	if l.JSONDepth != config.Default().Limits.JSONDepth {
		t.Error("a default was lost")
	}
}

func TestRefusals(t *testing.T) {
	for text, want := range map[string]string{
		"colour: red\n": "no setting", "limits:\n  uploads_bytes: 5\n": "no setting", "listen: [\n": "read",
		"workers: many\n": "read settings", "listen:\n  host: x\n": "is wanted",
	} {
		if _, err := config.Load(write(t, text), none); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q gives %v", text, err)
		}
	}
	for _, change := range []func(*config.Config){
		func(c *config.Config) { c.Listen = "8080" }, func(c *config.Config) { c.Metrics = "0.0.0.0:9180" },
		func(c *config.Config) { c.Data = "" }, func(c *config.Config) { c.Log = "loud" },
		func(c *config.Config) { c.Workers = -1 }, func(c *config.Config) { c.Limits.UploadBytes = 0 },
	} {
		c := config.Default()
		change(&c)
		if c.Validate() == nil {
			t.Errorf("accepted %+v", c)
		}
	}
}

// A secret comes from its file and is never printed.
func TestSecret(t *testing.T) {
	file := write(t, "postgres://crew:s3cret@db/sheetwash\n")
	c, err := config.Load("", func(name string) string { return map[string]string{"SHEETWASH_DATABASE_FILE": file}[name] })
	if err != nil || string(c.Database) != "postgres://crew:s3cret@db/sheetwash" {
		t.Fatalf("secret is %q, %v", string(c.Database), err)
	}
	data, err := json.Marshal(c)
	if err != nil {
		t.Fatal(err)
	}
	for _, text := range []string{fmt.Sprintf("%v %+v %#v %s", c, c, c, c.Database), string(data)} {
		if strings.Contains(text, "s3cret") {
			t.Errorf("printed %s", text)
		}
	}
}

func write(t *testing.T, text string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "file")
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}
