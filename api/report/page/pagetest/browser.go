package pagetest

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/dom"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// programs are the names under which a Chromium may lie.
var programs = []string{"chromium", "chromium-browser", "google-chrome"}

// LeftOut says that a part of the tests did not run, which must not pass unseen where
// SHEETWASH_REQUIRE_BROWSER=1.
func LeftOut(t testing.TB, why string) {
	t.Helper()
	if os.Getenv("SHEETWASH_REQUIRE_BROWSER") == "1" {
		t.Fatal(why)
	}
	fmt.Fprintf(os.Stderr, "LEFT OUT: %s: %s\n", t.Name(), why)
}

// Browsers is a headless Chromium that the tests of a package share: it starts with
// the first of them. Close ends it.
type Browsers struct {
	once sync.Once
	ctx  context.Context
	stop []context.CancelFunc
	why  string // it cannot be had
	err  error
}

// Close ends the browser.
func (s *Browsers) Close() {
	for _, stop := range slices.Backward(s.stop) {
		stop()
	}
}

func (s *Browsers) start() {
	program := ""
	for _, p := range programs {
		if found, err := exec.LookPath(p); err == nil && program == "" {
			program = found
		}
	}
	if program == "" {
		s.why = "there is no Chromium; . .ci/browser installs one"
		return
	}
	options := append(slices.Clone(chromedp.DefaultExecAllocatorOptions[:]), chromedp.ExecPath(program), chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.Flag("hide-scrollbars", true), chromedp.Flag("font-render-hinting", "none"), chromedp.Flag("disable-lcd-text", true))
	allocator, stop := chromedp.NewExecAllocator(context.Background(), options...)
	first, end := chromedp.NewContext(allocator)
	s.ctx, s.stop = first, []context.CancelFunc{stop, end}
	s.err = chromedp.Do(first) // starts the browser
}

// Tab is a tab of the browser that notes what pages complain of and ask for.
type Tab struct {
	ctx   context.Context
	base  string // address of the pages
	mu    sync.Mutex
	wrong []string
	asked []string
}

// Open opens a tab for the pages below an address; nil where there is no browser.
func (s *Browsers) Open(t *testing.T, base string) *Tab {
	t.Helper()
	s.once.Do(s.start)
	switch {
	case s.why != "":
		LeftOut(t, s.why)
		return nil
	case s.err != nil:
		t.Fatal(s.err)
	}
	tab, end := chromedp.NewContext(s.ctx)
	t.Cleanup(end)
	limited, cancel := context.WithTimeout(tab, 5*time.Minute)
	t.Cleanup(cancel)
	b := &Tab{ctx: limited, base: base}
	if err := chromedp.Do(limited); err != nil {
		t.Fatal(err)
	}
	if err := chromedp.Listen(limited, b.listen); err != nil {
		t.Fatal(err)
	}
	Call(t, b, network.Enable, network.EnableParams{})
	Call(t, b, log.Enable, cdp.Empty{})
	Call(t, b, runtime.Enable, cdp.Empty{})
	return b
}

func (b *Tab) listen(event any) {
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

// Visit opens a page in a window of a size and a colour scheme.
func (b *Tab) Visit(t *testing.T, path string, width int64, scheme string) {
	t.Helper()
	b.Window(t, width, 900, 1)
	Call(t, b, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}})
	if err := chromedp.Do(b.ctx, chromedp.Navigate(b.base+path)); err != nil {
		t.Fatalf("%s: %v", path, err)
	}
}

// Window sets the size of the window in pixels of the page, and how many pixels of the
// screen one of them takes.
func (b *Tab) Window(t *testing.T, width, height int64, scale float64) {
	t.Helper()
	Call(t, b, emulation.SetDeviceMetricsOverride, emulation.SetDeviceMetricsOverrideParams{Width: width, Height: height, DeviceScaleFactor: scale})
}

// Call runs a command of the browser.
func Call[P, R any](t *testing.T, b *Tab, command cdp.Command[P, R], params P) R {
	t.Helper()
	answer, err := chromedp.Call(b.ctx, command, params)
	if err != nil {
		t.Fatalf("%s: %v", command.Method, err)
	}
	return answer
}

