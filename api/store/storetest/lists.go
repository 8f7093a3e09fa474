package storetest

import (
	"context"
	"errors"
	"fmt"
	"reflect"
	"slices"
	"testing"
	"time"

	"sheetwash/api/store"
)

// many is a page that holds everything that a part of the suite writes.
var many = store.Page{Limit: 1000}

func filters(t *testing.T, s *store.Store) {
	ctx := context.Background()
	season := Season(t, s, "filters")
	var event store.Event
	Write(t, s, func(ctx context.Context, tx *store.Tx) (err error) {
		event, err = tx.CreateEvent(ctx, store.Everything, store.Event{SeasonID: season.ID, Name: "Quarry Rise", Date: "2026-07-10"})
		return err
	})
	Datasets(t, s, season, "filters", 2)
	d, rows := Dataset(season.ID, "of Quarry Rise")
	d.EventID, rows.Runs[0].Event, rows.Runs[0].Started = event.ID, "Quarry Rise", "2026-07-10"
	rows.Plots[0].Event, rows.Plots[1].Event, rows.Plots[1].Treatment = "Quarry Rise", "Quarry Rise", "oak-wood litter"
	Write(t, s, func(ctx context.Context, tx *store.Tx) (err error) {
		d, _, err = tx.InsertDataset(ctx, store.Everything, d, rows)
		return err
	})
	in := []string{season.ID}
	day := func(text string) time.Time {
		at, err := time.Parse(time.DateOnly, text)
		if err != nil {
			t.Fatal(err)
		}
		return at
	}
	later := time.Now().Add(time.Hour)
	for _, tt := range []struct {
		name string
		f    store.Filter
		want [5]int // datasets, runs, plots, treatments, calibrations; -1: refused
	}{
		{"season", store.Filter{Seasons: in}, [5]int{3, 3, 6, 3, 3}},
		{"event by id", store.Filter{Seasons: in, Events: []string{event.ID}}, [5]int{1, 1, 2, 2, 1}},
		{"event by name", store.Filter{Seasons: in, Events: []string{"Quarry Rise"}}, [5]int{0, 1, 2, 2, 0}},
		{"dataset", store.Filter{Datasets: []string{d.ID}}, [5]int{1, 1, 2, 2, 1}},
		{"plot and treatment by name", store.Filter{Seasons: in, Plots: []string{"P1", "P2"}, Treatments: []string{"oak-wood litter"}}, [5]int{-1, -1, 1, -1, -1}},
		{"run by name", store.Filter{Seasons: in, Runs: []string{"R1"}}, [5]int{-1, 3, 6, -1, -1}},
		{"treatment by id", store.Filter{Treatments: []string{store.TreatmentID(season.ID, "oak-wood litter")}}, [5]int{-1, -1, 1, 1, -1}},
		{"state", store.Filter{Seasons: in, States: []string{store.DatasetRejected}}, [5]int{0, -1, -1, -1, -1}},
		{"from", store.Filter{Seasons: in, From: day("2026-07-10")}, [5]int{3, 1, -1, -1, 0}},
		{"to is left out", store.Filter{Seasons: in, To: day("2026-07-10")}, [5]int{0, 2, -1, -1, 3}},
		{"changed since an hour from now", store.Filter{Seasons: in, ChangedSince: later}, [5]int{0, 0, 0, -1, 0}},
		{"nothing", store.Filter{Seasons: []string{store.NewID()}}, [5]int{0, 0, 0, 0, 0}},
	} {
		got := [5]int{
			count(t, tt.name, tt.f, s.Datasets), count(t, tt.name, tt.f, s.Runs), count(t, tt.name, tt.f, s.Plots),
			count(t, tt.name, tt.f, s.Treatments), count(t, tt.name, tt.f, s.Calibrations),
		}
		if !tt.f.From.IsZero() || !tt.f.To.IsZero() {
			got[0] = tt.want[0] // a dataset's time is that of its upload, whenever that is
		}
		if got != tt.want {
			t.Errorf("%s: datasets, runs, plots, treatments, calibrations are %v, want %v", tt.name, got, tt.want)
		}
	}
	list, err := s.Events(ctx, store.Everything, store.Filter{Seasons: in, From: day("2026-07-10"), To: day("2026-07-11")}, many)
	if err != nil || !reflect.DeepEqual(list.Rows, []store.Event{event}) {
		t.Errorf("the events of a day are %+v, %v", list.Rows, err)
	}
}

