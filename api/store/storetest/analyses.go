package storetest

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"reflect"
	"sync"
	"testing"

	"sheetwash/api/store"
)

func analysisRuns(t *testing.T, s *store.Store) {
	ctx := context.Background()
	season := Season(t, s, "analysis")
	datasets := Datasets(t, s, season, "analysis", 3)
	a := Analysis(t, s, season, datasets)
	if a.State != store.AnalysisAccepted || a.Total != 3 || a.Over() || string(a.Parameters) != "{}" {
		t.Errorf("a new analysis is %+v", a)
	}
	if n, err := s.QueuedAnalyses(ctx, "key of "+season.ID); err != nil || n != 1 {
		t.Errorf("%d analyses of the caller are queued, %v; want 1", n, err)
	}
	finish := func(position int, part string, problem json.RawMessage, want store.Finished) {
		t.Helper()
		Write(t, s, func(ctx context.Context, tx *store.Tx) error {
			got, err := tx.FinishDataset(ctx, a.ID, position, part, problem)
			if got.Wrote != want.Wrote || got.Remaining != want.Remaining {
				t.Errorf("position %d: wrote %v, remaining %d; want %v, %d", position, got.Wrote, got.Remaining, want.Wrote, want.Remaining)
			}
			return err
		})
	}
	finish(0, Digest("too early"), nil, store.Finished{Wrote: false, Remaining: 3})
	for range 2 { // the second start changes nothing
		Write(t, s, func(ctx context.Context, tx *store.Tx) (err error) {
			a, err = tx.StartAnalysis(ctx, a.ID)
			return err
		})
	}
	if a.State != store.AnalysisRunning || a.StartedAt == nil || a.Revision != 2 {
		t.Errorf("the started analysis is %+v", a)
	}
	refuse(t, s, "finishing with datasets pending", store.ErrConflict, func(tx *store.Tx) error {
		_, err := tx.FinishAnalysis(ctx, a.ID, nil, nil)
		return err
	})
	finish(1, Digest("part 1"), nil, store.Finished{Wrote: true, Remaining: 2})
	finish(1, Digest("another part 1"), nil, store.Finished{Wrote: false, Remaining: 2})
	finish(0, "", json.RawMessage(`{"code":"data_rejected"}`), store.Finished{Wrote: true, Remaining: 1})
	finish(2, Digest("part 2"), nil, store.Finished{Wrote: true, Remaining: 0})
	parts, err := s.AnalysisDatasets(ctx, store.Everything, a.ID)
	want := []store.AnalysisDataset{
		{AnalysisID: a.ID, DatasetID: datasets[0].ID, Position: 0, State: store.PartFailed, Problem: json.RawMessage(`{"code":"data_rejected"}`), DatasetState: store.DatasetAccepted},
		{AnalysisID: a.ID, DatasetID: datasets[1].ID, Position: 1, State: store.PartDone, PartBlob: Digest("part 1"), DatasetState: store.DatasetAccepted},
		{AnalysisID: a.ID, DatasetID: datasets[2].ID, Position: 2, State: store.PartDone, PartBlob: Digest("part 2"), DatasetState: store.DatasetAccepted},
	}
	if err != nil || !reflect.DeepEqual(parts, want) {
		t.Errorf("the parts are %+v, %v; want %+v", parts, err, want)
	}
	tables := []store.ResultTable{{AnalysisID: a.ID, Table: "fits", Encoding: "json-si", Blob: Digest("fits"), Bytes: 7, Rows: 2}}
	for i := range 2 { // the second fold writes nothing
		Write(t, s, func(ctx context.Context, tx *store.Tx) error {
			got, err := tx.FinishAnalysis(ctx, a.ID, tables, json.RawMessage(`{"seed":1}`))
			if got.Wrote != (i == 0) {
				t.Errorf("fold %d wrote: %v", i, got.Wrote)
			}
			return err
		})
	}
	a, err = s.Analysis(ctx, store.Everything, a.ID)
	if err != nil || a.State != store.AnalysisSuccessful || !a.Over() || a.Done != 3 || a.Failed != 1 || a.FinishedAt == nil || string(a.Provenance) != `{"seed":1}` {
		t.Errorf("the finished analysis is %+v, %v", a, err)
	}
	if got, err := s.ResultTables(ctx, store.Everything, a.ID); err != nil || !reflect.DeepEqual(got, tables) {
		t.Errorf("the tables are %+v, %v", got, err)
	}
	if got, err := s.ResultTable(ctx, store.Everything, a.ID, "fits", "json-si"); err != nil || got != tables[0] {
		t.Errorf("the table is %+v, %v", got, err)
	}
	if _, err := s.ResultTable(ctx, store.Scope{}, a.ID, "fits", "json-si"); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("the table out of scope answers %v", err)
	}
	checkProgress(t, s, a.ID, []string{
		`{"state":"accepted","done":0,"total":3,"failed":0}`, `{"state":"running","done":0,"total":3,"failed":0}`,
		`{"state":"running","done":1,"total":3,"failed":0}`, `{"state":"running","done":2,"total":3,"failed":1}`,
		`{"state":"running","done":3,"total":3,"failed":1}`, `{"state":"successful","done":3,"total":3,"failed":1}`,
	})
	if unused, err := s.UnusedBlobs(ctx, []string{Digest("part 1"), Digest("fits"), Digest("another part 1")}); err != nil || !reflect.DeepEqual(unused, []string{Digest("another part 1")}) {
		t.Errorf("unused are %v, %v", unused, err)
	}
}