// Evaluate asks the page.
func Evaluate[T any](t *testing.T, b *Tab, expression string) T {
	t.Helper()
	answer, err := chromedp.Run(b.ctx, chromedp.Evaluate[T](expression, chromedp.EvalAwaitPromise))
	if err != nil {
		t.Fatalf("evaluate: %v", err)
	}
	return answer
}

// Press presses a key.
func (b *Tab) Press(t *testing.T, key string) {
	t.Helper()
	if err := chromedp.Do(b.ctx, chromedp.KeyEvent(key)); err != nil {
		t.Fatal(err)
	}
}

// Overflow is by how many pixels the page is wider than the window.
const Overflow = `document.documentElement.scrollWidth-document.documentElement.clientWidth`

// Quiet fails for complaints, and for requests besides those of the pages.
func (b *Tab) Quiet(t *testing.T) {
	t.Helper()
	b.mu.Lock()
	defer b.mu.Unlock()
	for _, w := range b.wrong {
		t.Errorf("the browser complains: %s", w)
	}
	for _, u := range b.asked {
		if !strings.HasPrefix(u, b.base+"/") || strings.HasSuffix(u, ".ico") {
			t.Errorf("a page asked for %s", u)
		}
	}
	b.wrong, b.asked = nil, nil
}

// axeSource is the program of axe-core, "" where there is none.
func axeSource(t *testing.T) string {
	t.Helper()
	name := os.Getenv("SHEETWASH_AXE")
	if name == "" {
		LeftOut(t, "SHEETWASH_AXE does not say where axe.min.js is; . .ci/browser gets it")
		return ""
	}
	data, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	return string(data)
}

// Axe fails for findings of the rules of WCAG 2.2 A and AA, and for others that are
// serious.
func (b *Tab) Axe(t *testing.T, what string) {
	t.Helper()
	source := axeSource(t)
	if source == "" {
		return
	}
	script := source + `;axe.run(document,{resultTypes:['violations']}).then(r=>JSON.stringify(r.violations.map(v=>({id:v.id,impact:v.impact,help:v.help,tags:v.tags,at:v.nodes.slice(0,3).map(n=>n.html.slice(0,160)+' '+(n.any[0]?n.any[0].message:''))}))))`
	var found []struct {
		ID, Impact, Help string
		Tags, At         []string
	}
	if err := json.Unmarshal([]byte(Evaluate[string](t, b, script)), &found); err != nil {
		t.Fatal(err)
	}
	for _, f := range found {
		wcag := slices.ContainsFunc(f.Tags, func(tag string) bool { return strings.HasPrefix(tag, "wcag2") && !strings.HasSuffix(tag, "aaa") })
		if wcag || f.Impact == "serious" || f.Impact == "critical" {
			t.Errorf("axe on %s: %s (%s): %s\n  %s", what, f.ID, f.Impact, f.Help, strings.Join(f.At, "\n  "))
		}
	}
}

// Escaped is a path as a URL has it.
func Escaped(path string) string {
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

// Choose chooses files in a field of a form.
func (b *Tab) Choose(t *testing.T, selector string, files ...string) {
	t.Helper()
	field := Call(t, b, runtime.Evaluate, runtime.EvaluateParams{Expression: "document.querySelector(" + strconv.Quote(selector) + ")"}).Result
	Call(t, b, dom.SetFileInputFiles, dom.SetFileInputFilesParams{Files: files, ObjectID: field.ObjectID})
}

// Reach presses Tab until an expression is true, and fails where the focus that it
// ends at is not seen.
func (b *Tab) Reach(t *testing.T, expression string) {
	t.Helper()
	for i := 0; !Evaluate[bool](t, b, expression); i++ {
		if i > 200 {
			t.Fatalf("the keyboard does not reach %s", expression)
		}
		b.Press(t, kb.Tab)
	}
	if got := Evaluate[string](t, b, `getComputedStyle(document.activeElement).outlineStyle`); got == "none" {
		t.Errorf("the focus on %s is not seen", expression)
	}
}

// Until waits until an expression is true, on whichever page the browser then is.
func (b *Tab) Until(t *testing.T, expression string) {
	t.Helper()
	for end := time.Now().Add(time.Minute); ; {
		done, err := chromedp.Run(b.ctx, chromedp.Evaluate[bool](expression))
		if err == nil && done {
			return
		}
		if time.Now().After(end) {
			t.Fatalf("never %s: %v", expression, err)
		}
		time.Sleep(50 * time.Millisecond)
	}
}
