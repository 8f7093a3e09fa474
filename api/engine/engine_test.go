package engine_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"sheetwash/analysis/result"
	"sheetwash/api"
	"sheetwash/api/batch"
	"sheetwash/api/blobs"
	"sheetwash/api/engine"
	"sheetwash/api/jobs"
	"sheetwash/api/problem"
	"sheetwash/api/report"
	"sheetwash/api/store"
	"sheetwash/ingest"
	"sheetwash/ingest/columnar"
)

func TestMain(m *testing.M) {
	columnar.ChildMain()
	os.Exit(m.Run())
}

const demoSeason = "../../testdata/demo-season"

// bench is an engine with empty records and blobs.
type bench struct {
	*testing.T
	store  *store.Store
	blobs  blobs.Blobs
	engine *engine.Engine
	season store.Season
}

func setUp(t *testing.T) *bench {
	t.Helper()
	b := &bench{T: t}
	var err error
	if b.store, err = store.Open(t.Context(), store.Config{SQLitePath: filepath.Join(t.TempDir(), "records.db")}); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = b.store.Close() })
	if b.blobs, err = blobs.OpenFiles(filepath.Join(t.TempDir(), "blobs")); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = b.blobs.Close() })
	b.engine, err = engine.New(engine.Config{Store: b.store, Blobs: b.blobs, Program: batch.Program{Name: "sheetwash", Version: "test"}, Workers: 2})
	if err != nil {
		t.Fatal(err)
	}
	b.write(func(tx *store.Tx) (err error) {
		b.season, err = tx.CreateSeason(t.Context(), store.Season{Name: "2031", TimeZone: "UTC", Units: "si"})
		return err
	})
	return b
}

func (b *bench) write(do func(*store.Tx) error) {
	b.Helper()
	if err := b.store.InTx(b.Context(), do); err != nil {
		b.Fatal(err)
	}
}

// upload is a folder as it would lie after its upload: under names of our own.
func upload(t *testing.T, name, folder string) api.Upload {
	t.Helper()
	u := api.Upload{Name: name}
	err := filepath.WalkDir(folder, func(p string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		data, err := os.ReadFile(p)
		if err != nil {
			return err
		}
		digest := fmt.Sprintf("%x", sha256.Sum256(data))
		lies := filepath.Join(t.TempDir(), digest)
		rel, _ := filepath.Rel(folder, p)
		if rel == "." {
			rel = filepath.Base(p)
		}
		u.Files = append(u.Files, api.UploadFile{Name: filepath.ToSlash(rel), Path: lies, SHA256: digest, Bytes: int64(len(data))})
		return os.WriteFile(lies, data, 0o600)
	})
	if err != nil {
		t.Fatal(err)
	}
	return u
}

// add stores an upload that stands, as the service does.
func (b *bench) add(u api.Upload) store.Dataset {
	b.Helper()
	c, err := b.engine.Check(b.Context(), u)
	if err != nil {
		b.Fatal(err)
	}
	if c.Counts.Errors > 0 {
		b.Fatalf("%s: %+v", u.Name, c.Findings)
	}
	d := store.Dataset{ID: store.NewID(), SeasonID: b.season.ID, Name: u.Name, State: store.DatasetAccepted}
	h := sha256.New()
	for _, f := range u.Files {
		data, err := os.Open(f.Path)
		if err != nil {
			b.Fatal(err)
		}
		kept, err := b.blobs.Put(b.Context(), data)
		data.Close()
		if err != nil || kept.Digest != f.SHA256 {
			b.Fatalf("%s: %v", f.Name, err)
		}
		fmt.Fprintln(h, f.Name, f.SHA256)
		d.Files = append(d.Files, store.File{Name: f.Name, SHA256: f.SHA256, Bytes: f.Bytes})
	}
	d.SHA256 = fmt.Sprintf("%x", h.Sum(nil))
	if c.Calibrations != nil {
		kept, err := b.blobs.Put(b.Context(), bytes.NewReader(c.Calibrations))
		if err != nil {
			b.Fatal(err)
		}
		d.CalibrationsBlob = kept.Digest
	}
	b.write(func(tx *store.Tx) (err error) {
		d, _, err = tx.InsertDataset(b.Context(), store.Everything, d, c.Rows)
		return err
	})
	return d
}

