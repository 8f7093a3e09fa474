package api_test

import (
	"archive/zip"
	"bytes"
	"html"
	"io"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"sheetwash/api/batch"
	"sheetwash/api/report"
	"sheetwash/api/report/figure"
	"sheetwash/api/report/page"
	"sheetwash/ingest"
)

// ofCommand are the files that the command report writes of datasets of the demo season.
func ofCommand(t *testing.T, units report.Units, formats []figure.Format, datasets ...string) map[string][]byte {
	t.Helper()
	var paths []string
	for _, d := range datasets {
		paths = append(paths, filepath.Join("..", "testdata", "demo-season", d))
	}
	q := batch.Request{Workers: 1}
	all, err := q.ReadSeason(t.Context(), paths, ingest.FindOptions{}, func(int, int) {})
	if err != nil {
		t.Fatal(err)
	}
	a, err := q.AnalyseSeason(t.Context(), all)
	if err != nil {
		t.Fatal(err)
	}
	p := q.SeasonPlan()
	in := page.Input{
		Analysis: a, Units: units, Program: page.Program{Name: "sheetwash", Version: "1.2.3"}, Command: "sheetwash analyze DATA --out results",
		Settings: page.Settings(p.Level, p.Hydrograph.ThresholdShare, p.Hydrograph.SlopeWindowMin, p.Hydrograph.FinalWindowMin),
		Explain:  q.Explainer(t.Context(), all.Datasets).Explain,
	}
	for i := range all.Datasets {
		in.Datasets = append(in.Datasets, page.FactsOf(all.Datasets[i].Name, all.Datasets[i].Digest, all.Datasets[i].Dataset))
	}
	files, err := page.Files(in, formats)
	if err != nil {
		t.Fatal(err)
	}
	out := map[string][]byte{}
	for _, f := range files {
		var b bytes.Buffer
		if err := f.Write(&b); err != nil {
			t.Fatal(err)
		}
		out[f.Name] = b.Bytes()
	}
	return out
}

// unzipped reads a zip.
func unzipped(t *testing.T, data []byte) map[string][]byte {
	t.Helper()
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		t.Fatal(err)
	}
	out := map[string][]byte{}
	for _, f := range z.File {
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		if out[f.Name], err = io.ReadAll(r); err != nil {
			t.Fatal(err)
		}
	}
	return out
}

// links are the addresses of other pages.
var links = regexp.MustCompile(`href="(/v1/reports/|season|event-|run-)[^"]*"`)

// The report of an analysis is, byte for byte, what the command report writes of the
// same data: the files of a zip, and a page but for the addresses of the others.
func TestReportIsThatOfTheCommand(t *testing.T) {
	s := newService(t)
	season := s.season("Corrin Basin 2031")
	datasets := []string{"03-fenwick-holt", "12-brackenfold"}
	for _, d := range datasets {
		s.upload(season, d).want(201)
	}
	id := s.post("/v1/analyses", map[string]any{"season": season}, "Prefer: wait=20").want(200).id()
	at := "/v1/reports/" + id
	for units, formats := range map[report.Units]string{report.SI: "", report.US: "svg"} {
		figures, err := figure.ParseFormats(formats)
		if err != nil {
			t.Fatal(err)
		}
		want := ofCommand(t, units, figures, datasets...)
		r := s.get(at + "?format=zip&figures=" + formats + "&units=" + units.String()).want(200)
		got := unzipped(t, r.body)
		if len(got) != len(want) || len(got) < 5 {
			t.Fatalf("%d files, the command writes %d", len(got), len(want))
		}
		for name := range want {
			if !bytes.Equal(got[name], want[name]) {
				t.Errorf("%s differs in %v", name, units)
			}
		}
		path, name := "&kind=event&event=Fenwick+Holt", "event-fenwick-holt"
		if units == report.US {
			path, name = "&kind=run&dataset=12-brackenfold&run=BF-1", "run-bf-1"
		}
		one := s.get(at + "?units=" + units.String() + path).want(200)
		if a, b := links.ReplaceAll(one.body, nil), links.ReplaceAll(want[name+".html"], nil); !bytes.Equal(a, b) {
			t.Errorf("%s differs in %v", name, units)
		}
		for _, m := range regexp.MustCompile(`href="(/v1/reports/[^"]*)"`).FindAllStringSubmatch(string(one.body), 1) {
			s.get(html.UnescapeString(m[1])).want(200)
		}
	}
}

// A report never changes and may be kept; what cannot be asked for is refused.
func TestReportIsKept(t *testing.T) {
	s := newService(t)
	season := s.season("Corrin Basin 2031")
	dataset := s.upload(season, "03-fenwick-holt").want(201).id()
	made := s.post("/v1/analyses", map[string]any{"season": season}, "Prefer: wait=20").want(200)
	at := "/v1/reports/" + made.id()
	if link := made.json()["links"].(map[string]any)["report"]; link != at {
		t.Errorf("the analysis links to %v", link)
	}
	for _, query := range []string{"", "?format=zip"} {
		r := s.get(at + query).want(200)
		if !strings.Contains(r.header.Get("Cache-Control"), "immutable") {
			t.Errorf("kept %q", r.header.Get("Cache-Control"))
		}
		s.get(at+query, "If-None-Match: "+r.header.Get("ETag")).want(304)
	}
	if r := s.get(at, "Accept-Encoding: gzip").want(200); r.header.Get("Content-Encoding") != "gzip" || len(r.body) > 400<<10 {
		t.Errorf("%d bytes as %q", len(r.body), r.header.Get("Content-Encoding"))
	}
	for query, code := range map[string]string{
		"?kind=plot": "malformed_request", "?kind=event": "malformed_request", "?kind=run": "malformed_request", "?format=pdf": "format_not_offered", "?units=cgs": "malformed_request",
		"?format=zip&kind=event": "malformed_request", "?figures=svg": "malformed_request", "?format=zip&figures=gif": "malformed_request", "?x=1": "unknown_parameter",
	} {
		if r := s.get(at + query); !slices.Contains([]int{400, 406}, r.status) {
			t.Errorf("%s answers %d", query, r.status)
		} else {
			r.problem(code)
		}
	}
	s.get(at + "?kind=event&event=nowhere").want(404).problem("not_found")
	// Without its data the report stays, and tells no derivation.
	etag := s.get("/v1/datasets/" + dataset).want(200).header.Get("ETag")
	s.ask("DELETE", "/v1/datasets/"+dataset, nil, "If-Match: "+etag).want(204)
	short := s.get(at + "?kind=event&event=Fenwick+Holt").want(200)
	if bytes.Contains(short.body, []byte("popovertarget")) {
		t.Error("a derivation of data that is gone")
	}
	s.ask("DELETE", "/v1/analyses/"+made.id(), nil).want(200)
	s.get(at).want(410).problem("dismissed")
}
