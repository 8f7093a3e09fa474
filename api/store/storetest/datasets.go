package storetest

import (
	"context"
	"errors"
	"reflect"
	"sync"
	"testing"

	"sheetwash/api/store"
)

// keptOnce checks that the same bytes into one season and event are one dataset,
// also when many send them at the same time.
func keptOnce(t *testing.T, s *store.Store) {
	ctx := context.Background()
	season := Season(t, s, "once")
	const callers = 8
	ids, fresh := make([]string, callers), make([]bool, callers)
	errs := make([]error, callers)
	var all sync.WaitGroup
	for i := range callers {
		all.Go(func() {
			errs[i] = s.InTx(ctx, func(tx *store.Tx) error {
				d, rows := Dataset(season.ID, "the same")
				kept, made, err := tx.InsertDataset(ctx, store.Everything, d, rows)
				ids[i], fresh[i] = kept.ID, made
				return err
			})
		})
	}
	all.Wait()
	made := 0
	for i := range callers {
		if errs[i] != nil {
			t.Fatal(errs[i])
		}
		if ids[i] != ids[0] {
			t.Errorf("caller %d got dataset %s, the first got %s", i, ids[i], ids[0])
		}
		if fresh[i] {
			made++
		}
	}
	if made != 1 {
		t.Errorf("%d callers made the dataset, want 1", made)
	}
	plots, err := s.Plots(ctx, store.Everything, store.Filter{Seasons: []string{season.ID}}, store.Page{Limit: 10})
	if err != nil || len(plots.Rows) != 2 {
		t.Errorf("the season has %d plots, %v; want the 2 of one dataset", len(plots.Rows), err)
	}
	other := Season(t, s, "the other")
	if d := Datasets(t, s, other, "the same", 1); d[0].ID == ids[0] {
		t.Error("the same bytes in another season are another dataset")
	}
	refuse(t, s, "an id that is taken", store.ErrConflict, func(tx *store.Tx) error {
		d, rows := Dataset(season.ID, "other bytes")
		d.ID = ids[0]
		_, _, err := tx.InsertDataset(ctx, store.Everything, d, rows)
		return err
	})
	refuse(t, s, "a season that is not there", store.ErrNotFound, func(tx *store.Tx) error {
		d, rows := Dataset(store.NewID(), "nowhere")
		_, _, err := tx.InsertDataset(ctx, store.Everything, d, rows)
		return err
	})
	refuse(t, s, "an event of another season", store.ErrNotFound, func(tx *store.Tx) error {
		e, err := tx.CreateEvent(ctx, store.Everything, store.Event{SeasonID: other.ID, Name: "elsewhere"})
		if err != nil {
			return err
		}
		d, rows := Dataset(season.ID, "wrong event")
		d.EventID = e.ID
		_, _, err = tx.InsertDataset(ctx, store.Everything, d, rows)
		return err
	})
}

func datasetRows(t *testing.T, s *store.Store) {
	ctx := context.Background()
	season := Season(t, s, "rows")
	made := Datasets(t, s, season, "rows", 1)[0]
	if got, err := s.Dataset(ctx, store.Everything, made.ID); err != nil || !reflect.DeepEqual(got, made) {
		t.Errorf("read back: %+v, %v; want %+v", got, err, made)
	}
	f := store.Filter{Datasets: []string{made.ID}}
	runs, err := s.Runs(ctx, store.Everything, f, store.Page{Limit: 10})
	if err != nil || len(runs.Rows) != 1 || runs.Rows[0].Plots != 2 || runs.Rows[0].Started == "" {
		t.Fatalf("the runs are %+v, %v", runs.Rows, err)
	}
	if run, err := s.Run(ctx, store.Everything, runs.Rows[0].ID); err != nil || run != runs.Rows[0] {
		t.Errorf("the run is %+v, %v", run, err)
	}
	plots, err := s.Plots(ctx, store.Everything, f, store.Page{Limit: 10, Sort: "plot"})
	if err != nil || len(plots.Rows) != 2 || plots.Rows[0].RunID != runs.Rows[0].ID || plots.Rows[1].Plot != "P2" {
		t.Fatalf("the plots are %+v, %v", plots.Rows, err)
	}
	calibrations, err := s.Calibrations(ctx, store.Everything, f, store.Page{Limit: 10})
	if err != nil || len(calibrations.Rows) != 1 || calibrations.Rows[0].Cans != 16 {
		t.Fatalf("the calibrations are %+v, %v", calibrations.Rows, err)
	}
	if c, err := s.Calibration(ctx, store.Everything, calibrations.Rows[0].ID); err != nil || c != calibrations.Rows[0] {
		t.Errorf("the calibration is %+v, %v", c, err)
	}
	first := plots.Rows[0]
	Write(t, s, func(ctx context.Context, tx *store.Tx) error {
		got, err := tx.ExcludePlot(ctx, store.Everything, first.ID, 1, true, "the frame leaked")
		if !got.Excluded || got.ExcludeReason != "the frame leaked" || got.Revision != 2 {
			t.Errorf("the excluded plot is %+v", got)
		}
		return err
	})
	refuse(t, s, "excluding an old revision", store.ErrRevision, func(tx *store.Tx) error {
		_, err := tx.ExcludePlot(ctx, store.Everything, first.ID, 1, false, "")
		return err
	})
	treatment, err := s.Treatment(ctx, store.Everything, store.TreatmentID(season.ID, first.Treatment))
	want := store.Treatment{ID: first.TreatmentID, SeasonID: season.ID, Name: first.Treatment, Plots: 1, Excluded: 1, Runs: 1, Datasets: 1}
	if err != nil || treatment != want {
		t.Errorf("the treatment is %+v, %v; want %+v", treatment, err, want)
	}
	if _, err := s.Treatment(ctx, store.Everything, store.TreatmentID(season.ID, "no such")); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("a treatment without plots answers %v", err)
	}
}