// parts runs the jobs of the datasets of an analysis, one after the other.
func (b *bench) parts(parameters string, datasets ...store.Dataset) (store.Analysis, []store.AnalysisDataset) {
	b.Helper()
	ids := make([]string, len(datasets))
	for i, d := range datasets {
		ids[i] = d.ID
	}
	var a store.Analysis
	b.write(func(tx *store.Tx) (err error) {
		a, err = tx.CreateAnalysis(b.Context(), store.Everything, store.Analysis{SeasonID: b.season.ID, Parameters: json.RawMessage(parameters)}, ids)
		if err == nil {
			a, err = tx.StartAnalysis(b.Context(), a.ID)
		}
		return err
	})
	list := func() []store.AnalysisDataset {
		all, err := b.store.AnalysisDatasets(b.Context(), store.Everything, a.ID)
		if err != nil {
			b.Fatal(err)
		}
		return all
	}
	work := b.engine.Work()
	for position := range ids {
		part, refusal, err := work.Dataset(b.Context(), a, list(), position)
		if err != nil {
			b.Fatal(err)
		}
		b.write(func(tx *store.Tx) error {
			_, err := tx.FinishDataset(b.Context(), a.ID, position, part, refusal)
			return err
		})
	}
	return a, list()
}

// analyse runs the work of all jobs of an analysis.
func (b *bench) analyse(parameters string, datasets ...store.Dataset) store.Analysis {
	b.Helper()
	a, parts := b.parts(parameters, datasets...)
	tables, provenance, err := b.engine.Work().Fold(b.Context(), a, parts)
	if err != nil {
		b.Fatal(err)
	}
	b.write(func(tx *store.Tx) error {
		_, err := tx.FinishAnalysis(b.Context(), a.ID, tables, provenance)
		return err
	})
	if a, err = b.store.Analysis(b.Context(), store.Everything, a.ID); err != nil || a.State != store.AnalysisSuccessful {
		b.Fatalf("the analysis is %s: %v", a.State, err)
	}
	return a
}

// table is a stored table as the JSON file that the command line writes.
func (b *bench) table(a store.Analysis, name string, u report.Units) string {
	b.Helper()
	t, err := b.engine.Table(b.Context(), a, name, u)
	if err != nil {
		b.Fatal(err)
	}
	defer t.Close()
	rows, err := t.JSON(b.Context(), 0, t.Rows())
	if err != nil {
		b.Fatal(err)
	}
	if len(rows) == 0 {
		return "[\n]\n"
	}
	return "[\n" + string(bytes.Join(rows, []byte(",\n"))) + "\n]\n"
}

// A season that came in by uploads gives the bytes that the command line gives for
// the folder, in both systems of units.
func TestSameNumbersAsTheCommandLine(t *testing.T) {
	b := setUp(t)
	days, err := os.ReadDir(demoSeason)
	if err != nil {
		t.Fatal(err)
	}
	var datasets []store.Dataset
	for _, day := range slices.Backward(days) { // the order of arrival is another
		if strings.HasSuffix(day.Name(), ".zip") || day.IsDir() {
			datasets = append(datasets, b.add(upload(t, strings.TrimSuffix(day.Name(), ".zip"), filepath.Join(demoSeason, day.Name()))))
		}
	}
	a := b.analyse("", datasets...)

	q := batch.Request{Workers: 2}
	season, err := q.ReadSeason(t.Context(), []string{demoSeason}, ingest.FindOptions{}, func(int, int) {})
	if err != nil {
		t.Fatal(err)
	}
	want, err := q.AnalyseSeason(t.Context(), season)
	if err != nil {
		t.Fatal(err)
	}
	want.Findings = slices.DeleteFunc(want.Findings, func(f result.Finding) bool { return f.Dataset == "" }) // of files beside the datasets
	for _, units := range []report.Units{report.SI, report.US} {
		for _, table := range report.Tables(units) {
			var text strings.Builder
			if err := report.Write(&text, want, table.Name, report.Options{Format: report.JSON, Units: units}); err != nil {
				t.Fatal(err)
			}
			if got := b.table(a, table.Name, units); got != text.String() {
				t.Errorf("%s in %v differs: %s", table.Name, units, firstDifference(got, text.String()))
			}
		}
	}
	if !bytes.Contains(a.Provenance, []byte(`"sha256"`)) {
		t.Errorf("provenance %s", a.Provenance)
	}
}

