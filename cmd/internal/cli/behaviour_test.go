package cli

import (
	"bytes"
	"context"
	"encoding/json"
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"sheetwash/api/batch"
	"sheetwash/api/report"
	"sheetwash/cmd/internal/demo"
	"sheetwash/docs/picture/terminal"
)

// Every help starts with an example, and the example runs as written.
func TestExamplesRun(t *testing.T) {
	for _, name := range []string{"", "analyze", "report", "check", "map", "template", "demo", "explain", "version"} {
		t.Run("help of "+name, func(t *testing.T) {
			inSeason(t)
			args := []string{"--help"}
			if name != "" {
				args = []string{name, "--help"}
			}
			help := run(t, args...).out
			if !strings.HasPrefix(help, "Example:\n  sheetwash ") {
				t.Errorf("the help of %q does not start with an example:\n%s", name, help)
			}
			block, _, _ := strings.Cut(help, "\n\n")
			for _, line := range strings.Split(block, "\n")[1:] {
				words := strings.Fields(strings.ReplaceAll(line, `"`, ""))
				if got := run(t, words[1:]...); got.code != exitDone {
					t.Errorf("%s: exit %d\n%s", strings.TrimSpace(line), got.code, got.err)
				}
			}
		})
	}
}

// The season that is checked in is what the generator makes.
func TestDemoSeasonIsCheckedIn(t *testing.T) {
	made, err := demo.Files()
	if err != nil {
		t.Fatal(err)
	}
	got := files(t, "../../../testdata/demo-season")
	for _, f := range made {
		if got[f.Path] != string(f.Data) {
			t.Errorf("testdata/demo-season/%s is not what the generator makes (go run ./cmd/sheetwash demo testdata/demo-season --force)", f.Path)
		}
		delete(got, f.Path)
	}
	for path := range got {
		t.Errorf("testdata/demo-season/%s is not of the generator", path)
	}
}

// All tables in all formats are the same bytes for any number of jobs, on a
// second run, and in both systems of units.
func TestJobsDoNotMatter(t *testing.T) {
	inSeason(t)
	for _, units := range []string{"si", "us"} {
		var want map[string]string
		for _, jobs := range []string{"1", "2", "8"} {
			out := "results-" + units + "-" + jobs
			if got := run(t, "analyze", "testdata/demo-season", "mixed", "--out", out, "--jobs", jobs, "--units", units, "--format", "csv,json,arrow,parquet"); got.code != exitPartly {
				t.Fatalf("exit %d\n%s", got.code, got.err)
			}
			got := files(t, out)
			if want == nil {
				want = got
				if n := 4*7 + 1; len(want) != n {
					t.Errorf("%d files were written, want %d", len(want), n)
				}
			}
			for name := range want {
				if got[name] != want[name] {
					t.Errorf("%s differs with %s jobs in %s units", name, jobs, units)
				}
			}
		}
	}
}

// With every dataset refused all tables are complete files: the findings filled,
// the others a header.
func TestRefusedStillWritesTables(t *testing.T) {
	inSeason(t)
	if got := run(t, "analyze", "refused", "--out", "results"); got.code != exitRefused {
		t.Fatalf("exit %d, want %d", got.code, exitRefused)
	}
	got := files(t, "results")
	for _, table := range report.Tables(report.SI) {
		lines := strings.Count(got[table.Name+".csv"], "\n")
		if findings := table.Name == "findings"; findings && lines < 4 || !findings && lines != 1 {
			t.Errorf("%s.csv has %d lines", table.Name, lines)
		}
	}
}

// A file that is in the way stops the command before anything is written, and
// stays as it was.
func TestConflictWritesNothing(t *testing.T) {
	inSeason(t)
	write(t, "results/plot_results.csv", "mine\n")
	if got := run(t, "analyze", "mixed/good", "--out", "results"); got.code != exitConflict {
		t.Fatalf("exit %d, want %d", got.code, exitConflict)
	}
	if got := files(t, "results"); len(got) != 1 || got["plot_results.csv"] != "mine\n" {
		t.Errorf("the folder holds %v", slices.Sorted(maps.Keys(got)))
	}
	if got := run(t, "analyze", "mixed/good", "--out", "results", "--force"); got.code != exitDone {
		t.Fatalf("with --force: exit %d\n%s", got.code, got.err)
	}
}

// A dry run writes nothing.
func TestDryRunWritesNothing(t *testing.T) {
	inSeason(t)
	if got := run(t, "analyze", "mixed/good", "--out", "results", "--dry-run"); got.code != exitDone {
		t.Fatalf("exit %d\n%s", got.code, got.err)
	}
	if _, err := os.Stat("results"); !os.IsNotExist(err) {
		t.Error("a dry run made the folder of the results")
	}
}

