package page_test

import (
	"context"
	"slices"
	"strconv"
	"strings"
	"testing"

	"golang.org/x/net/html"

	"sheetwash/api/report"
	"sheetwash/api/report/page"
	"sheetwash/api/report/page/pagetest"
)

var ctx = context.Background()

// Every number of a page is that of its result table, in the unit that the page
// says, rounded by its standard uncertainty.
func TestNumbersAreThoseOfTheTables(t *testing.T) {
	for _, u := range []report.Units{report.SI, report.US} {
		in := input(t, u)
		in.Explain = nil
		rows := pagetest.TableRows(t, in.Analysis)
		site := page.New(in)
		seen := 0
		for _, target := range targets(site) {
			seen += pagetest.Numbers(t, render(t, site, target), rows)
		}
		if seen < 20000 {
			t.Errorf("%v: only %d numbers on all pages", u, seen)
		}
	}
}

// No number stands on a page unaccounted: each is a result with its key, or a name,
// a heading, a fact, or a word of the flags.
func TestNoNumberWithoutKey(t *testing.T) {
	site := demoSites[report.SI](t)
	for _, target := range targets(site) {
		root := pagetest.Parse(t, render(t, site, target))
		for n := range root.Descendants() {
			if n.Type == html.TextNode && strings.ContainsAny(n.Data, "0123456789") && !accounted(n) {
				t.Errorf("%v: %q", target, strings.TrimSpace(n.Data))
			}
		}
	}
}

// accounted reports whether a text stands where numbers need no key.
func accounted(n *html.Node) bool {
	for p := range n.Ancestors() {
		if _, ok := pagetest.Attribute(p, "data-key"); ok {
			return true
		}
		if class, _ := pagetest.Attribute(p, "class"); class == "fact" || class == "name" || class == "fold" {
			return true
		}
		if slices.Contains([]string{"svg", "style", "title", "a", "h1", "h2", "h3", "caption", "thead", "summary", "code", "dt", "footer", "header"}, p.Data) {
			return true
		}
		if p.Data == "strong" && p.Parent != nil && p.Parent.Data == "figcaption" {
			return true
		}
	}
	return false
}

// The numbers that are written into a chart stand in its table or its sentence too.
func TestChartsSayWhatTheirTablesSay(t *testing.T) {
	site := demoSites[report.US](t)
	for _, target := range append(site.Events(), page.Target{Kind: page.SeasonPage}) {
		root := pagetest.Parse(t, render(t, site, target))
		for figure := range root.Descendants() {
			if figure.Data != "figure" {
				continue
			}
			id, _ := pagetest.Attribute(figure, "id")
			known := map[string]bool{}
			for n := range figure.Descendants() {
				if _, ok := pagetest.Attribute(n, "data-key"); ok {
					known[pagetest.Text(n)] = true
				}
			}
			for n := range figure.Descendants() {
				if n.Data != "text" || !strings.HasPrefix(id, "water") && !strings.HasPrefix(id, "sediment") && !strings.HasPrefix(id, "means") {
					continue
				}
				shown := strings.Fields(pagetest.Text(n))
				if size, _ := pagetest.Attribute(n, "font-size"); size != "12" || len(shown) < 2 {
					continue // a name or a place on the axis
				}
				if _, err := strconv.ParseFloat(shown[0], 64); err == nil && !known[shown[0]] && shown[0] != "0" {
					t.Errorf("%v: the chart %s says %q, its table does not", target, id, pagetest.Text(n))
				}
			}
		}
	}
}
