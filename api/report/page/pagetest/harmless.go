package pagetest

import (
	"slices"
	"strings"
	"testing"

	"golang.org/x/net/html"
)

// elements are those that pages are made of.
var elements = strings.Fields("html head meta link title style body a header p h1 bdi nav ul li main section h2 h3 div figure figcaption strong span svg path text details summary table caption thead tbody tr th td br dl dt dd aside footer code button b i")

// Harmless fails for elements and attributes that pages are not made of; more are
// further elements that this one may have.
func Harmless(t testing.TB, data []byte, more ...string) {
	t.Helper()
	for n := range Parse(t, data).Descendants() {
		if n.Type == html.ElementNode && !slices.Contains(elements, n.Data) && !slices.Contains(more, n.Data) {
			t.Errorf("the page holds an element %s", n.Data)
		}
		for _, a := range n.Attr {
			if strings.HasPrefix(a.Key, "on") || a.Key == "style" || a.Key == "href" && strings.HasPrefix(a.Val, "javascript:") {
				t.Errorf("%s has %s=%q", n.Data, a.Key, a.Val)
			}
		}
	}
}
