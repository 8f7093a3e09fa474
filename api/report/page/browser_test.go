package page_test

import (
	"flag"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"github.com/chromedp/chromedp/kb"

	"sheetwash/api/report"
	"sheetwash/api/report/page"
	"sheetwash/api/report/page/pagetest"
)

var update = flag.Bool("update", false, "write the golden pictures anew")

// browsers is the browser of all tests; TestMain closes it.
var browsers pagetest.Browsers

// open starts a server of the pages of some sites and opens a tab for it; nil where
// there is no browser.
func open(t *testing.T, sites map[string]*page.Site) *pagetest.Tab {
	t.Helper()
	pages := map[string]func() []byte{}
	for name, s := range sites {
		for _, target := range targets(s) {
			pages["/"+name+"/"+string(target.Kind)+"/"+target.Event+target.Run] = func() []byte { return render(t, s, target) }
		}
	}
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		write, ok := pages[r.URL.Path]
		if !ok {
			http.NotFound(w, r)
			return
		}
		w.Header().Set("Content-Type", "text/html; charset=utf-8")
		w.Header().Set("Content-Security-Policy", "default-src 'none'; style-src 'unsafe-inline'; img-src data:; base-uri 'none'; form-action 'none'")
		_, _ = w.Write(write()) // a browser that has gone needs no answer
	}))
	t.Cleanup(server.Close)
	return browsers.Open(t, server.URL)
}

// sites are what the browser looks at: the demo in both systems of units, and the
// hostile event.
func sites(t *testing.T) map[string]*page.Site {
	return map[string]*page.Site{"si": demoSites[report.SI](t), "us": demoSites[report.US](t), "hostile": page.New(hostile())}
}

// looked are the pages that every check is made on.
func looked(s map[string]*page.Site) []string {
	h := s["hostile"]
	return []string{"/si/event/Ashlock Mill", "/us/event/Brackenfold", "/si/run/Tarn GateTG-1", "/si/season/", "/hostile/event/" + h.Events()[0].Event}
}

// Pages render without a complaint and without a request, in both schemes and at the
// width of a phone; axe finds nothing serious; nothing runs out of the window.
func TestBrowser(t *testing.T) {
	t.Parallel()
	all := sites(t)
	b := open(t, all)
	if b == nil {
		return
	}
	for _, path := range looked(all) {
		for _, view := range []struct {
			width  int64
			scheme string
		}{{1280, "light"}, {360, "dark"}} {
			b.Visit(t, pagetest.Escaped(path), view.width, view.scheme)
			if wider := pagetest.Evaluate[float64](t, b, pagetest.Overflow); wider > 0 {
				t.Errorf("%s runs %v px out of a window of %d px", path, wider, view.width)
			}
			b.Quiet(t)
			if view.scheme == "light" || strings.Contains(path, "Brackenfold") {
				b.Axe(t, path+" "+view.scheme)
			}
		}
	}
}

// With the keyboard alone a reader skips to the results, opens and closes the numbers
// of a chart, and opens how a number came about, and how its parts did.
func TestKeyboard(t *testing.T) {
	t.Parallel()
	b := open(t, sites(t))
	if b == nil {
		return
	}
	say := func(what string) string { return pagetest.Evaluate[string](t, b, what) }
	reach := func(what, want string) {
		t.Helper()
		for i := 0; say(what) != want; i++ {
			if i > 120 {
				t.Fatalf("the keyboard does not reach %s", want)
			}
			b.Press(t, kb.Tab)
		}
		if got := say(`getComputedStyle(document.activeElement).outlineStyle`); got != "solid" {
			t.Errorf("the focus on %s is not seen: outline %s", want, got)
		}
	}
	b.Visit(t, "/si/event/Ashlock%20Mill", 1280, "light")
	b.Press(t, kb.Tab)
	if got := say(`document.activeElement.className`); got != "skip" {
		t.Errorf("the first stop is %q", got)
	}
	reach(`document.activeElement.tagName+" "+document.activeElement.className`, "BUTTON n why")
	b.Press(t, kb.Enter)
	const fold = `(e=>e.length+" "+(e.length?e[e.length-1].id:""))(document.querySelectorAll(":popover-open"))`
	first := say(fold)
	if !strings.HasPrefix(first, "1 ") {
		t.Fatalf("after Enter on a number %q is open", first)
	}
	b.Axe(t, "an open derivation")
	reach(`String(!!document.activeElement.closest(":popover-open"))`, "true")
	b.Press(t, kb.Enter)
	if got := say(fold); !strings.HasPrefix(got, "2 ") && got != "0 " {
		t.Errorf("after Enter within a derivation %q is open, before %q", got, first)
	}
	for range 2 {
		b.Press(t, kb.Escape)
	}
	if got := say(fold); got != "0 " {
		t.Errorf("after Esc %q is open", got)
	}
	reach(`document.activeElement.tagName+" "+(e=>e?e.tagName:"")(document.activeElement.closest("figure"))`, "SUMMARY FIGURE")
	for _, want := range []string{"true", "false"} {
		b.Press(t, kb.Enter)
		if got := say(`String(document.activeElement.parentElement.open)`); got != want {
			t.Errorf("after Enter the fold-out is open: %s, want %s", got, want)
		}
	}
	b.Quiet(t)
}