// count is the length of a list; -1 if it refuses the filter.
func count[T any](t *testing.T, name string, f store.Filter, list func(context.Context, store.Scope, store.Filter, store.Page) (store.List[T], error)) int {
	t.Helper()
	got, err := list(context.Background(), store.Everything, f, many)
	if errors.Is(err, store.ErrFilter) {
		return -1
	}
	if err != nil {
		t.Errorf("%s: %v", name, err)
	}
	return len(got.Rows)
}

func sorting(t *testing.T, s *store.Store) {
	season := Season(t, s, "sorting")
	names := []string{"b", "a", "Ä", "a", "Z", ""}
	Write(t, s, func(ctx context.Context, tx *store.Tx) error {
		for i, name := range names {
			if _, err := tx.CreateEvent(ctx, store.Everything, store.Event{SeasonID: season.ID, Name: name, Date: fmt.Sprintf("2026-05-%02d", 20-i)}); err != nil {
				return err
			}
		}
		return nil
	})
	for _, tt := range []struct {
		sort string
		want []string
	}{
		{"", names},
		{"id", names},
		{"-id", []string{"", "Z", "a", "Ä", "a", "b"}},
		{"name", []string{"", "Z", "a", "a", "b", "Ä"}}, // by bytes, on every database
		{"-name", []string{"Ä", "b", "a", "a", "Z", ""}},
		{"date", []string{"", "Z", "a", "Ä", "a", "b"}},
		{"-date", names},
		{"created", names},
		{"-created", []string{"", "Z", "a", "Ä", "a", "b"}},
	} {
		for _, limit := range []int{1, 2, len(names), len(names) + 1} {
			var got []string
			for _, e := range walk(t, s, season, tt.sort, limit, nil) {
				got = append(got, e.Name)
			}
			if !slices.Equal(got, tt.want) {
				t.Errorf("sorted by %q, %d at a time: %q, want %q", tt.sort, limit, got, tt.want)
			}
		}
	}
}

// walk reads the events of a season page by page, and calls between after each.
func walk(t fataler, s *store.Store, season store.Season, sort string, limit int, between func()) (met []store.Event) {
	p := store.Page{Limit: limit, Sort: sort}
	for {
		list, err := s.Events(context.Background(), store.Everything, store.Filter{Seasons: []string{season.ID}}, p)
		if err != nil {
			t.Fatalf("read a page: %v", err)
		}
		if len(list.Rows) > limit || list.More != (list.Next != nil) {
			t.Fatalf("a page of %d has %d rows, more %v, next %v", limit, len(list.Rows), list.More, list.Next)
		}
		met = append(met, list.Rows...)
		if !list.More {
			return met
		}
		p.After = list.Next
		if between != nil {
			between()
		}
	}
}

type fataler interface {
	Fatalf(format string, args ...any)
}

func wrongPages(t *testing.T, s *store.Store) {
	ctx := context.Background()
	for _, tt := range []struct {
		name string
		p    store.Page
		want error
	}{
		{"a sort that is not there", store.Page{Limit: 1, Sort: "place"}, store.ErrSort},
		{"SQL as a sort", store.Page{Limit: 1, Sort: "id; --"}, store.ErrSort},
		{"a cursor of another length", store.Page{Limit: 1, After: []string{"a"}}, store.ErrCursor},
		{"a text where a number sorts", store.Page{Limit: 1, Sort: "created", After: []string{"soon", "a"}}, store.ErrCursor},
	} {
		if _, err := s.Seasons(ctx, store.Everything, store.Filter{}, tt.p); !errors.Is(err, tt.want) {
			t.Errorf("%s: %v, want %v", tt.name, err, tt.want)
		}
	}
	if _, err := s.Seasons(ctx, store.Everything, store.Filter{From: time.Now()}, many); !errors.Is(err, store.ErrFilter) {
		t.Errorf("seasons by date: %v, want ErrFilter", err)
	}
}