// checkProgress compares all events of an analysis, read two at a time.
func checkProgress(t *testing.T, s *store.Store, id string, want []string) {
	t.Helper()
	var got []string
	for after := int64(0); ; {
		events, err := s.ProgressAfter(context.Background(), store.Everything, id, after, 2)
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range events {
			if e.Seq != after+1 || e.AnalysisID != id || e.At.IsZero() {
				t.Errorf("after event %d comes %+v", after, e)
			}
			after = e.Seq
			got = append(got, string(e.Data))
		}
		if len(events) == 0 {
			break
		}
	}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("the events are %v, want %v", got, want)
	}
}

func analysisFails(t *testing.T, s *store.Store) {
	ctx := context.Background()
	season := Season(t, s, "failing")
	a := Analysis(t, s, season, Datasets(t, s, season, "failing", 1))
	for i := range 2 {
		Write(t, s, func(ctx context.Context, tx *store.Tx) error {
			got, err := tx.FailAnalysis(ctx, a.ID, json.RawMessage(`{"code":"internal"}`))
			if got.Wrote != (i == 0) || got.Analysis.State != store.AnalysisFailed {
				t.Errorf("failing it for the time %d: %+v", i+1, got)
			}
			return err
		})
	}
	a, err := s.Analysis(ctx, store.Everything, a.ID)
	if err != nil || a.State != store.AnalysisFailed || string(a.Problem) != `{"code":"internal"}` || a.FinishedAt == nil {
		t.Errorf("the failed analysis is %+v, %v", a, err)
	}
	refuse(t, s, "an analysis that is not there", store.ErrNotFound, func(tx *store.Tx) error {
		_, err := tx.FailAnalysis(ctx, store.NewID(), nil)
		return err
	})
	if _, err := s.ProgressAfter(ctx, store.Everything, store.NewID(), 0, 10); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("progress of an analysis that is not there: %v", err)
	}
}

