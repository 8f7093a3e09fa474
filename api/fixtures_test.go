package api_test

import (
	"bytes"
	"context"
	"io"
	"mime/multipart"
	"os"
	"path/filepath"
	"sync"
	"testing"

	"sheetwash/analysis"
	"sheetwash/analysis/result"
	"sheetwash/api/batch"
	"sheetwash/ingest"
)

// provoked collects the codes of problems that tests have met.
var provoked = &codes{seen: map[string]bool{}}

type codes struct {
	mu   sync.Mutex
	seen map[string]bool
}

func (c *codes) note(code string) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.seen[code] = true
}

// computed is what package batch makes of datasets of the demo season: the results
// of the command line.
func computed(t testing.TB, datasets ...string) *result.Analysis {
	t.Helper()
	var paths []string
	for _, d := range datasets {
		paths = append(paths, filepath.Join("..", "testdata", "demo-season", d))
	}
	var q batch.Request
	season, err := q.ReadSeason(context.Background(), paths, ingest.FindOptions{}, func(int, int) {})
	if err != nil {
		t.Fatal(err)
	}
	cans := batch.Calibrations(season.Datasets)
	var parts []analysis.Part
	for i := range season.Datasets {
		p, err := q.Analyse(context.Background(), &season.Datasets[i], cans)
		if err != nil {
			t.Fatal(err)
		}
		parts = append(parts, p)
	}
	a, err := q.Fold(parts, season.Findings())
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// form returns the body and the content type of files as a form.
func form(t testing.TB, files map[string]string) (body []byte, contentType string) {
	t.Helper()
	var b bytes.Buffer
	w := multipart.NewWriter(&b)
	for name, content := range files {
		part, err := w.CreateFormFile("file", name)
		if err == nil {
			_, err = io.WriteString(part, content)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes(), w.FormDataContentType()
}

// demo returns the files of a dataset of the demo season.
func demo(t testing.TB, name string) map[string]string {
	t.Helper()
	out := map[string]string{}
	dir := filepath.Join("..", "testdata", "demo-season", name)
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		data, err := os.ReadFile(filepath.Join(dir, e.Name()))
		if err != nil {
			t.Fatal(err)
		}
		out[e.Name()] = string(data)
	}
	return out
}

// upload sends a dataset of the demo season.
func (s *service) upload(season, name string, headers ...string) reply {
	s.t.Helper()
	body, contentType := form(s.t, demo(s.t, name))
	return s.post("/v1/datasets?season="+season+"&name="+name, body, append(headers, "Content-Type: "+contentType)...)
}

// season makes a season and returns its id.
func (s *service) season(name string) string {
	s.t.Helper()
	return s.post("/v1/seasons", map[string]any{"name": name}).want(201).id()
}
