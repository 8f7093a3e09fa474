package acceptance

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"sheetwash/analysis"
	"sheetwash/analysis/result"
)

// TestEveryFlagIsExplained takes the example data the whole way and looks up
// each flag of its results; docs/results.md must hold the same words.
func TestEveryFlagIsExplained(t *testing.T) {
	known := map[string]bool{}
	for _, w := range result.FlagWords() {
		known[w.Word] = true
	}
	blind := t.TempDir()
	blindSeason(t, blind, 200, 7)
	for _, path := range []string{"../../../testdata/demo-season", "../../../testdata/datasets/twp-washoff-sand", handWorked, blind} {
		plan := analysis.DefaultPlan()
		plan.Models = true
		a := analyse(t, path, plan)
		check := func(where string, flags result.Flags) {
			t.Helper()
			for _, f := range flags {
				if !known[result.WordOf(f)] {
					t.Errorf("%s: flag %q of %s is not explained", filepath.Base(path), f, where)
				}
			}
		}
		for _, r := range a.Hydrograph {
			for _, s := range r.Steps {
				check(fmt.Sprint("hydrograph ", r.Run, "/", r.Plot), s.Flag)
			}
		}
		for _, r := range a.Plots {
			check(fmt.Sprint(r.Metric, " of ", r.Run, "/", r.Plot), r.Flags)
		}
		for _, r := range a.Fits {
			check(fmt.Sprint("fit of ", r.Run, "/", r.Plot), r.Flags)
		}
		for _, r := range a.Treatments {
			check(fmt.Sprint(r.Metric, " of ", r.Treatment), r.Flags)
		}
		for _, r := range a.Calibrations {
			check(fmt.Sprint(r.Metric, " of ", r.Calibration), r.Flags)
		}
	}
	text, err := os.ReadFile("../../../docs/results.md")
	if err != nil {
		t.Fatal(err)
	}
	for _, w := range result.FlagWords() {
		if line := fmt.Sprintf("| `%s` | %s |\n", w.Word, w.Meaning); !strings.Contains(string(text), line) {
			t.Errorf("docs/results.md lacks the line %q", strings.TrimSpace(line))
		}
	}
}