func tombstone(t *testing.T, s *store.Store) {
	ctx := context.Background()
	season := Season(t, s, "tombstone")
	made := Datasets(t, s, season, "tombstone", 2)[0]
	refuse(t, s, "an old revision", store.ErrRevision, func(tx *store.Tx) error {
		_, err := tx.DeleteDataset(ctx, store.Everything, made.ID, 7)
		return err
	})
	Write(t, s, func(ctx context.Context, tx *store.Tx) error {
		got, err := tx.DeleteDataset(ctx, store.Everything, made.ID, 1)
		if got.State != store.DatasetDeleted || got.DeletedAt == nil || got.SHA256 != made.SHA256 || len(got.Files) != 0 {
			t.Errorf("the tombstone is %+v", got)
		}
		return err
	})
	refuse(t, s, "deleting twice", store.ErrConflict, func(tx *store.Tx) error {
		_, err := tx.DeleteDataset(ctx, store.Everything, made.ID, 2)
		return err
	})
	f := store.Filter{Seasons: []string{season.ID}}
	if list, err := s.Datasets(ctx, store.Everything, f, store.Page{Limit: 10}); err != nil || len(list.Rows) != 1 {
		t.Errorf("%d datasets are listed, %v; want the one that is left", len(list.Rows), err)
	}
	f.States = []string{store.DatasetDeleted}
	if list, err := s.Datasets(ctx, store.Everything, f, store.Page{Limit: 10}); err != nil || len(list.Rows) != 1 || list.Rows[0].ID != made.ID {
		t.Errorf("the deleted datasets are %+v, %v", list.Rows, err)
	}
	plots, err := s.Plots(ctx, store.Everything, store.Filter{Datasets: []string{made.ID}}, store.Page{Limit: 10})
	if err != nil || len(plots.Rows) != 0 {
		t.Errorf("a deleted dataset has %d plots, %v", len(plots.Rows), err)
	}
	if again := Datasets(t, s, season, "tombstone", 1); again[0].ID == made.ID {
		t.Error("the bytes of a deleted dataset, sent again, are a new dataset")
	}
	refuse(t, s, "deleting a season with a tombstone", store.ErrConflict, func(tx *store.Tx) error {
		return tx.DeleteSeason(ctx, store.Everything, season.ID, 1)
	})
}

// blobsInUse checks that a blob is in use as long as one record names it.
func blobsInUse(t *testing.T, s *store.Store) {
	ctx := context.Background()
	season := Season(t, s, "blobs")
	shared := Digest("file of blobs 0")
	first := Datasets(t, s, season, "blobs", 1)[0]
	second, rows := Dataset(season.ID, "of the same file")
	second.Files[0].SHA256 = shared
	Write(t, s, func(ctx context.Context, tx *store.Tx) error {
		_, _, err := tx.InsertDataset(ctx, store.Everything, second, rows)
		return err
	})
	unused := func() []string {
		t.Helper()
		got, err := s.UnusedBlobs(ctx, []string{shared, first.FindingsBlob, Digest("nobody's")})
		if err != nil {
			t.Fatal(err)
		}
		return got
	}
	if got := unused(); !reflect.DeepEqual(got, []string{Digest("nobody's")}) {
		t.Errorf("unused are %v", got)
	}
	Write(t, s, func(ctx context.Context, tx *store.Tx) error {
		_, err := tx.DeleteDataset(ctx, store.Everything, first.ID, 1)
		return err
	})
	if got := unused(); !reflect.DeepEqual(got, []string{first.FindingsBlob, Digest("nobody's")}) {
		t.Errorf("after the deletion of one of two datasets with a file, unused are %v", got)
	}
}
