package cli

import (
	"encoding/json"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"sheetwash/analysis/derivation"
	"sheetwash/analysis/result"
)

// One case per behaviour of explain, each with its golden file.
func TestExplain(t *testing.T) {
	const plot = "plot_results/01-ashlock-mill/AM-1/1/"
	for _, tt := range []struct {
		name string
		args []string
	}{
		{"help", []string{"--help"}},
		{"bottles", []string{plot + "runoff_depth/bottles", "testdata/demo-season"}},
		{"us", []string{plot + "soil_loss/mass_over_area", "testdata/demo-season", "--units", "us", "--depth", "1"}},
		{"json", []string{plot + "rain_depth/runs.intensity", "testdata/demo-season", "--json"}},
		{"fit", []string{"fits/01-ashlock-mill/AM-1/1/horton/f_end", "testdata/demo-season"}},
		{"empty", []string{plot + "time_to_ponding/observed", "testdata/demo-season"}},
		{"hydrograph", []string{"hydrograph/01-ashlock-mill/AM-1/1/runoff/15", "testdata/demo-season"}},
		{"calibration", []string{"calibrations/hand-worked/K1/uniformity_christiansen", "hand-worked"}},
		{"treatment", []string{"treatment_results/event:Ashlock%20Mill/meadow%20fescue%20ley/runoff_coefficient/mean/mean_t", "testdata/demo-season"}},
		{"unknown", []string{plot + "runoff_coeficient/runoff_over_rain", "testdata/demo-season"}},
		{"unknown-json", []string{"plot_results/01-ashlock-mill/AM-1/1", "testdata/demo-season", "--json"}},
		{"unknown-dataset", []string{"plot_results/mill/AM-1/1/runoff_depth/bottles", "testdata/demo-season"}},
		{"refused", []string{"plot_results/refused/R-1/1/runoff_depth/bottles", "refused"}},
		{"usage", []string{plot + "runoff_depth/bottles"}},
		{"usage-level", []string{plot + "runoff_depth/bottles", "testdata/demo-season", "--level", "95"}},
		{"usage-depth", []string{plot + "runoff_depth/bottles", "testdata/demo-season", "--depth", "-1"}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			worked, err := filepath.Abs(filepath.Join(project, "testdata/reference/hand-worked"))
			if err != nil {
				t.Fatal(err)
			}
			inSeason(t)
			if err := os.CopyFS("hand-worked", os.DirFS(worked)); err != nil {
				t.Fatal(err)
			}
			golden(t, "explain-"+tt.name, run(t, append([]string{"explain"}, tt.args...)...).String())
		})
	}
}

// The tree of a value in US units gives it from the one in SI.
func TestExplainInUSUnits(t *testing.T) {
	inSeason(t)
	said := run(t, "explain", "plot_results/01-ashlock-mill/AM-1/1/runoff_depth/bottles", "testdata/demo-season", "--units", "us", "--json")
	var n derivation.Node
	if err := json.Unmarshal([]byte(said.out), &n); err != nil || said.code != exitDone {
		t.Fatalf("exit %d, %v\n%s", said.code, err, said.err)
	}
	if err := n.Check(); err != nil || n.Unit != "in" || len(n.Inputs) != 2 || n.Inputs[0].Unit != "mm" {
		t.Errorf("%v: %s of %+v", err, n.Unit, n.Inputs)
	}
}

// The example of docs/explain.md is what the command prints, but for the version.
func TestDocumentedDerivation(t *testing.T) {
	page := filepath.Join(project, "docs/explain.md")
	path, err := filepath.Abs(page)
	if err != nil {
		t.Fatal(err)
	}
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	block := regexp.MustCompile("(?s)```\n\\$ sheetwash ([^\n]*)\n(.*?)```").FindStringSubmatch(string(data))
	if block == nil {
		t.Fatal("docs/explain.md has no example")
	}
	inSeason(t)
	said := run(t, strings.Fields(block[1])...)
	got, _, _ := strings.Cut(said.out, "Program ")
	if *update {
		text := strings.Replace(string(data), block[0], "```\n$ sheetwash "+block[1]+"\n"+got+"```", 1)
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	if said.code != exitDone || got != block[2] {
		t.Errorf("exit %d; the example of docs/explain.md is not what the command prints (-update writes it anew):\n%s%s", said.code, got, said.err)
	}
}

// Both pages name the key columns of every table as the program has them.
func TestDocumentedKeys(t *testing.T) {
	data, err := os.ReadFile(filepath.Join(project, "docs/explain.md"))
	if err != nil {
		t.Fatal(err)
	}
	for _, table := range []string{result.TablePlots, result.TableHydrograph, result.TableFits, result.TableCalibrations, result.TableTreatments, result.TableComparisons} {
		if want := "| `" + table + "` | " + strings.Join(result.KeyColumns(table), ", ") + " |"; !strings.Contains(string(data), want) {
			t.Errorf("docs/explain.md lacks %q", want)
		}
	}
}
