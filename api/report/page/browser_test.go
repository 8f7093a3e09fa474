package page_test

import (
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"sheetwash/api/report"
	"sheetwash/api/report/page"
)

var update = flag.Bool("update", false, "write the golden pictures anew")

// programs are the names under which a Chromium may lie.
var programs = []string{"chromium", "chromium-browser", "google-chrome"}

// leftOut says that a part of the tests did not run, which must not pass unseen where
// SHEETWASH_REQUIRE_BROWSER=1.
func leftOut(t *testing.T, why string) {
	t.Helper()
	if os.Getenv("SHEETWASH_REQUIRE_BROWSER") == "1" {
		t.Fatal(why)
	}
	fmt.Fprintf(os.Stderr, "LEFT OUT: %s: %s\n", t.Name(), why)
}

// browser is a headless Chromium that notes what pages complain of and ask for.
type browser struct {
	ctx    context.Context
	mu     sync.Mutex
	wrong  []string
	asked  []string
	server *httptest.Server
}

// open starts a browser and a server of the pages of some sites; nil where there is
// no browser.
func open(t *testing.T, sites map[string]*page.Site) *browser {
	t.Helper()
	program := ""
	for _, p := range programs {
		if found, err := exec.LookPath(p); err == nil && program == "" {
			program = found
		}
	}
	if program == "" {
		leftOut(t, "there is no Chromium; . .ci/browser installs one")
		return nil
	}
	b := &browser{}
	pages := map[string]func(io.Writer) error{}
	for name, s := range sites {
		for _, target := range targets(s) {
			pages["/"+name+"/"+string(target.Kind)+"/"+target.Event+target.Run] = func(w io.Writer) error { return s.Write(w, target) }
		}
	}
	b.server = httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		write, ok := pages[r.URL.Path]
		if !ok {
			http.NotFound(w, r)
			return
		}
		w.Header().Set("Content-Type", "text/html; charset=utf-8")
		w.Header().Set("Content-Security-Policy", "default-src 'none'; style-src 'unsafe-inline'; img-src data:; base-uri 'none'; form-action 'none'")
		if err := write(w); err != nil {
			t.Error(err)
		}
	}))
	t.Cleanup(b.server.Close)
	options := append(slices.Clone(chromedp.DefaultExecAllocatorOptions[:]), chromedp.ExecPath(program), chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.Flag("hide-scrollbars", true), chromedp.Flag("font-render-hinting", "none"), chromedp.Flag("disable-lcd-text", true))
	allocator, stop := chromedp.NewExecAllocator(context.Background(), options...)
	t.Cleanup(stop)
	tab, end := chromedp.NewContext(allocator)
	t.Cleanup(end)
	limited, cancel := context.WithTimeout(tab, 5*time.Minute)
	t.Cleanup(cancel)
	b.ctx = limited
	if err := chromedp.Do(limited); err != nil { // starts the browser
		t.Fatal(err)
	}
	if err := chromedp.Listen(limited, b.listen); err != nil {
		t.Fatal(err)
	}
	call(t, b, network.Enable, network.EnableParams{})
	call(t, b, log.Enable, cdp.Empty{})
	call(t, b, runtime.Enable, cdp.Empty{})
	return b
}

func (b *browser) listen(event any) {
	b.mu.Lock()
	defer b.mu.Unlock()
	switch e := event.(type) {
	case *runtime.EventExceptionThrown:
		b.wrong = append(b.wrong, e.ExceptionDetails.Text)
	case *runtime.EventConsoleAPICalled:
		b.wrong = append(b.wrong, "console "+string(e.Type))
	case *log.EventEntryAdded:
		b.wrong = append(b.wrong, e.Entry.Text)
	case *network.EventRequestWillBeSent:
		if !strings.HasPrefix(e.Request.URL, "data:") {
			b.asked = append(b.asked, e.Request.URL)
		}
	}
}

// visit opens a page in a window of a size and a colour scheme.
func (b *browser) visit(t *testing.T, path string, width int64, scheme string) {
	t.Helper()
	b.window(t, width, 900, 1)
	call(t, b, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}})
	if err := chromedp.Do(b.ctx, chromedp.Navigate(b.server.URL+path)); err != nil {
		t.Fatalf("%s: %v", path, err)
	}
}

// window sets the size of the window in pixels of the page, and how many pixels of the
// screen one of them takes.
func (b *browser) window(t *testing.T, width, height int64, scale float64) {
	t.Helper()
	call(t, b, emulation.SetDeviceMetricsOverride, emulation.SetDeviceMetricsOverrideParams{Width: width, Height: height, DeviceScaleFactor: scale})
}

// call runs a command of the browser.
func call[P, R any](t *testing.T, b *browser, command cdp.Command[P, R], params P) R {
	t.Helper()
	answer, err := chromedp.Call(b.ctx, command, params)
	if err != nil {
		t.Fatalf("%s: %v", command.Method, err)
	}
	return answer
}

// evaluate asks the page.
func evaluate[T any](t *testing.T, b *browser, expression string) T {
	t.Helper()
	answer, err := chromedp.Run(b.ctx, chromedp.Evaluate[T](expression, chromedp.EvalAwaitPromise))
	if err != nil {
		t.Fatalf("evaluate: %v", err)
	}
	return answer
}

// press presses a key.
func (b *browser) press(t *testing.T, key string) {
	t.Helper()
	if err := chromedp.Do(b.ctx, chromedp.KeyEvent(key)); err != nil {
		t.Fatal(err)
	}
}