func analysisDismissed(t *testing.T, s *store.Store) {
	ctx := context.Background()
	season := Season(t, s, "dismissed")
	a := Analysis(t, s, season, Datasets(t, s, season, "dismissed", 1))
	Write(t, s, func(ctx context.Context, tx *store.Tx) error {
		if _, err := tx.StartAnalysis(ctx, a.ID); err != nil {
			return err
		}
		if _, err := tx.FinishDataset(ctx, a.ID, 0, Digest("dismissed part"), nil); err != nil {
			return err
		}
		_, err := tx.FinishAnalysis(ctx, a.ID, []store.ResultTable{{Table: "fits", Encoding: "json-si", Blob: Digest("dismissed fits")}}, nil)
		return err
	})
	refuse(t, s, "an old revision", store.ErrRevision, func(tx *store.Tx) error {
		_, err := tx.DismissAnalysis(ctx, store.Everything, a.ID, 1)
		return err
	})
	refuse(t, s, "out of scope", store.ErrNotFound, func(tx *store.Tx) error {
		_, err := tx.DismissAnalysis(ctx, store.Scope{Published: true}, a.ID, 0)
		return err
	})
	Write(t, s, func(ctx context.Context, tx *store.Tx) error {
		got, err := tx.DismissAnalysis(ctx, store.Everything, a.ID, 4)
		if got.State != store.AnalysisDismissed || got.Revision != 5 {
			t.Errorf("the dismissed analysis is %+v", got)
		}
		return err
	})
	refuse(t, s, "dismissing twice", store.ErrConflict, func(tx *store.Tx) error {
		_, err := tx.DismissAnalysis(ctx, store.Everything, a.ID, 0)
		return err
	})
	Write(t, s, func(ctx context.Context, tx *store.Tx) error { // what a worker does that has not noticed
		for _, late := range []func() (store.Finished, error){
			func() (store.Finished, error) { return tx.FinishDataset(ctx, a.ID, 0, Digest("late"), nil) },
			func() (store.Finished, error) { return tx.FinishAnalysis(ctx, a.ID, nil, nil) },
			func() (store.Finished, error) { return tx.FailAnalysis(ctx, a.ID, nil) },
		} {
			if got, err := late(); err != nil || got.Wrote || got.Analysis.State != store.AnalysisDismissed {
				t.Errorf("a late worker: %+v, %v", got, err)
			}
		}
		return nil
	})
	if tables, err := s.ResultTables(ctx, store.Everything, a.ID); err != nil || len(tables) != 0 {
		t.Errorf("a dismissed analysis has the tables %+v, %v", tables, err)
	}
	blobs := []string{Digest("dismissed part"), Digest("dismissed fits")}
	if unused, err := s.UnusedBlobs(ctx, blobs); err != nil || !reflect.DeepEqual(unused, blobs) {
		t.Errorf("unused are %v, %v", unused, err)
	}
}

func analysisRefused(t *testing.T, s *store.Store) {
	ctx := context.Background()
	season, other := Season(t, s, "refused"), Season(t, s, "refused, other")
	ids := IDs(Datasets(t, s, season, "refused", 2))
	elsewhere := IDs(Datasets(t, s, other, "refused", 1))
	Write(t, s, func(ctx context.Context, tx *store.Tx) error {
		_, err := tx.DeleteDataset(ctx, store.Everything, ids[1], 1)
		return err
	})
	for _, tt := range []struct {
		name     string
		scope    store.Scope
		season   string
		datasets []string
		want     error
	}{
		{"none", store.Everything, season.ID, nil, store.ErrConflict},
		{"named twice", store.Everything, season.ID, []string{ids[0], ids[0]}, store.ErrConflict},
		{"deleted", store.Everything, season.ID, ids, store.ErrConflict},
		{"of another season", store.Everything, season.ID, elsewhere, store.ErrConflict},
		{"out of scope", store.Scope{Seasons: []string{other.ID}}, season.ID, ids[:1], store.ErrNotFound},
		{"of no season", store.Everything, store.NewID(), ids[:1], store.ErrNotFound},
	} {
		refuse(t, s, tt.name, tt.want, func(tx *store.Tx) error {
			_, err := tx.CreateAnalysis(ctx, tt.scope, store.Analysis{SeasonID: tt.season}, tt.datasets)
			return err
		})
	}
}

// partOnce checks that of many that finish the same dataset at the same time one
// writes.
func partOnce(t *testing.T, s *store.Store) {
	season := Season(t, s, "part once")
	a := Analysis(t, s, season, Datasets(t, s, season, "part once", 2))
	wrote, _ := race(t, s, a.ID, func(int) int { return 0 })
	if wrote != 1 {
		t.Errorf("%d wrote the part, want 1", wrote)
	}
}

// lastPart checks that of many that finish the datasets of an analysis at the same
// time one brings the remaining count to 0.
func lastPart(t *testing.T, s *store.Store) {
	season := Season(t, s, "last part")
	a := Analysis(t, s, season, Datasets(t, s, season, "last part", racers))
	wrote, last := race(t, s, a.ID, func(i int) int { return i })
	if wrote != racers || last != 1 {
		t.Errorf("%d wrote a part and %d were the last, want %d and 1", wrote, last, racers)
	}
}

