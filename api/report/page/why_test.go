package page_test

import (
	"bytes"
	"strings"
	"testing"

	"golang.org/x/net/html"

	"sheetwash/analysis/derivation"
	"sheetwash/api/report"
	"sheetwash/api/report/page"
	"sheetwash/api/report/page/pagetest"
)

// The sizes that docs/reports.md states hold with every derivation on the page.
const (
	mostEvent  = 300 << 10
	mostSeason = 2 << 20
)

// Every value of a field day opens how it came about, and of the other pages every one
// that is not folded away; every button leads to an entry that there is, no entry stands twice, and the
// pages keep to their sizes.
func TestDerivations(t *testing.T) {
	site := demoSites[report.SI](t)
	for _, target := range targets(site) {
		data := render(t, site, target)
		switch {
		case target.Kind == page.EventPage && len(data) > mostEvent, target.Kind == page.SeasonPage && len(data) > mostSeason:
			t.Errorf("%v has %d bytes", target, len(data))
		}
		root := pagetest.Parse(t, data)
		entries, opened := map[string]string{}, map[string]bool{}
		for n := range root.Descendants() {
			if class, _ := pagetest.Attribute(n, "class"); class == "fold" {
				id, _ := pagetest.Attribute(n, "id")
				if entries[id] != "" {
					t.Errorf("%v: two entries %s", target, id)
				}
				entries[id] = pagetest.Text(n)
			}
			if id, ok := pagetest.Attribute(n, "popovertarget"); ok {
				opened[id] = true
			}
			if col, _ := pagetest.Attribute(n, "data-col"); col == "value" && n.Data != "button" && !inSentence(n) && (target.Kind == page.EventPage || !inFolded(n)) {
				key, _ := pagetest.Attribute(n, "data-key")
				t.Errorf("%v: %s opens nothing", target, key)
			}
		}
		for id := range opened {
			if entries[id] == "" {
				t.Errorf("%v: a number opens %s, which there is not", target, id)
			}
		}
	}
}

// inSentence reports whether a number stands in the sentence of a chart, or in one
// that tells a plot.
func inSentence(n *html.Node) bool {
	for p := range n.Ancestors() {
		if p.Data == "figcaption" || p.Data == "p" {
			return true
		}
	}
	return false
}

// inFolded reports whether a number stands in a table that is folded away, besides
// those of charts.
func inFolded(n *html.Node) bool {
	folded := false
	for p := range n.Ancestors() {
		if p.Data == "figure" {
			return false
		}
		class, _ := pagetest.Attribute(p, "class")
		folded = folded || class == "data"
	}
	return folded
}

// The value that an entry tells is that of its number.
func TestDerivationGivesItsNumber(t *testing.T) {
	site := demoSites[report.SI](t)
	root := pagetest.Parse(t, render(t, site, site.Events()[0]))
	entries := map[string]string{}
	for n := range root.Descendants() {
		if class, _ := pagetest.Attribute(n, "class"); class == "fold" {
			id, _ := pagetest.Attribute(n, "id")
			entries[id] = pagetest.Text(n)
		}
	}
	seen := 0
	for n := range root.Descendants() {
		key, ok := pagetest.Attribute(n, "data-key")
		id, opens := pagetest.Attribute(n, "popovertarget")
		_, said := pagetest.Attribute(n, "data-said")
		if !ok || !opens || said || strings.Contains(key, "/runoff_coefficient/") { // a share, written in percent
			continue
		}
		seen++
		if !strings.Contains(entries[id], " "+strings.ReplaceAll(pagetest.Text(n), ",", "")) {
			t.Errorf("%s is shown as %s, its entry says %q", key, pagetest.Text(n), entries[id][:min(80, len(entries[id]))])
		}
	}
	if seen < 50 {
		t.Errorf("only %d numbers open", seen)
	}
}

// A tree of hostile names stays text, and one that holds its own key ends.
func TestHostileDerivation(t *testing.T) {
	in := hostile()
	in.Explain = func(key string) *derivation.Node {
		leaf := derivation.Read(cruel[0], 1, cruel[1], 0.1, derivation.Place{File: cruel[2], Row: 3, Column: cruel[4]})
		again := derivation.Value("again", 1, "mm")
		again.Key = key
		n := derivation.Formula(cruel[1], 2, "mm", "a + b", leaf.Noting(cruel[0]), again)
		n.Key, n.Method, n.Source = key, cruel[0], cruel[1]
		n.LeftOut = []derivation.Omission{{What: cruel[0], Why: cruel[1]}}
		return &n
	}
	site := page.New(in)
	for _, target := range targets(site) {
		pagetest.Harmless(t, render(t, site, target))
	}
	n := in.Explain("plot_results/a/b/c/d/e")
	var b bytes.Buffer
	if err := (page.Derivation{Node: n, Back: "javascript:alert(1)"}).Write(&b); err != nil {
		t.Fatal(err)
	}
	pagetest.Harmless(t, b.Bytes())
}