// A command that is stopped says so and leaves no table behind.
func TestStopped(t *testing.T) {
	inSeason(t)
	ctx, stop := context.WithCancel(t.Context())
	stop()
	got := runWith(ctx, "", "analyze", "testdata/demo-season", "--out", "results")
	if got.code != exitInterrupted || !strings.Contains(got.err, "stopped") {
		t.Errorf("exit %d, %q", got.code, got.err)
	}
	if _, err := os.Stat("results"); !os.IsNotExist(err) {
		t.Error("a stopped command made the folder of the results")
	}
}

// The settings of the command line go into the provenance, and wider errors
// widen the intervals.
func TestErrorsOfTheCommandLine(t *testing.T) {
	inSeason(t)
	for out, args := range map[string][]string{"a": nil, "b": {"--error", "volume_rel=0.05", "--error", "bottle_change_s=6", "--level", "0.9"}} {
		if got := run(t, append([]string{"analyze", "mixed/good", "--out", out}, args...)...); got.code != exitDone {
			t.Fatal(got.err)
		}
	}
	var p batch.Provenance
	if err := json.Unmarshal([]byte(files(t, "b")["analysis.json"]), &p); err != nil {
		t.Fatal(err)
	}
	if e := p.Datasets[0].Errors; e == nil || e.VolumeRel != 0.05 || e.VolumeML != 2 || e.BottleChange != 0.1 || p.Settings.Level != 0.9 {
		t.Errorf("the provenance has %+v at level %v", e, p.Settings.Level)
	}
	if files(t, "a")["plot_results.csv"] == files(t, "b")["plot_results.csv"] {
		t.Error("other errors of the readings give the same results")
	}
}

// The provenance names no machine, no time and no number of workers.
func TestProvenance(t *testing.T) {
	inSeason(t)
	if got := run(t, "analyze", "mixed", "--out", "results", "--jobs", "7"); got.code != exitPartly {
		t.Fatal(got.err)
	}
	text := files(t, "results")["analysis.json"]
	if dir, _ := os.Getwd(); strings.Contains(text, dir) || regexp.MustCompile(`"(jobs|time|started)`).MatchString(text) {
		t.Errorf("the provenance tells of this machine:\n%s", text)
	}
	if !regexp.MustCompile(`"sha256": "[0-9a-f]{64}"`).MatchString(text) || !strings.Contains(text, `"state": "refused"`) {
		t.Errorf("the provenance does not tell the datasets:\n%s", text)
	}
}

// Nothing that is printed is wider than 80 columns.
func TestFitsEightyColumns(t *testing.T) {
	inSeason(t)
	for _, args := range [][]string{
		{"analyze", "testdata/demo-season", "--out", "a"}, {"analyze", "testdata/demo-season", "--out", "b", "--units", "us"},
		{"analyze", "mixed", "--out", "c"}, {"analyze", "--help"}, {"check", "--help"}, {"template", "--help"}, {"--help"}, {"map", "--help"},
	} {
		got := run(t, args...)
		for _, line := range strings.Split(got.out+got.err, "\n") {
			if n := len([]rune(line)); n > 80 {
				t.Errorf("%v prints a line of %d columns: %s", args, n, line)
			}
		}
	}
}

// Results below the folder of the data are not taken for data.
func TestResultsBesideTheData(t *testing.T) {
	inSeason(t)
	for _, args := range [][]string{nil, {"--force"}} {
		got := run(t, append([]string{"analyze", "mixed/good", "--out", "mixed/good/results", "--format", "csv,parquet"}, args...)...)
		if got.code != exitDone || !strings.Contains(got.err, "1 of 1 datasets analyzed") {
			t.Errorf("exit %d\n%s", got.code, got.err)
		}
	}
}

// A folder in the place of a table stops the command before anything is written.
func TestFolderInTheWay(t *testing.T) {
	inSeason(t)
	write(t, "results/fits.csv/mine.txt", "mine\n")
	if got := run(t, "analyze", "mixed/good", "--out", "results", "--force"); got.code != exitConflict {
		t.Errorf("exit %d, want %d\n%s", got.code, exitConflict, got.err)
	}
	if got := files(t, "results"); len(got) != 1 {
		t.Errorf("the folder holds %v", slices.Sorted(maps.Keys(got)))
	}
}