func firstDifference(got, want string) string {
	g, w := strings.Split(got, "\n"), strings.Split(want, "\n")
	for i := range min(len(g), len(w)) {
		if g[i] != w[i] {
			return fmt.Sprintf("line %d is\n%s\nwant\n%s", i+1, g[i], w[i])
		}
	}
	return fmt.Sprintf("%d lines, want %d", len(g), len(w))
}

// A refused dataset costs its own rows alone, and its findings are in the table.
func TestOneBadDataset(t *testing.T) {
	b := setUp(t)
	good := b.add(upload(t, "good", filepath.Join(demoSeason, "01-ashlock-mill")))
	bad := b.add(upload(t, "uncalibrated", write(t, map[string]string{
		"runs.csv":    "run,event,rain_duration [min],simulator,date\nR9,Pell Farm,30,none,2031-05-13\n",
		"plots.csv":   "run,plot,treatment,area [m2]\nR9,1,bare,0.5\n",
		"samples.csv": "run,plot,stream,start [min],end [min],volume [mL]\nR9,1,runoff,5,10,500\n",
	})))
	a := b.analyse("", good, bad)
	if a.Done != 2 || a.Failed != 1 {
		t.Errorf("%d done, %d failed", a.Done, a.Failed)
	}
	if got := b.table(a, "findings", report.SI); !strings.Contains(got, `"dataset":"uncalibrated","code":"plot.no_intensity","severity":"error"`) {
		t.Errorf("findings %s", got)
	}
	if got := b.table(a, "plot_results", report.SI); strings.Contains(got, "uncalibrated") || !strings.Contains(got, `"dataset":"good"`) {
		t.Errorf("plot results %s", got)
	}
	if !bytes.Contains(a.Provenance, []byte(`"state":"refused"`)) {
		t.Errorf("provenance %s", a.Provenance)
	}
}

