package cli

import (
	"os"
	"testing"
)

// One case per behaviour of the command line, each with its golden file. The
// commands of a case run one after another in one folder; the last one counts.
func TestCommandLine(t *testing.T) {
	for _, tt := range []struct {
		name     string
		commands [][]string
		stdin    string
	}{
		{name: "help", commands: [][]string{{"--help"}}},
		{name: "help-analyze", commands: [][]string{{"analyze", "--help"}}},
		{name: "help-check", commands: [][]string{{"check", "--help"}}},
		{name: "help-map", commands: [][]string{{"map", "--help"}}},
		{name: "help-template", commands: [][]string{{"template", "--help"}}},
		{name: "help-report", commands: [][]string{{"report", "--help"}}},
		{name: "help-demo", commands: [][]string{{"demo", "--help"}}},
		{name: "help-plan", commands: [][]string{{"plan", "--help"}}},
		{name: "help-version", commands: [][]string{{"version", "--help"}}},

		{name: "usage-no-command", commands: [][]string{{"analyse"}}},
		{name: "usage-flag", commands: [][]string{{"check", "x", "--colour"}}},
		{name: "usage-json", commands: [][]string{{"--json", "analyze", "x"}}},
		{name: "usage-no-path", commands: [][]string{{"analyze"}}},
		{name: "usage-no-out", commands: [][]string{{"analyze", "mixed"}}},
		{name: "usage-format", commands: [][]string{{"analyze", "mixed", "--out", "o", "--format", "csv,xls"}}},
		{name: "usage-units", commands: [][]string{{"analyze", "mixed", "--out", "o", "--units", "imperial"}}},
		{name: "usage-level", commands: [][]string{{"analyze", "mixed", "--out", "o", "--level", "95"}}},
		{name: "usage-jobs", commands: [][]string{{"analyze", "mixed", "--out", "o", "--jobs", "-1"}}},
		{name: "usage-error", commands: [][]string{{"analyze", "mixed", "--out", "o", "--error", "tare=1"}}},
		{name: "usage-error-number", commands: [][]string{{"analyze", "mixed", "--out", "o", "--error", "mass_g=NaN"}}},
		{name: "usage-table", commands: [][]string{{"analyze", "mixed", "--out", "-", "--table", "plots"}}},

		{name: "usage-reference", commands: [][]string{{"analyze", "testdata/demo-season", "--out", "o", "--reference", "fallow"}}},
		{name: "usage-plan", commands: [][]string{{"plan", "testdata/demo-season", "--metric", "soil_loss"}}},
		{name: "usage-plan-kind", commands: [][]string{{"plan", "testdata/demo-season", "--metric", "soil_loss", "--difference", "3"}}},
		{name: "plan-ratio", commands: [][]string{{"plan", "testdata/demo-season", "--metric", "soil_loss", "--ratio", "2"}}},
		{name: "plan-table-json", commands: [][]string{{"analyze", "testdata/demo-season", "--out", "results", "--quiet"}, {"plan", "results/plot_results.csv", "--metric", "runoff_depth", "--width", "5", "--json"}}},
		{name: "plan-no-metric", commands: [][]string{{"plan", "testdata/demo-season", "--metric", "colour", "--ratio", "2"}}},

		{name: "analyze-si", commands: [][]string{{"analyze", "testdata/demo-season", "--out", "results"}}},
		{name: "analyze-us", commands: [][]string{{"analyze", "testdata/demo-season", "--out", "results", "--units", "us"}}},
		{name: "analyze-json", commands: [][]string{{"analyze", "mixed", "--out", "results", "--json"}}},
		{name: "analyze-quiet", commands: [][]string{{"analyze", "mixed", "--out", "results", "--quiet"}}},
		{name: "analyze-mixed", commands: [][]string{{"analyze", "mixed", "--out", "results"}}},
		{name: "analyze-refused", commands: [][]string{{"analyze", "refused", "--out", "results"}}},
		{name: "analyze-one-event", commands: [][]string{{"analyze", "mixed/good", "--out", "results"}}},
		{name: "analyze-not-found", commands: [][]string{{"analyze", "nowhere", "--out", "results"}}},
		{name: "analyze-nothing-there", commands: [][]string{{"template", "t", "--quiet"}, {"analyze", "empty", "--out", "results"}}},
		{name: "analyze-conflict", commands: [][]string{{"analyze", "mixed/good", "--out", "results"}, {"analyze", "mixed/good", "--out", "results"}}},
		{name: "analyze-conflict-json", commands: [][]string{{"analyze", "mixed/good", "--out", "results"}, {"analyze", "mixed/good", "--out", "results", "--json"}}},
		{name: "analyze-force", commands: [][]string{{"analyze", "mixed/good", "--out", "results"}, {"analyze", "mixed/good", "--out", "results", "--force", "--quiet"}}},
		{name: "analyze-dry-run", commands: [][]string{{"analyze", "mixed/good", "--dry-run"}}},
		{name: "analyze-to-stdout", commands: [][]string{{"analyze", "mixed/good", "--out", "-", "--table", "findings", "--format", "json"}}},
		{name: "analyze-disk", commands: [][]string{{"analyze", "mixed/good", "--out", "mixed/good/runs.csv/results"}}},

		{name: "check-season", commands: [][]string{{"check", "testdata/demo-season"}}},
		{name: "check-mixed", commands: [][]string{{"check", "mixed"}}},
		{name: "check-refused", commands: [][]string{{"check", "refused"}}},
		{name: "check-json", commands: [][]string{{"check", "refused", "--json"}}},
		{name: "check-quiet", commands: [][]string{{"check", "refused", "--quiet"}}},
		{name: "check-stdin", commands: [][]string{{"check", "-"}}, stdin: "run,plot,treatment,area [m2],intensity [mm/h],rain_duration [min],stream,end [min],volume [mL]\nR-1,1,meadow fescue ley,0.5,70,30,runoff,30,120\n"},

		{name: "map", commands: [][]string{{"map", "testdata/demo-season/08-copper-lea/jugs.csv"}}},
		{name: "map-json", commands: [][]string{{"map", "testdata/demo-season/08-copper-lea/boxes.csv", "--json"}}},
		{name: "map-workbook", commands: [][]string{{"map", "testdata/demo-season/05-quarry-rise/quarry-rise.xlsx"}}},
		{name: "map-nothing", commands: [][]string{{"map", "-"}}, stdin: "colour,shape\nred,round\n"},
		{name: "map-empty", commands: [][]string{{"map", "-"}}},
		{name: "map-folder", commands: [][]string{{"map", "testdata/demo-season"}}},

		{name: "template", commands: [][]string{{"template", "t"}}},
		{name: "template-conflict", commands: [][]string{{"template", "t"}, {"template", "t"}}},
		{name: "template-stands", commands: [][]string{{"template", "t"}, {"check", "t"}}},
		{name: "template-json", commands: [][]string{{"template", "t", "--json"}}},
		{name: "demo-json", commands: [][]string{{"demo", "d", "--json"}}},
		{name: "demo", commands: [][]string{{"demo", "d"}}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			inSeason(t)
			if err := os.MkdirAll("empty", 0o755); err != nil {
				t.Fatal(err)
			}
			var last said
			for _, c := range tt.commands {
				last = runWith(t.Context(), tt.stdin, c...)
			}
			golden(t, tt.name, last.String())
		})
	}
}
