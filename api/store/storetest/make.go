package storetest

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"testing"

	"sheetwash/api/store"
)

// Digest is the digest of a text, where a test needs a blob's name.
func Digest(text string) string {
	d := sha256.Sum256([]byte(text))
	return hex.EncodeToString(d[:])
}

// Write runs a transaction that must succeed.
func Write(t testing.TB, s *store.Store, do func(context.Context, *store.Tx) error) {
	t.Helper()
	ctx := context.Background()
	if err := s.InTx(ctx, func(tx *store.Tx) error { return do(ctx, tx) }); err != nil {
		t.Fatal(err)
	}
}

// Season writes a season.
func Season(t testing.TB, s *store.Store, name string) (made store.Season) {
	t.Helper()
	Write(t, s, func(ctx context.Context, tx *store.Tx) (err error) {
		made, err = tx.CreateSeason(ctx, store.Season{Name: name, TimeZone: "Europe/Dublin", Units: "si"})
		return err
	})
	return made
}

// Datasets writes accepted datasets with one run, two plots and one calibration
// each. Their names are "<name> 0", "<name> 1" and so on.
func Datasets(t testing.TB, s *store.Store, season store.Season, name string, n int) (made []store.Dataset) {
	t.Helper()
	Write(t, s, func(ctx context.Context, tx *store.Tx) error {
		for i := range n {
			d, rows := Dataset(season.ID, fmt.Sprintf("%s %d", name, i))
			kept, fresh, err := tx.InsertDataset(ctx, store.Everything, d, rows)
			if err != nil {
				return err
			}
			if !fresh {
				return fmt.Errorf("dataset %d was there already", i)
			}
			made = append(made, kept)
		}
		return nil
	})
	return made
}

// Dataset is an accepted dataset with one run, two plots and one calibration.
func Dataset(seasonID, name string) (store.Dataset, store.DatasetRows) {
	file := Digest("file of " + name)
	d := store.Dataset{SeasonID: seasonID, Name: name, SHA256: Digest(name), Bytes: 12, State: store.DatasetAccepted, Notes: 1,
		Files: []store.File{{Name: "samples.csv", SHA256: file, Bytes: 12}}, FindingsBlob: Digest("findings of " + name)}
	return d, store.DatasetRows{
		Runs: []store.RunRow{{Event: "Ashlock Mill", Run: "R1", Simulator: "trailer", Started: "2026-05-04T10:30:00+01:00", Plots: 2}},
		Plots: []store.PlotRow{
			{Event: "Ashlock Mill", Run: "R1", Plot: "P1", Treatment: "meadow fescue ley", Block: "1"},
			{Event: "Ashlock Mill", Run: "R1", Plot: "P2", Treatment: "potato ridges, bare", Block: "1"},
		},
		Calibrations: []store.CalibrationRow{{Calibration: "C1", Simulator: "trailer", Date: "2026-05-04", Cans: 16}},
	}
}

// Analysis writes an analysis over datasets of a season.
func Analysis(t testing.TB, s *store.Store, season store.Season, datasets []store.Dataset) (made store.Analysis) {
	t.Helper()
	Write(t, s, func(ctx context.Context, tx *store.Tx) (err error) {
		made, err = tx.CreateAnalysis(ctx, store.Everything, store.Analysis{SeasonID: season.ID, CreatedBy: "key of " + season.ID}, IDs(datasets))
		return err
	})
	return made
}

// IDs are the ids of datasets.
func IDs(datasets []store.Dataset) (ids []string) {
	for _, d := range datasets {
		ids = append(ids, d.ID)
	}
	return ids
}
