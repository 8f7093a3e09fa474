package cli

import (
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"sheetwash/analysis"
	"sheetwash/ingest"
)

// A run that goes on after a stop takes the finished datasets from their
// checkpoints and gives the bytes of a run that was never stopped.
func TestResume(t *testing.T) {
	inSeason(t)
	if got := run(t, "analyze", "testdata/demo-season", "--out", "whole"); got.code != exitDone {
		t.Fatal(got.err)
	}
	f := &analyzeFlags{out: "results", formats: "csv", units: "si", table: "findings", jobs: 2, resume: true}
	j, err := f.job([]string{"testdata/demo-season"}, false)
	if err != nil {
		t.Fatal(err)
	}
	all, err := j.ReadSeason(t.Context(), j.paths, ingest.FindOptions{}, func(int, int) {})
	if err != nil {
		t.Fatal(err)
	}
	keep, err := j.checkpoints(all)
	if err != nil {
		t.Fatal(err)
	}
	for i := range all.Datasets[:5] {
		d := &all.Datasets[i] // then the power fails
		p, err := analysis.Dataset(t.Context(), d.Dataset, nil, j.Plan(d))
		if err != nil {
			t.Fatal(err)
		}
		if err := keep.save(d, j.Plan(d), &p); err != nil {
			t.Fatal(err)
		}
	}
	spoil(t, "results/.resume")
	got := run(t, "analyze", "testdata/demo-season", "--out", "results", "--resume")
	if got.code != exitDone || !strings.Contains(got.err, "Took 4 finished datasets") {
		t.Errorf("exit %d\n%s", got.code, got.err)
	}
	if whole, resumed := files(t, "whole"), files(t, "results"); !maps.Equal(whole, resumed) {
		t.Errorf("a resumed run gives other files than a whole one: %v and %v", slices.Sorted(maps.Keys(resumed)), slices.Sorted(maps.Keys(whole)))
	}
}

// spoil cuts one checkpoint short, as a failing disk might.
func spoil(t *testing.T, dir string) {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil || len(entries) == 0 {
		t.Fatalf("no checkpoints: %v", err)
	}
	if err := os.Truncate(filepath.Join(dir, entries[0].Name()), 100); err != nil {
		t.Fatal(err)
	}
}

// Other settings are other checkpoints.
func TestResumeWithOtherSettings(t *testing.T) {
	inSeason(t)
	f := &analyzeFlags{out: "results", formats: "csv", units: "si", table: "findings", jobs: 2, resume: true}
	j, err := f.job([]string{"mixed/good"}, false)
	if err != nil {
		t.Fatal(err)
	}
	all, err := j.ReadSeason(t.Context(), j.paths, ingest.FindOptions{}, func(int, int) {})
	if err != nil {
		t.Fatal(err)
	}
	keep, err := j.checkpoints(all)
	if err != nil {
		t.Fatal(err)
	}
	d := &all.Datasets[0]
	plan := j.Plan(d)
	if err := keep.save(d, plan, &analysis.Part{Dataset: d.Name}); err != nil {
		t.Fatal(err)
	}
	if _, ok := keep.load(d, plan); !ok {
		t.Error("the checkpoint is not found again")
	}
	plan.Workers++
	if _, ok := keep.load(d, plan); !ok {
		t.Error("another number of workers misses the checkpoint")
	}
	plan.Level = 0.9
	if _, ok := keep.load(d, plan); ok {
		t.Error("another level takes the checkpoint")
	}
}