// A mapping of the command line stands in for one beside the data.
func TestMappingOfTheCommandLine(t *testing.T) {
	inSeason(t)
	const day = "testdata/demo-season/08-copper-lea"
	if got := run(t, "analyze", day, "--out", "a"); got.code != exitDone {
		t.Fatal(got.err)
	}
	if err := os.Rename(day+"/mapping.yaml", "mapping.yaml"); err != nil {
		t.Fatal(err)
	}
	if got := run(t, "analyze", day, "--out", "b"); got.code != exitRefused {
		t.Errorf("without a mapping: exit %d", got.code)
	}
	if got := run(t, "analyze", day, "--out", "c", "--mapping", "mapping.yaml"); got.code != exitDone {
		t.Fatalf("exit %d\n%s", got.code, got.err)
	}
	if files(t, "a")["plot_results.csv"] != files(t, "c")["plot_results.csv"] {
		t.Error("the mapping of the command line gives other results than the same one beside the data")
	}
}

// A run without an intensity takes the catch cans of another day of the season,
// and is refused where no day has any.
func TestIntensityFromCans(t *testing.T) {
	inSeason(t)
	write(t, "s/day/runs.csv", "run,simulator,started,rain_duration [min]\nR-1,trailer-1,2031-05-14T10:00:00Z,30\n")
	write(t, "s/day/plots.csv", "run,plot,treatment,area [m2]\nR-1,1,meadow fescue ley,0.5\n")
	write(t, "s/day/samples.csv", "run,plot,stream,start [min],end [min],volume [mL]\nR-1,1,runoff,0,15,120\nR-1,1,runoff,15,30,900\n")
	got := run(t, "check", "s")
	if got.code != exitRefused || !strings.Contains(got.out, "plot.no_intensity") || !strings.Contains(got.out, "plots.csv:2 [intensity]") {
		t.Errorf("without cans: exit %d\n%s", got.code, got.out)
	}
	write(t, "s/cans/cans.csv", "calibration,simulator,date,depth [mm],duration [min]\nC-1,trailer-1,2031-05-13,17,15\nC-1,trailer-1,2031-05-13,18,15\nC-1,trailer-1,2031-05-13,17.5,15\n")
	if got := run(t, "analyze", "s", "--out", "results"); got.code != exitDone {
		t.Fatalf("with cans: exit %d\n%s", got.code, got.err)
	}
	if text := files(t, "results")["plot_results.csv"]; !strings.Contains(text, "rain_depth") || !strings.Contains(text, ",35,mm,") {
		t.Errorf("17.5 mm in 15 min are 35 mm in 30 min; the plot has\n%s", text)
	}
}

// Every bad fixture is refused with exit 3, its error named, all tables written and
// nothing half written.
func TestBadFixtures(t *testing.T) {
	entries, err := os.ReadDir("../../../testdata/bad")
	if err != nil {
		t.Fatal(err)
	}
	bad, err := filepath.Abs("../../../testdata/bad")
	if err != nil {
		t.Fatal(err)
	}
	t.Chdir(t.TempDir())
	for _, e := range entries {
		if !e.IsDir() {
			continue
		}
		out := "results-" + e.Name()
		got := run(t, "analyze", filepath.Join(bad, e.Name()), "--out", out)
		written := files(t, out)
		code, _, _ := strings.Cut(e.Name(), "__")
		if code == "table.unknown" {
			code = "dataset.none" // a folder with no table that is known is no dataset; the fixture is about its file
		}
		if got.code != exitRefused || !strings.Contains(written["findings.csv"], ","+code+",error,") || len(written) != 8 {
			t.Errorf("%s: exit %d, %d files\n%s", e.Name(), got.code, len(written), got.err)
		}
	}
}

// The picture of the README shows what the command prints.
func TestPictureIsInStep(t *testing.T) {
	picture, err := filepath.Abs("../../../docs/img/summary.svg")
	if err != nil {
		t.Fatal(err)
	}
	inSeason(t)
	want := terminal.Summary(run(t, "analyze", "testdata/demo-season", "--dry-run").out)
	if *update {
		if err := os.WriteFile(picture, want, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if got, err := os.ReadFile(picture); err != nil || !bytes.Equal(got, want) {
		t.Errorf("docs/img/summary.svg does not show what the command prints (%v); -update draws it anew", err)
	}
}

// The version is told with the Go release.
func TestVersion(t *testing.T) {
	got := run(t, "version")
	if got.code != exitDone || !regexp.MustCompile(`^sheetwash \d+\.\d+\.\d+\nrevision .+\ngo1\.`).MatchString(got.out) {
		t.Errorf("version says %q", got.out)
	}
	var b build
	if err := json.Unmarshal([]byte(run(t, "version", "--json").out), &b); err != nil || b.Version != Version {
		t.Errorf("as JSON: %+v, %v", b, err)
	}
}