// scopes checks every list and every get: rows of a season are there for those who
// may see it and for nobody else.
func scopes(t *testing.T, s *store.Store) {
	own, hidden := Season(t, s, "own"), Season(t, s, "hidden")
	public := Season(t, s, "public")
	Write(t, s, func(ctx context.Context, tx *store.Tx) error {
		public.Published = true
		_, err := tx.UpdateSeason(ctx, store.Everything, public)
		return err
	})
	for _, season := range []store.Season{own, hidden, public} {
		d := Datasets(t, s, season, "scope", 1)
		Analysis(t, s, season, d)
		Write(t, s, func(ctx context.Context, tx *store.Tx) error {
			if _, err := tx.CreateEvent(ctx, store.Everything, store.Event{SeasonID: season.ID, Name: "scope"}); err != nil {
				return err
			}
			return tx.AppendAudit(ctx, store.AuditEntry{SeasonID: season.ID, Action: "scope"})
		})
	}
	for _, tt := range []struct {
		name  string
		scope store.Scope
		sees  []string
	}{
		{"nothing", store.Scope{}, nil},
		{"own season", store.Scope{Seasons: []string{own.ID}}, []string{own.ID}},
		{"published seasons", store.Scope{Published: true}, []string{public.ID}},
		{"own and published", store.Scope{Seasons: []string{own.ID}, Published: true}, []string{own.ID, public.ID}},
		{"everything", store.Everything, []string{own.ID, hidden.ID, public.ID}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			for _, season := range []store.Season{own, hidden, public} {
				sees := slices.Contains(tt.sees, season.ID)
				inSeason(t, "seasons", tt.scope, season, sees, s.Seasons, s.Season, func(r store.Season) string { return r.ID })
				inSeason(t, "events", tt.scope, season, sees, s.Events, s.Event, func(r store.Event) string { return r.ID })
				inSeason(t, "datasets", tt.scope, season, sees, s.Datasets, s.Dataset, func(r store.Dataset) string { return r.ID })
				inSeason(t, "runs", tt.scope, season, sees, s.Runs, s.Run, func(r store.RunRow) string { return r.ID })
				inSeason(t, "plots", tt.scope, season, sees, s.Plots, s.Plot, func(r store.PlotRow) string { return r.ID })
				inSeason(t, "treatments", tt.scope, season, sees, s.Treatments, s.Treatment, func(r store.Treatment) string { return r.ID })
				inSeason(t, "calibrations", tt.scope, season, sees, s.Calibrations, s.Calibration, func(r store.CalibrationRow) string { return r.ID })
				inSeason(t, "analyses", tt.scope, season, sees, s.Analyses, s.Analysis, func(r store.Analysis) string { return r.ID })
				inSeason(t, "datasets of an analysis", tt.scope, season, sees, s.Analyses, s.AnalysisDatasets, func(r store.Analysis) string { return r.ID })
				inSeason(t, "tables of an analysis", tt.scope, season, sees, s.Analyses, s.ResultTables, func(r store.Analysis) string { return r.ID })
			}
		})
	}
	log, err := s.Audit(context.Background(), store.Scope{Seasons: []string{own.ID}, Published: true}, store.Filter{}, many)
	if err != nil || len(log.Rows) != 1 || log.Rows[0].SeasonID != own.ID {
		t.Errorf("the audit log of the own season is %+v, %v", log.Rows, err)
	}
}

// inSeason checks that a scope sees the rows of one season in a list and by their
// ids, or neither.
func inSeason[T, U any](t *testing.T, what string, scope store.Scope, season store.Season, sees bool,
	list func(context.Context, store.Scope, store.Filter, store.Page) (store.List[T], error),
	get func(context.Context, store.Scope, string) (U, error), id func(T) string) {
	t.Helper()
	ctx := context.Background()
	f := store.Filter{Seasons: []string{season.ID}}
	there, err := list(ctx, store.Everything, f, many)
	if err != nil || len(there.Rows) == 0 {
		t.Fatalf("%s: %d rows, %v", what, len(there.Rows), err)
	}
	got, err := list(ctx, scope, f, many)
	if err != nil || sees && len(got.Rows) != len(there.Rows) || !sees && len(got.Rows) != 0 {
		t.Errorf("%s of %q: %d of %d rows listed, %v", what, season.Name, len(got.Rows), len(there.Rows), err)
	}
	for _, row := range there.Rows {
		_, err := get(ctx, scope, id(row))
		if sees && err != nil || !sees && !errors.Is(err, store.ErrNotFound) {
			t.Errorf("%s of %q, by id: %v", what, season.Name, err)
		}
	}
}
