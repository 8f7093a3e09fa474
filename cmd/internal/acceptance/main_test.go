package acceptance

import (
	"context"
	"os"
	"testing"

	"sheetwash/analysis"
	"sheetwash/analysis/experiment"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
	"sheetwash/ingest"
	"sheetwash/ingest/columnar"
)

func TestMain(m *testing.M) {
	columnar.ChildMain()
	os.Exit(m.Run())
}

// read reads the datasets below a path and fails the test for errors in them.
func read(t *testing.T, path string) []*experiment.Dataset {
	t.Helper()
	sources, unclaimed, err := ingest.Find([]string{path}, ingest.FindOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if unclaimed.Errors() > 0 {
		t.Fatal(unclaimed.All())
	}
	var out []*experiment.Dataset
	for _, s := range sources {
		o, err := ingest.Read(context.Background(), s, ingest.Options{Workers: 2})
		if err != nil {
			t.Fatal(err)
		}
		if o.Dataset == nil {
			t.Fatalf("%s: refused: %v", s.Name, o.Issues[:min(5, len(o.Issues))])
		}
		out = append(out, o.Dataset)
	}
	return out
}

// analyse takes a folder the whole way, with exact readings where plan says so.
func analyse(t *testing.T, path string, plan analysis.Plan) *result.Analysis {
	t.Helper()
	a, err := analysis.Analyze(context.Background(), read(t, path), plan)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// find returns the value of a metric of a plot, or of a calibration where plot
// is empty. Without a method it is the headline row.
func find(a *result.Analysis, run, plot string, metric result.Metric, method string) (quantity.Optional, bool) {
	for _, r := range a.Calibrations {
		if plot == "" && r.Calibration == run && r.Metric == metric {
			return r.Value, true
		}
	}
	if r := row(a, run, plot, metric, method); r != nil {
		return r.Value, true
	}
	return quantity.Optional{}, false
}

// row returns the row of a metric of a plot; without a method the headline row.
func row(a *result.Analysis, run, plot string, metric result.Metric, method string) *result.PlotRow {
	for i := range a.Plots {
		r := &a.Plots[i]
		if r.Run == run && r.Plot == plot && r.Metric == metric && (r.Method == method || method == "" && r.Headline) {
			return r
		}
	}
	return nil
}
