package config

import (
	"errors"
	"fmt"
	"log/slog"
	"net"
	"os"
	"path/filepath"
	"strings"

	"sheetwash/api"
)

// Prefix starts the name of every variable of the environment.
const Prefix = "SHEETWASH_"

// Config is how the service is set up. A member is LISTEN in the environment, behind
// the prefix, and listen in the file.
type Config struct {
	Listen       string     `env:"LISTEN"`        // address of the service
	Metrics      string     `env:"METRICS"`       // address of the metrics, on the loopback; "off": none
	Data         string     `env:"DATA"`          // folder of records and blobs
	Database     Secret     `env:"DATABASE"`      // PostgreSQL, instead of the folder's records
	DatabaseFile string     `env:"DATABASE_FILE"` // file that holds Database
	Bucket       string     `env:"BUCKET"`        // S3-compatible store, instead of the folder's blobs
	Published    bool       `env:"PUBLISHED"`     // published seasons are readable without a key
	Hosts        []string   `env:"HOSTS"`         // names under which a server without keys may be addressed
	Origins      []string   `env:"ORIGINS"`       // of pages that may call from a browser
	Workers      int        `env:"WORKERS"`       // jobs at once in this process; 0: one per processor
	Log          string     `env:"LOG"`           // debug, info, warn or error
	Limits       api.Limits `envPrefix:"LIMIT_"`
}

// Secret is a text that is never printed.
type Secret string

// String hides the text.
func (s Secret) String() string {
	if s == "" {
		return ""
	}
	return "(secret)"
}

// GoString hides the text.
func (s Secret) GoString() string { return s.String() }

// LogValue hides the text.
func (s Secret) LogValue() slog.Value { return slog.StringValue(s.String()) }

// MarshalText hides the text.
func (s Secret) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// Default is a service for one person on their own machine.
func Default() Config {
	return Config{Listen: "127.0.0.1:8080", Metrics: "127.0.0.1:9180", Data: "sheetwash-data", Log: "info", Limits: api.DefaultLimits()}
}

// Validate says what cannot be.
func (c *Config) Validate() error {
	var all []error
	refuse := func(format string, args ...any) { all = append(all, fmt.Errorf(format, args...)) }
	if _, _, err := net.SplitHostPort(c.Listen); err != nil {
		refuse("listen %q is no address such as 127.0.0.1:8080", c.Listen)
	}
	if c.Metrics != "off" && !Loopback(c.Metrics) {
		refuse("metrics %q is not on the loopback address, such as 127.0.0.1:9180; off is none", c.Metrics)
	}
	if c.Database == "" && c.Data == "" {
		refuse("data is missing: say which folder holds records and blobs")
	}
	if c.Database != "" && c.Bucket == "" && c.Data == "" {
		refuse("with a database, say in bucket or data where the blobs are")
	}
	if _, err := c.Level(); err != nil {
		refuse("log %q is none of debug, info, warn, error", c.Log)
	}
	if c.Workers < 0 {
		refuse("workers %d is below 0", c.Workers)
	}
	if c.Limits.JSONBytes < 1 || c.Limits.UploadBytes < 1 || c.Limits.UploadFiles < 1 || c.Limits.ExportRows < 1 || c.Limits.JSONDepth < 1 {
		refuse("limits of size must be above 0")
	}
	return errors.Join(all...)
}

// Level is the level of the log.
func (c *Config) Level() (level slog.Level, err error) {
	err = level.UnmarshalText([]byte(c.Log))
	return level, err
}

// Loopback reports whether an address is on this machine alone.
func Loopback(address string) bool {
	host, _, err := net.SplitHostPort(address)
	if err != nil {
		return false
	}
	ip := net.ParseIP(host)
	return host == "localhost" || ip != nil && ip.IsLoopback()
}

// Records is the path of the records in the folder.
func (c *Config) Records() string { return filepath.Join(c.Data, "records.db") }

// Blobs is the folder of the blobs.
func (c *Config) Blobs() string { return filepath.Join(c.Data, "blobs") }

// Temp is the folder of what lasts no longer than a request.
func (c *Config) Temp() string { return filepath.Join(c.Data, "temp") }

// readSecret takes the database from the file that holds it.
func (c *Config) readSecret() error {
	if c.DatabaseFile == "" {
		return nil
	}
	if c.Database != "" {
		return errors.New("database and database_file are both given")
	}
	data, err := os.ReadFile(c.DatabaseFile)
	if err != nil {
		return err
	}
	c.Database = Secret(strings.TrimSpace(string(data)))
	return nil
}