func write(t *testing.T, files map[string]string) string {
	t.Helper()
	dir := t.TempDir()
	for name, text := range files {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

// A plot that was excluded over the service leaves the statistics and says so.
func TestExcludedPlot(t *testing.T) {
	b := setUp(t)
	d := b.add(upload(t, "day", filepath.Join(demoSeason, "01-ashlock-mill")))
	plots, err := b.store.Plots(t.Context(), store.Everything, store.Filter{Datasets: []string{d.ID}}, store.Page{Limit: 10})
	if err != nil {
		t.Fatal(err)
	}
	p := plots.Rows[0]
	before := b.table(b.analyse("", d), "plot_results", report.SI)
	b.write(func(tx *store.Tx) error {
		_, err := tx.ExcludePlot(t.Context(), store.Everything, p.ID, p.Revision, true, "a mole below the plot")
		return err
	})
	a := b.analyse("", d)
	after := b.table(a, "plot_results", report.SI)
	key := fmt.Sprintf(`"run":%q,"plot":%q`, p.Run, p.Plot)
	for _, line := range strings.Split(after, "\n") {
		if strings.Contains(line, key) != strings.Contains(line, "excluded") {
			t.Errorf("row %s", line)
		}
	}
	if before == after || !bytes.Contains(a.Provenance, []byte("a mole below the plot")) {
		t.Errorf("the exclusion is not in the provenance %s", a.Provenance)
	}
}

// What is asked for in the body gives the rows of a stored analysis.
func TestAnalyseAtOnce(t *testing.T) {
	b := setUp(t)
	u := upload(t, "day", filepath.Join(demoSeason, "03-fenwick-holt"))
	c, a, err := b.engine.Analyse(t.Context(), u, json.RawMessage(`{"level":0.9,"errors":{"volume_ml":3}}`))
	if err != nil || c.Counts.Errors > 0 {
		t.Fatalf("%+v %v", c, err)
	}
	stored := b.analyse(`{"level":0.9,"errors":{"volume_ml":3}}`, b.add(u))
	var text strings.Builder
	if err := report.Write(&text, a, "plot_results", report.Options{Format: report.JSON}); err != nil {
		t.Fatal(err)
	}
	if got := b.table(stored, "plot_results", report.SI); got != text.String() {
		t.Errorf("stored and at once differ: %s", firstDifference(got, text.String()))
	}
	if !strings.Contains(text.String(), `"level":0.9`) {
		t.Error("the level is not that of the request")
	}
}

// A reference treatment is what the others are compared with, at once and stored;
// one that the data do not have is refused, and not tried again.
func TestReference(t *testing.T) {
	b := setUp(t)
	u := upload(t, "day", filepath.Join(demoSeason, "03-fenwick-holt"))
	const named = `{"reference":"oak-wood litter"}`
	_, a, err := b.engine.Analyse(t.Context(), u, json.RawMessage(named))
	if err != nil || len(a.Comparisons) == 0 {
		t.Fatalf("%d comparisons: %v", len(a.Comparisons), err)
	}
	for _, r := range a.Comparisons {
		if r.Reference != "oak-wood litter" && !r.Beside() && !r.Flags.Has("reference_differs") {
			t.Fatalf("%s is compared with %s", r.Treatment, r.Reference)
		}
	}
	var text strings.Builder
	if err := report.Write(&text, a, "comparisons", report.Options{Format: report.JSON}); err != nil {
		t.Fatal(err)
	}
	d := b.add(u)
	if got := b.table(b.analyse(named, d), "comparisons", report.SI); got != text.String() {
		t.Errorf("stored and at once differ: %s", firstDifference(got, text.String()))
	}

	const unknown = `{"reference":"asphalt"}`
	_, _, err = b.engine.Analyse(t.Context(), u, json.RawMessage(unknown))
	if p := problem.From(err); p.Code != problem.MalformedRequest || !strings.Contains(p.Detail, "asphalt") {
		t.Errorf("at once: %v", err)
	}
	stored, parts := b.parts(unknown, d)
	_, _, err = b.engine.Work().Fold(t.Context(), stored, parts)
	var final jobs.Rejection
	if !errors.As(err, &final) || !bytes.Contains(final.Problem, []byte("asphalt")) {
		t.Errorf("stored: %v", err)
	}
}

// Bad requests are told by the code of what is wrong.
func TestRefusals(t *testing.T) {
	b := setUp(t)
	for parameters, ok := range map[string]bool{
		``: true, `null`: true, `{}`: true, `{"level":0.8,"threshold_share":0.1,"smoothing_s":30,"final_min":5}`: true,
		`{"level":0.5}`: false, `{"levels":0.9}`: false, `{"errors":{"tare":1}}`: false, `{"errors":{"mass_g":-1}}`: false, `[]`: false, `{"final_min":1e9}`: false,
	} {
		var p *problem.Error
		switch err := b.engine.Valid(json.RawMessage(parameters)); {
		case ok && err != nil:
			t.Errorf("%s: %v", parameters, err)
		case !ok && (!errors.As(err, &p) || p.Code != problem.MalformedRequest):
			t.Errorf("%s: %v, want malformed_request", parameters, err)
		}
	}
	for name, c := range map[string]struct {
		files map[string]string
		code  string
	}{
		"two days":     {map[string]string{"a/runs.csv": "run\n", "b/runs.csv": "run\n"}, "dataset.several"},
		"nothing":      {map[string]string{"notes.md": "x", "more.md": "y"}, "dataset.none"},
		"a wrong cell": {map[string]string{"cans.csv": "calibration,duration [min],depth [mm]\nC,ten,5\n"}, "cell.not_a_number"},
	} {
		dir := t.TempDir()
		for file, text := range c.files {
			p := filepath.Join(dir, filepath.FromSlash(file))
			if err := os.MkdirAll(filepath.Dir(p), 0o755); err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(p, []byte(text), 0o600); err != nil {
				t.Fatal(err)
			}
		}
		got, err := b.engine.Check(t.Context(), upload(t, "day", dir))
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if got.Counts.Errors == 0 || !strings.Contains(fmt.Sprintf("%+v", got.Findings), c.code) {
			t.Errorf("%s: %+v, want %s", name, got, c.code)
		}
	}
	u := upload(t, "day", filepath.Join(demoSeason, "01-ashlock-mill"))
	u.Zone = "Mars/Olympus"
	if _, err := b.engine.Check(t.Context(), u); err == nil {
		t.Error("a time zone that does not exist is taken")
	}
}
