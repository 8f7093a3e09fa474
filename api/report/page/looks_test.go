package page_test

import (
	"strings"
	"testing"

	"sheetwash/api/report/page/pagetest"
)

// The pages of the demo print on as many sheets as docs/reports.md states, none of
// which is cut at the right.
func TestPrinting(t *testing.T) {
	t.Parallel()
	b := open(t, sites(t))
	if b == nil {
		return
	}
	for path, most := range map[string]int{"/si/event/Ashlock Mill": 2, "/us/event/Brackenfold": 2, "/si/run/Tarn GateTG-1": 9, "/si/season/": 20} {
		for _, s := range pagetest.Sheets {
			if s.Name == "A4" && !strings.Contains(path, "/event/") {
				continue // the smaller sheet tells enough of the long pages
			}
			b.Visit(t, pagetest.Escaped(path), 1000, "dark")
			n, wider := b.Print(t, s)
			if n == 0 || n > most {
				t.Errorf("%s prints on %d sheets of %s, want at most %d", path, n, s.Name, most)
			}
			if wider > 1 {
				t.Errorf("%s is %v px wider than %s", path, wider, s.Name)
			}
		}
	}
	b.Quiet(t)
}

// The pages look as they looked when somebody looked at them: small pictures,
// compared with a tolerance. A picture that is meant to change is written anew with
// -update, and looked at.
func TestPictures(t *testing.T) {
	t.Parallel()
	all := sites(t)
	b := open(t, all)
	if b == nil {
		return
	}
	for _, p := range []pagetest.Look{
		{Name: "event-light", Path: "/si/event/Ashlock Mill", Scheme: "light", Width: 1280, Scale: 0.4},
		{Name: "event-dark", Path: "/us/event/Brackenfold", Scheme: "dark", Width: 1280, Scale: 0.4},
		{Name: "event-phone", Path: "/us/event/Tarn Gate", Scheme: "light", Width: 390, Scale: 0.5},
		{Name: "event-why", Path: "/si/event/Ashlock Mill", Scheme: "light", Width: 1280, Scale: 0.4, Script: `document.querySelector("td button.why").click()`},
		{Name: "run-light", Path: "/si/run/Pell FarmPF-2", Scheme: "light", Width: 1280, Scale: 0.35},
		{Name: "season-light", Path: "/si/season/", Scheme: "light", Width: 1280, Scale: 0.25},
		{Name: "hostile", Path: looked(all)[4], Scheme: "light", Width: 1280, Scale: 0.25},
	} {
		p.Path = pagetest.Escaped(p.Path)
		b.Picture(t, p, *update)
	}
}