const racers = 8

// race lets many finish datasets of an analysis at the same time and counts those
// that wrote, and those that wrote the last part.
func race(t *testing.T, s *store.Store, id string, position func(int) int) (wrote, last int) {
	t.Helper()
	Write(t, s, func(ctx context.Context, tx *store.Tx) error {
		_, err := tx.StartAnalysis(ctx, id)
		return err
	})
	finished, errs := make([]store.Finished, racers), make([]error, racers)
	var all sync.WaitGroup
	for i := range racers {
		all.Go(func() {
			ctx := context.Background()
			errs[i] = s.InTx(ctx, func(tx *store.Tx) (err error) {
				finished[i], err = tx.FinishDataset(ctx, id, position(i), Digest(fmt.Sprint("part ", i)), nil)
				return err
			})
		})
	}
	all.Wait()
	for i, f := range finished {
		if errs[i] != nil {
			t.Fatal(errs[i])
		}
		if f.Wrote {
			wrote++
			if f.Remaining == 0 {
				last++
			}
		}
	}
	return wrote, last
}

func newestResults(t *testing.T, s *store.Store) {
	ctx := context.Background()
	season := Season(t, s, "newest")
	d := Datasets(t, s, season, "newest", 3)
	run := func(datasets []store.Dataset, fail int) store.Analysis {
		t.Helper()
		a := Analysis(t, s, season, datasets)
		Write(t, s, func(ctx context.Context, tx *store.Tx) error {
			if _, err := tx.StartAnalysis(ctx, a.ID); err != nil {
				return err
			}
			for i := range datasets {
				part := Digest("part")
				if i == fail {
					part = ""
				}
				if _, err := tx.FinishDataset(ctx, a.ID, i, part, nil); err != nil {
					return err
				}
			}
			_, err := tx.FinishAnalysis(ctx, a.ID, nil, nil)
			return err
		})
		return a
	}
	first := run(d, -1)
	second := run(d[:2], 0) // its first dataset failed
	Analysis(t, s, season, d)
	want := map[string]string{d[0].ID: first.ID, d[1].ID: second.ID, d[2].ID: first.ID}
	for _, seasonID := range []string{season.ID, ""} {
		got, err := s.LatestResults(ctx, store.Scope{Seasons: []string{season.ID}}, seasonID)
		if err != nil || len(got) != len(want) {
			t.Errorf("the newest results are %+v, %v; want %v", got, err, want)
		}
		for _, l := range got {
			if want[l.DatasetID] != l.AnalysisID || l.SeasonID != season.ID {
				t.Errorf("the newest analysis of dataset %s is %s, want %s", l.DatasetID, l.AnalysisID, want[l.DatasetID])
			}
		}
	}
	if got, err := s.LatestResults(ctx, store.Scope{}, season.ID); err != nil || len(got) != 0 {
		t.Errorf("out of scope there are %+v, %v", got, err)
	}
	list, err := s.Analyses(ctx, store.Everything, store.Filter{Datasets: []string{d[2].ID}, States: []string{store.AnalysisSuccessful}}, many)
	if err != nil || len(list.Rows) != 1 || list.Rows[0].ID != first.ID {
		t.Errorf("the successful analyses of a dataset are %+v, %v", list.Rows, err)
	}
	Write(t, s, func(ctx context.Context, tx *store.Tx) error {
		_, err := tx.DeleteDataset(ctx, store.Everything, d[0].ID, 1)
		return err
	})
	if got, err := s.LatestResults(ctx, store.Everything, season.ID); err != nil || len(got) != 2 {
		t.Errorf("after a deletion the newest results are %+v, %v", got, err)
	}
	parts, err := s.AnalysisDatasets(ctx, store.Everything, first.ID)
	if err != nil || parts[0].DatasetState != store.DatasetDeleted {
		t.Errorf("an analysis does not say that its dataset was deleted: %+v, %v", parts, err)
	}
}
