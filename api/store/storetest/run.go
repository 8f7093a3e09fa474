package storetest

import (
	"context"
	"errors"
	"testing"
	"time"

	"sheetwash/api/store"
)

// suite is what every database must do. Each part has a season of its own in one
// store.
var suite = []struct {
	name string
	test func(*testing.T, *store.Store)
}{
	{"seasons", seasons},
	{"events", events},
	{"an upload is kept once", keptOnce},
	{"rows of a dataset", datasetRows},
	{"a deleted dataset is a tombstone", tombstone},
	{"blobs in use", blobsInUse},
	{"filters", filters},
	{"sorting", sorting},
	{"wrong pages", wrongPages},
	{"walks meet every row that stays", walks},
	{"scopes", scopes},
	{"an analysis runs", analysisRuns},
	{"an analysis fails", analysisFails},
	{"an analysis is dismissed", analysisDismissed},
	{"what an analysis may be made of", analysisRefused},
	{"a part is recorded once", partOnce},
	{"the last part is last for one", lastPart},
	{"newest results", newestResults},
	{"keys", keys},
	{"keys of seasons", seasonKeys},
	{"idempotent requests", idempotent},
	{"a killed request frees its key", killedRequest},
	{"many callers, one effect", oneEffect},
	{"audit log", audit},
	{"texts that no database keeps", strangeTexts},
	{"a transaction that fails leaves nothing", rollback},
}

// Run checks a database. fresh gives an empty one each time.
func Run(t *testing.T, fresh func(testing.TB) store.Config) {
	config := fresh(t)
	s := Open(t, config)
	if err := s.Ping(context.Background()); err != nil {
		t.Fatal(err)
	}
	for _, part := range suite {
		t.Run(part.name, func(t *testing.T) { part.test(t, s) })
	}
	t.Run("opened again", func(t *testing.T) { openedAgain(t, s, config) })
	t.Run("clock", func(t *testing.T) { clock(t, fresh(t)) })
	t.Run("a newer schema is refused", func(t *testing.T) { newerSchema(t, fresh(t)) })
}

// openedAgain opens a second store on the records of the first, as another process
// would: both see the same.
func openedAgain(t *testing.T, s *store.Store, c store.Config) {
	season := Season(t, s, "seen by both")
	other := Open(t, c)
	if got, err := other.Season(context.Background(), store.Everything, season.ID); err != nil || got != season {
		t.Errorf("the second store has %+v, %v; want %+v", got, err, season)
	}
}

// clock checks that times are those of the clock that was given, to the
// microsecond and in UTC.
func clock(t *testing.T, c store.Config) {
	at := time.Date(2026, 3, 29, 2, 30, 0, 123456789, time.FixedZone("", 2*60*60))
	c.Clock = func() time.Time { return at }
	season := Season(t, Open(t, c), "clock")
	if want := time.Date(2026, 3, 29, 0, 30, 0, 123456000, time.UTC); season.CreatedAt != want {
		t.Errorf("the season was created at %v, want %v", season.CreatedAt, want)
	}
}

// newerSchema checks that a program does not touch what a newer one wrote.
func newerSchema(t *testing.T, c store.Config) {
	s := Open(t, c)
	if _, err := s.DB().Exec("INSERT INTO schema_version (version_id, is_applied) VALUES (9999, true)"); err != nil {
		t.Fatal(err)
	}
	if err := s.Ping(context.Background()); !errors.Is(err, store.ErrNewerSchema) {
		t.Errorf("a running store says %v to a newer schema, want ErrNewerSchema", err)
	}
	if err := s.Close(); err != nil {
		t.Error(err)
	}
	if _, err := store.Open(context.Background(), c); !errors.Is(err, store.ErrNewerSchema) {
		t.Errorf("Open says %v to a newer schema, want ErrNewerSchema", err)
	}
}