// overflow is by how many pixels the page is wider than the window.
const overflow = `document.documentElement.scrollWidth-document.documentElement.clientWidth`

// quiet fails for complaints, and for requests besides those of the pages.
func (b *browser) quiet(t *testing.T) {
	t.Helper()
	b.mu.Lock()
	defer b.mu.Unlock()
	for _, w := range b.wrong {
		t.Errorf("the browser complains: %s", w)
	}
	for _, u := range b.asked {
		if !strings.HasPrefix(u, b.server.URL+"/") || strings.HasSuffix(u, ".ico") {
			t.Errorf("a page asked for %s", u)
		}
	}
	b.wrong, b.asked = nil, nil
}

// sites are what the browser looks at: the demo in both systems of units, and the
// hostile event.
func sites(t *testing.T) map[string]*page.Site {
	return map[string]*page.Site{"si": page.New(input(t, report.SI)), "us": page.New(input(t, report.US)), "hostile": page.New(hostile())}
}

// looked are the pages that every check is made on.
func looked(s map[string]*page.Site) []string {
	h := s["hostile"]
	return []string{"/si/event/Ashlock Mill", "/us/event/Brackenfold", "/si/run/Tarn GateTG-1", "/si/season/", "/hostile/event/" + h.Events()[0].Event}
}

// Pages render without a complaint and without a request, in both schemes and at the
// width of a phone; axe finds nothing serious; nothing runs out of the window.
func TestBrowser(t *testing.T) {
	all := sites(t)
	b := open(t, all)
	if b == nil {
		return
	}
	axe := axeSource(t)
	for _, path := range looked(all) {
		for _, view := range []struct {
			width  int64
			scheme string
		}{{1280, "light"}, {360, "dark"}} {
			b.visit(t, escaped(path), view.width, view.scheme)
			if wider := evaluate[float64](t, b, overflow); wider > 0 {
				t.Errorf("%s runs %v px out of a window of %d px", path, wider, view.width)
			}
			b.quiet(t)
			if axe != "" && (view.scheme == "light" || strings.Contains(path, "Brackenfold")) {
				b.axe(t, path+" "+view.scheme, axe)
			}
		}
	}
}

// escaped is a path as a URL has it.
func escaped(path string) string {
	var b strings.Builder
	for i := range len(path) {
		switch c := path[i]; {
		case c >= 'a' && c <= 'z', c >= 'A' && c <= 'Z', c >= '0' && c <= '9', strings.IndexByte("/-_.", c) >= 0:
			b.WriteByte(c)
		default:
			fmt.Fprintf(&b, "%%%02X", c)
		}
	}
	return b.String()
}

// axeSource is the program of axe-core, "" where there is none.
func axeSource(t *testing.T) string {
	t.Helper()
	name := os.Getenv("SHEETWASH_AXE")
	if name == "" {
		leftOut(t, "SHEETWASH_AXE does not say where axe.min.js is; . .ci/browser gets it")
		return ""
	}
	data, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	return string(data)
}

// axe fails for findings of the rules of WCAG 2.2 A and AA, and for others that are
// serious.
func (b *browser) axe(t *testing.T, what, source string) {
	t.Helper()
	script := source + `;axe.run(document,{resultTypes:['violations']}).then(r=>JSON.stringify(r.violations.map(v=>({id:v.id,impact:v.impact,help:v.help,tags:v.tags,at:v.nodes.slice(0,3).map(n=>n.html.slice(0,160)+' '+(n.any[0]?n.any[0].message:''))}))))`
	var found []struct {
		ID, Impact, Help string
		Tags, At         []string
	}
	if err := json.Unmarshal([]byte(evaluate[string](t, b, script)), &found); err != nil {
		t.Fatal(err)
	}
	for _, f := range found {
		wcag := slices.ContainsFunc(f.Tags, func(tag string) bool { return strings.HasPrefix(tag, "wcag2") && !strings.HasSuffix(tag, "aaa") })
		if wcag || f.Impact == "serious" || f.Impact == "critical" {
			t.Errorf("axe on %s: %s (%s): %s\n  %s", what, f.ID, f.Impact, f.Help, strings.Join(f.At, "\n  "))
		}
	}
}

// With the keyboard alone a reader skips to the results, and opens and closes the
// numbers of a chart.
func TestKeyboard(t *testing.T) {
	b := open(t, sites(t))
	if b == nil {
		return
	}
	focus := func(what string) string { return evaluate[string](t, b, what) }
	b.visit(t, "/si/event/Ashlock%20Mill", 1280, "light")
	b.press(t, kb.Tab)
	if got := focus(`document.activeElement.className`); got != "skip" {
		t.Errorf("the first stop is %q", got)
	}
	const within = `(e=>e?e.tagName:"")(document.activeElement.closest("figure"))`
	for i := 0; focus(`document.activeElement.tagName+" "+`+within) != "SUMMARY FIGURE"; i++ {
		if i > 60 {
			t.Fatal("the keyboard does not reach the numbers of a chart")
		}
		b.press(t, kb.Tab)
	}
	if got := focus(`getComputedStyle(document.activeElement).outlineStyle`); got != "solid" {
		t.Errorf("the focus is not seen: outline %s", got)
	}
	for _, want := range []string{"true", "false"} {
		b.press(t, kb.Enter)
		if got := focus(`String(document.activeElement.parentElement.open)`); got != want {
			t.Errorf("after Enter the fold-out is open: %s, want %s", got, want)
		}
	}
	b.quiet(t)
}
