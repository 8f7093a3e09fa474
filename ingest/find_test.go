package ingest_test

import (
	"archive/zip"
	"bytes"
	"context"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"sheetwash/ingest"
	"sheetwash/ingest/columnar"
	"sheetwash/ingest/issue"
)

const (
	goodRuns    = "run,event,intensity [mm/h],rain_duration [min]\nR1,Ashlock Mill,76,30\n"
	goodPlots   = "run,plot,treatment,area [m2],runoff_start [min]\nR1,1,meadow fescue ley,0.75,6.5\n"
	goodSamples = "run,plot,stream,start [min],end [min],volume [mL]\nR1,1,runoff,5,15,2000\nR1,1,runoff,15,30,7000\n"
	goodJoined  = "run,plot,treatment,area [m2],intensity [mm/h],rain_duration [min],stream,start [min],end [min],volume [mL]\n" +
		"R1,1,meadow fescue ley,0.75,76,30,runoff,5,15,2000\nR1,1,meadow fescue ley,0.75,76,30,runoff,15,30,7000\n"
)

// tree writes files below a new folder.
func tree(t *testing.T, files map[string]string) string {
	t.Helper()
	dir := t.TempDir()
	for name, text := range files {
		p := filepath.Join(dir, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(p), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(p, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

// dataset returns the three tables of a good dataset below a folder, with others added.
func dataset(folder string, more ...string) map[string]string {
	out := map[string]string{}
	for name, text := range map[string]string{"runs.csv": goodRuns, "plots.csv": goodPlots, "samples.csv": goodSamples} {
		out[strings.TrimPrefix(folder+"/"+name, "/")] = text
	}
	for i := 0; i+1 < len(more); i += 2 {
		out[strings.TrimPrefix(folder+"/"+more[i], "/")] = more[i+1]
	}
	return out
}

func merge(maps ...map[string]string) map[string]string {
	out := map[string]string{}
	for _, m := range maps {
		for k, v := range m {
			out[k] = v
		}
	}
	return out
}

// pack writes a zip of files, in the order of their names.
func pack(t *testing.T, files map[string]string) []byte {
	t.Helper()
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	var names []string
	for n := range files {
		names = append(names, n)
	}
	slices.Sort(names)
	for _, n := range names {
		f, err := w.Create(n)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := io.WriteString(f, files[n]); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func names(sources []ingest.Source) []string {
	var out []string
	for _, s := range sources {
		out = append(out, s.Name)
	}
	return out
}

func codes(issues []issue.Issue) []issue.Code {
	var out []issue.Code
	for _, i := range issues {
		out = append(out, i.Code)
	}
	return out
}

func TestFind(t *testing.T) {
	for _, tt := range []struct {
		name  string
		files map[string]string
		path  string
		want  []string
		notes []issue.Code
	}{
		{"a season of folders", merge(dataset("spring/ashlock"), dataset("spring/fenwick"), dataset("autumn/deep/er/pell")), "",
			[]string{"autumn/deep/er/pell", "spring/ashlock", "spring/fenwick"}, nil},
		{"a dataset beside folders of photographs", dataset("ashlock", "photos/1.jpg", "x", ".hidden/runs.csv", "x"), "",
			[]string{"ashlock"}, []issue.Code{ingest.FileUnused}},
		{"calibration at the top of a season", merge(dataset("ashlock"), map[string]string{"cans.csv": "calibration,depth,duration\n"}), "",
			[]string{"ROOT", "ashlock"}, nil},
		{"the folder is the dataset", dataset("ashlock"), "ashlock", []string{"ashlock"}, nil},
		{"one joined table", map[string]string{"day.csv": goodJoined}, "day.csv", []string{"day"}, nil},
		{"a folder of one joined table", map[string]string{"pell/Field day 1.csv": goodJoined, "pell/README.md": "x"}, "", []string{"pell"}, nil},
		{"names in capitals", map[string]string{"a/RUNS.CSV": goodRuns, "a/Plots.csv": goodPlots, "a/Samples.Csv": goodSamples}, "", []string{"a"}, nil},
		{"a mapping that names files below it", map[string]string{
			"a/mapping.yaml": "tables:\n  samples:\n    file: raw/bottles.csv\n", "a/raw/bottles.csv": "x,y\n1,2\n"}, "", []string{"a"}, nil},
		{"foreign tables only", map[string]string{"a/x.csv": "Time,Rate\n1,2\n"}, "", nil, []issue.Code{ingest.DatasetNone, ingest.FileUnused}},
		{"a zip in a season", merge(dataset("ashlock"), map[string]string{"fenwick.zip": string(pack(t, dataset("")))}), "", []string{"ashlock", "fenwick"}, nil},
		{"a zip beside its own folder", merge(dataset("ashlock"), map[string]string{"ashlock.zip": string(pack(t, dataset("")))}), "", []string{"ashlock"}, nil},
		{"a zipped dataset", map[string]string{"ashlock.zip": string(pack(t, dataset("")))}, "ashlock.zip", []string{"ashlock"}, nil},
		{"a zipped folder", map[string]string{"ashlock.zip": string(pack(t, dataset("Ashlock Mill 2031", "../__MACOSX/x", "x")))}, "ashlock.zip", []string{"ashlock"}, nil},
		{"a zipped season", map[string]string{"season.zip": string(pack(t, merge(dataset("s/a"), dataset("s/b"))))}, "season.zip", []string{"s/a", "s/b"}, nil},
	} {
		t.Run(tt.name, func(t *testing.T) {
			dir := tree(t, tt.files)
			sources, issues, err := ingest.Find([]string{filepath.Join(dir, tt.path)}, ingest.FindOptions{})
			if err != nil {
				t.Fatal(err)
			}
			want := slices.Clone(tt.want)
			for i, w := range want {
				if w == "ROOT" {
					want[i] = filepath.Base(dir)
				}
			}
			slices.Sort(want)
			if got := names(sources); !slices.Equal(got, want) {
				t.Errorf("datasets %q, want %q", got, want)
			}
			if got := codes(issues.All()); !slices.Equal(got, tt.notes) {
				t.Errorf("findings %v, want %v", got, tt.notes)
			}
		})
	}
}

// TestFindReads reads what Find found in each form; all hold the same dataset.
func TestFindReads(t *testing.T) {
	dir := tree(t, merge(dataset("ashlock"), map[string]string{"day.csv": goodJoined, "z.zip": string(pack(t, dataset("in/side")))}))
	for _, p := range []string{"ashlock", "day.csv", "z.zip"} {
		o := readOnly(t, filepath.Join(dir, p), ingest.Options{})
		if o.Dataset == nil {
			t.Errorf("%s refused:%s", p, list(o.Issues))
			continue
		}
		runs := o.Dataset.Runs()
		if len(runs) != 1 || len(runs[0].Plots) != 1 || len(runs[0].Plots[0].Samples) != 2 {
			t.Errorf("%s: %+v", p, runs)
			continue
		}
		if got := runs[0].IntensityMMH.V; got != 76 {
			t.Errorf("%s: intensity %v mm/h, want 76", p, got)
		}
		if len(o.Digest) != 64 || o.Digest != o.Dataset.Digest() {
			t.Errorf("%s: digest %q, dataset's %q", p, o.Digest, o.Dataset.Digest())
		}
	}
}

// TestFindPaths gives several paths at once: one twice, and two whose datasets
// have the same name.
func TestFindPaths(t *testing.T) {
	dir := tree(t, merge(dataset("amber/ashlock"), dataset("slate/ashlock")))
	amber, slate := filepath.Join(dir, "amber"), filepath.Join(dir, "slate")
	sources, issues, err := ingest.Find([]string{slate, amber, amber + "/../amber"}, ingest.FindOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if got, want := names(sources), []string{"amber/ashlock", "slate/ashlock"}; !slices.Equal(got, want) {
		t.Errorf("datasets %q, want %q", got, want)
	}
	if got, want := codes(issues.All()), []issue.Code{ingest.DatasetRepeated}; !slices.Equal(got, want) {
		t.Errorf("findings %v, want %v", got, want)
	}
	if _, _, err := ingest.Find([]string{filepath.Join(dir, "nowhere")}, ingest.FindOptions{}); err == nil {
		t.Error("a path that does not exist is no error")
	}
}

func TestFindLinks(t *testing.T) {
	dir := tree(t, dataset("season/ashlock"))
	link := func(to, at string) {
		if err := os.Symlink(to, filepath.Join(dir, at)); err != nil {
			t.Fatal(err)
		}
	}
	link(dir, "season/loop")
	link(filepath.Join(dir, "gone"), "season/dangling")
	sources, _, err := ingest.Find([]string{filepath.Join(dir, "season")}, ingest.FindOptions{})
	if err != nil {
		t.Fatal(err)
	}
	// loop leads to the folder above the season, whose season is the one that is walked.
	if got, want := names(sources), []string{"ashlock"}; !slices.Equal(got, want) {
		t.Errorf("datasets %q, want %q", got, want)
	}
}

// TestFindFoldersOnce has links fan out so that the ways to the one dataset are
// more than could be walked: each folder is read once, under its proper name.
func TestFindFoldersOnce(t *testing.T) {
	dir := tree(t, dataset("x/x/x/x/x/x/x/x/x/x/x/x/x/x/x/x/ashlock"))
	at := dir
	for range 16 {
		for _, name := range []string{"a", "b", "y"} {
			if err := os.Symlink("x", filepath.Join(at, name)); err != nil {
				t.Fatal(err)
			}
		}
		at = filepath.Join(at, "x")
	}
	sources, _, err := ingest.Find([]string{dir}, ingest.FindOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if got, want := names(sources), []string{"x/x/x/x/x/x/x/x/x/x/x/x/x/x/x/x/ashlock"}; !slices.Equal(got, want) {
		t.Errorf("datasets %q, want %q", got, want)
	}
}

// TestCopiedDatasets warns of a dataset that was copied, in a folder and in a zip,
// and of none whose bytes differ.
func TestCopiedDatasets(t *testing.T) {
	other := dataset("other", "samples.csv", strings.Replace(goodSamples, "7000", "7001", 1))
	dir := tree(t, merge(dataset("a"), dataset("b"), other, map[string]string{"c.zip": string(pack(t, dataset("")))}))
	sources, _, err := ingest.Find([]string{dir}, ingest.FindOptions{})
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range sources {
		o, err := ingest.Read(context.Background(), s, ingest.Options{})
		if err != nil || o.Dataset == nil {
			t.Fatalf("%s: %v%s", s.Name, err, list(o.Issues))
		}
		got, want := slices.Contains(codes(o.Issues), ingest.DatasetCopied), s.Name == "b" || s.Name == "c"
		if got != want {
			t.Errorf("%s: copied %v, want %v", s.Name, got, want)
		}
	}
}

// TestFindDeepFolders has folders nested too deep beside a good dataset, which is
// read all the same.
func TestFindDeepFolders(t *testing.T) {
	deep := strings.TrimSuffix(strings.Repeat("d/", 70), "/")
	sources, _, err := ingest.Find([]string{tree(t, merge(dataset("ashlock"), dataset(deep)))}, ingest.FindOptions{})
	if err != nil {
		t.Fatal(err)
	}
	refused := 0
	for _, s := range sources {
		o, err := ingest.Read(context.Background(), s, ingest.Options{})
		if err != nil {
			t.Fatal(err)
		}
		if o.Dataset == nil {
			refused++
			if got, want := codes(o.Issues), []issue.Code{ingest.DatasetUnreadable}; !slices.Equal(got, want) {
				t.Errorf("findings %v, want %v", got, want)
			}
		} else if s.Name != "ashlock" {
			t.Errorf("read %q", s.Name)
		}
	}
	if len(sources) != 2 || refused != 1 {
		t.Errorf("%d datasets, of which %d are refused, want one of two", len(sources), refused)
	}
}

// TestFindSameFilesTwice gives a folder with one above it, a table with the
// folder that holds it, and standard input twice: nothing is read twice.
func TestFindSameFilesTwice(t *testing.T) {
	dir := tree(t, merge(dataset("season/ashlock"), map[string]string{"season/day/day.csv": goodJoined}))
	season := filepath.Join(dir, "season")
	for _, tt := range []struct {
		name  string
		paths []string
		want  []string
		notes int
	}{
		{"a folder and one above it", []string{season, filepath.Join(season, "ashlock")}, []string{"ashlock", "day"}, 1},
		{"the other order", []string{filepath.Join(season, "ashlock"), season}, []string{"ashlock", "day"}, 1},
		{"a table and its folder", []string{season, filepath.Join(season, "day", "day.csv")}, []string{"ashlock", "day"}, 1},
		{"standard input", []string{"-", "-"}, []string{"stdin"}, 1},
	} {
		t.Run(tt.name, func(t *testing.T) {
			sources, issues, err := ingest.Find(tt.paths, ingest.FindOptions{Stdin: strings.NewReader(goodJoined)})
			if err != nil {
				t.Fatal(err)
			}
			defer func() {
				for _, s := range sources {
					s.Close()
				}
			}()
			if got := names(sources); !slices.Equal(got, tt.want) {
				t.Errorf("datasets %q, want %q", got, tt.want)
			}
			if got := codes(issues.All()); len(got) != tt.notes || got[0] != ingest.DatasetRepeated {
				t.Errorf("findings %v, want %d %s", got, tt.notes, ingest.DatasetRepeated)
			}
		})
	}
}

func TestFindStdin(t *testing.T) {
	var arrow bytes.Buffer
	table := &columnar.OutTable{Columns: []columnar.OutColumn{
		{Name: "run", Text: []string{"R1"}}, {Name: "plot", Text: []string{"1"}}, {Name: "treatment", Text: []string{"oak-wood litter"}},
		{Name: "area", Unit: "m2", Kind: columnar.OutFloat, Float: []float64{0.75}},
		{Name: "intensity", Unit: "mm/h", Kind: columnar.OutFloat, Float: []float64{76}},
		{Name: "rain_duration", Unit: "min", Kind: columnar.OutInt, Int: []int64{30}},
		{Name: "stream", Text: []string{"runoff"}},
		{Name: "end", Unit: "min", Kind: columnar.OutFloat, Float: []float64{30}},
		{Name: "volume", Unit: "mL", Kind: columnar.OutFloat, Float: []float64{2000}},
	}}
	if err := columnar.Write(&arrow, columnar.ArrowStream, table); err != nil {
		t.Fatal(err)
	}
	for _, tt := range []struct {
		name string
		data []byte
	}{
		{"a joined table", []byte(goodJoined)},
		{"a zip", pack(t, dataset(""))},
		{"an Arrow stream", arrow.Bytes()},
	} {
		t.Run(tt.name, func(t *testing.T) {
			t.Setenv("TMPDIR", t.TempDir())
			sources, _, err := ingest.Find([]string{"-"}, ingest.FindOptions{Stdin: bytes.NewReader(tt.data)})
			if err != nil || len(sources) != 1 || sources[0].Name != "stdin" {
				t.Fatalf("%q, %v", names(sources), err)
			}
			o, err := ingest.Read(context.Background(), sources[0], ingest.Options{})
			if err != nil || o.Dataset == nil {
				t.Fatalf("refused: %v%s", err, list(o.Issues))
			}
			if err := sources[0].Close(); err != nil {
				t.Fatal(err)
			}
			if left, _ := os.ReadDir(os.TempDir()); len(left) > 0 {
				t.Errorf("%d temporary files are left", len(left))
			}
		})
	}
}
