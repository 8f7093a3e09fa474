package api_test

import (
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/chromedp/kb"

	"sheetwash/api/report/page/pagetest"
)

var update = flag.Bool("update", false, "write the golden pictures anew")

// inBrowser opens a new service in a browser; nil where there is none and none is required.
func inBrowser(t *testing.T) (*service, *pagetest.Tab) {
	t.Helper()
	var browsers pagetest.Browsers
	t.Cleanup(browsers.Close)
	s := newService(t)
	return s, browsers.Open(t, s.URL)
}

// The live pages in a browser: a crew uploads by the keyboard, sees its upload become
// a page, and a refused one with its errors; no page complains, asks elsewhere, runs
// out of the window of a phone, or fails axe.
func TestLivePagesInBrowser(t *testing.T) {
	s, b := inBrowser(t)
	if b == nil {
		return
	}
	season := s.season("Corrin Basin 2031")
	folder := t.TempDir()
	files := func(change func(name, data string) string) (out []string) {
		for name, data := range demo(t, "01-ashlock-mill") {
			at := filepath.Join(folder, name)
			if err := os.WriteFile(at, []byte(change(name, data)), 0o600); err != nil {
				t.Fatal(err)
			}
			out = append(out, at)
		}
		return out
	}
	upload := func(files []string) {
		b.Visit(t, "/seasons/"+season+"/uploads", 1280, "light")
		b.Choose(t, "#files", files...)
		b.Reach(t, `document.activeElement.id=="name"`)
		b.Press(t, "a")
		b.Reach(t, `document.activeElement.type=="submit"`)
		b.Press(t, kb.Enter)
		b.Until(t, `location.pathname.startsWith("/datasets/")&&document.readyState=="complete"`)
	}
	upload(files(func(name, data string) string {
		if name == "samples.csv" {
			return strings.Replace(data, "AM-1,1,", "AM-1,x,", 1)
		}
		return data
	}))
	refused := pagetest.Evaluate[string](t, b, `location.pathname`)
	if text := pagetest.Evaluate[string](t, b, `document.querySelector("tbody").innerText`); !strings.Contains(text, "samples.csv") || !strings.Contains(text, "no plot") {
		t.Errorf("the findings are %q", text)
	}
	s.jobs.hold = make(chan struct{})
	upload(files(func(_, data string) string { return data }))
	done := pagetest.Evaluate[string](t, b, `location.pathname`)
	b.Until(t, `!!document.querySelector("progress")`)
	b.Axe(t, "an upload being analysed")
	b.Picture(t, pagetest.Look{Name: "upload-running", Path: done + "?still=true", Scheme: "light", Width: 1280, Scale: 0.4}, *update)
	b.Visit(t, done, 1280, "light")
	close(s.jobs.hold)
	b.Until(t, `document.body.innerText.includes("Its pages are ready")`) // it comes again by itself
	s.jobs.wait.Wait()
	b.Reach(t, `document.activeElement.innerText.startsWith("Field day")`)
	b.Press(t, kb.Enter)
	b.Until(t, `location.pathname.endsWith("/event")&&document.readyState=="complete"`)
	b.Reach(t, `document.activeElement.matches("td a.n")`)
	b.Press(t, kb.Enter)
	b.Until(t, `location.pathname.endsWith("/why")&&document.readyState=="complete"`)
	why := pagetest.Evaluate[string](t, b, `location.pathname+location.search`)
	b.Quiet(t)

	event := "/seasons/" + season + "/event?event=Ashlock+Mill"
	for _, path := range []string{"/", "/seasons/" + season, event, "/seasons/" + season + "/run?dataset=a&run=AM-1", "/seasons/" + season + "/uploads", refused, done, why, "/sign-in"} {
		for _, view := range []struct {
			width  int64
			scheme string
		}{{1280, "light"}, {360, "dark"}} {
			b.Visit(t, path, view.width, view.scheme)
			if wider := pagetest.Evaluate[float64](t, b, pagetest.Overflow); wider > 0 {
				t.Errorf("%s runs %v px out of a window of %d px", path, wider, view.width)
			}
			b.Quiet(t)
			if view.scheme == "light" || path == refused || path == event {
				b.Axe(t, path+" "+view.scheme)
			}
		}
	}
	for _, p := range []pagetest.Look{
		{Name: "seasons", Path: "/", Scheme: "light", Width: 1280, Scale: 0.4},
		{Name: "upload-refused", Path: refused, Scheme: "light", Width: 1280, Scale: 0.4},
		{Name: "upload-refused-phone", Path: refused, Scheme: "dark", Width: 390, Scale: 0.5},
		{Name: "event-live", Path: event, Scheme: "light", Width: 1280, Scale: 0.4},
		{Name: "why", Path: why, Scheme: "light", Width: 1280, Scale: 0.4},
	} {
		b.Picture(t, p, *update)
	}
	b.Visit(t, event, 1000, "light")
	for _, sheet := range pagetest.Sheets {
		if n, wider := b.Print(t, sheet); n == 0 || n > 2 || wider > 1 {
			t.Errorf("a live field day prints on %d sheets of %s and is %v px too wide", n, sheet.Name, wider)
		}
	}
}

// Hostile names in a browser: no script of theirs runs, and nothing runs out of the
// window.
func TestHostileLivePagesInBrowser(t *testing.T) {
	s, b := inBrowser(t)
	if b == nil {
		return
	}
	season := s.post("/v1/seasons", map[string]any{"name": hostileNames[0] + hostileNames[4]}).want(201).id()
	at := s.send(season, inFolder("<b>day", hostileFiles(t, 40))).want(303).header.Get("Location")
	s.jobs.wait.Wait()
	for _, path := range []string{"/", "/seasons/" + season, "/seasons/" + season + "/uploads", at} {
		for _, width := range []int64{1280, 360} {
			b.Visit(t, path, width, "light")
			if wider := pagetest.Evaluate[float64](t, b, pagetest.Overflow); wider > 0 {
				t.Errorf("%s runs %v px out of a window of %d px", path, wider, width)
			}
		}
		b.Quiet(t)
		b.Axe(t, path)
	}
}
