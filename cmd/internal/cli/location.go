package cli

import (
	"context"
	"errors"
	"fmt"
	"os"

	"github.com/spf13/cobra"

	"sheetwash/api/store"
	"sheetwash/cmd/internal/config"
)

// location is where the service keeps its data, as a command is told.
type location struct{ file, data string }

// flags adds the flags of the location.
func (p *location) flags(c *cobra.Command) {
	c.Flags().StringVar(&p.file, "config", "", "read settings from this YAML `FILE`")
	c.Flags().StringVar(&p.data, "data", "", "`FOLDER` of records and blobs (default sheetwash-data)")
}

// load reads the settings: flags over environment over file over defaults.
func (p *location) load(s *streams) (config.Config, error) {
	c, err := config.Load(p.file, s.env)
	if err != nil {
		return c, usage(err)
	}
	if p.data != "" {
		c.Data = p.data
	}
	if err := c.Validate(); err != nil {
		return c, usage(err)
	}
	return c, nil
}

// openRecords opens the records alone, beside a process that serves or works.
func openRecords(ctx context.Context, c config.Config) (*store.Store, error) {
	where := store.Config{PostgresDSN: string(c.Database)}
	if c.Database == "" {
		if err := os.MkdirAll(c.Data, 0o700); err != nil {
			return nil, onDisk(err)
		}
		where = store.Config{SQLitePath: c.Records()}
	}
	return openStore(ctx, where)
}

// openStore opens records for any command, so that what stands against it has one
// exit code: data of a newer version or another process at the folder a conflict,
// everything else a failure of the device.
func openStore(ctx context.Context, where store.Config) (*store.Store, error) {
	records, err := store.Open(ctx, where)
	switch {
	case errors.Is(err, store.ErrNewerSchema), errors.Is(err, store.ErrLocked):
		return nil, conflict(err)
	case err != nil && ctx.Err() == nil:
		return nil, onDisk(fmt.Errorf("open records: %w", err))
	}
	return records, err
}
