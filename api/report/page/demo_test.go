package page_test

import (
	"bytes"
	"fmt"
	"os"
	"strings"
	"sync"
	"testing"

	"sheetwash/analysis"
	"sheetwash/analysis/derivation"
	"sheetwash/analysis/result"
	"sheetwash/api/batch"
	"sheetwash/api/report"
	"sheetwash/api/report/page"
	"sheetwash/ingest"
	"sheetwash/ingest/columnar"
)

// demo is the demo season, read and analyzed once for all tests.
type demo struct {
	analysis *result.Analysis
	datasets []page.Dataset
	explain  func(key string) *derivation.Node
}

var demoSeason = sync.OnceValues(func() (demo, error) {
	var d demo
	q := batch.Request{Workers: 2}
	all, err := q.ReadSeason(ctx, []string{"../../../testdata/demo-season"}, ingest.FindOptions{}, func(int, int) {})
	if err != nil {
		return d, err
	}
	calibrations := batch.Calibrations(all.Datasets)
	var parts []analysis.Part
	for i := range all.Datasets {
		s := &all.Datasets[i]
		if !s.Stands() {
			return d, fmt.Errorf("%s is refused: %v", s.Name, s.Findings)
		}
		p, err := q.Analyse(ctx, s, calibrations)
		if err != nil {
			return d, err
		}
		parts = append(parts, p)
		f := page.DatasetOf(s.Dataset)
		f.SHA256 = s.Digest
		d.datasets = append(d.datasets, f)
	}
	d.explain = q.Explainer(ctx, all.Datasets).Explain
	d.analysis, err = q.Fold(parts, all.Findings())
	return d, err
})

// input is the demo season in a system of units, with links to all pages.
func input(t testing.TB, u report.Units) page.Input {
	t.Helper()
	d, err := demoSeason()
	if err != nil {
		t.Fatal(err)
	}
	return page.Input{
		Analysis: d.analysis, Datasets: d.datasets, Units: u, Link: fileName, Explain: d.explain,
		Program: page.Program{Name: "sheetwash", Version: "0.0.0"}, Command: "sheetwash analyze demo-season --out results",
		Settings: []page.Setting{{Name: "level of the intervals", Value: "0.95"}},
	}
}

// fileName is where the tests keep a page.
func fileName(t page.Target) string {
	safe := strings.NewReplacer(" ", "-", "/", "-", "<", "-", ">", "-", "\"", "-").Replace(t.Event + t.Run)
	return string(t.Kind) + "-" + safe + ".html"
}

// targets lists every page of a site.
func targets(s *page.Site) []page.Target {
	out := []page.Target{{Kind: page.SeasonPage}}
	return append(append(out, s.Events()...), s.Runs()...)
}

// demoSites are the sites of the demo season, the same for all tests.
var demoSites = map[report.Units]func(testing.TB) *page.Site{report.SI: siteOnce(report.SI), report.US: siteOnce(report.US)}

func siteOnce(u report.Units) func(testing.TB) *page.Site {
	var once sync.Once
	var site *page.Site
	return func(t testing.TB) *page.Site {
		once.Do(func() { site = page.New(input(t, u)) })
		return site
	}
}

// rendered holds the pages of the demo season that a test wrote before.
var rendered sync.Map

type renderedKey struct {
	site   *page.Site
	target page.Target
}

// render writes a page into memory. A page of demoSites is written once.
func render(t testing.TB, s *page.Site, target page.Target) []byte {
	t.Helper()
	if data, ok := rendered.Load(renderedKey{s, target}); ok {
		return data.([]byte)
	}
	data := renderAnew(t, s, target)
	if s == demoSites[report.SI](t) || s == demoSites[report.US](t) {
		rendered.Store(renderedKey{s, target}, data)
	}
	return data
}

func renderAnew(t testing.TB, s *page.Site, target page.Target) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := s.Write(&b, target); err != nil {
		t.Fatalf("%v: %v", target, err)
	}
	return b.Bytes()
}

// TestMain lets the reader of Parquet start this program again as its child.
func TestMain(m *testing.M) {
	columnar.ChildMain()
	code := m.Run()
	browsers.Close()
	os.Exit(code)
}
