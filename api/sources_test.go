package api_test

import (
	"regexp"
	"slices"
	"strings"
	"testing"

	"sheetwash/api/report/page"
)

// A season report lists the works of every method of every metric: those that the
// catalogue of the service names.
func TestReportNamesEverySource(t *testing.T) {
	s := newService(t)
	year := regexp.MustCompile(`\b(19|20)\d\d\b`)
	n := 0
	for _, m := range s.get("/v1/metrics").want(200).data() {
		for _, method := range m["methods"].([]any) {
			source := method.(map[string]any)["source"].(string)
			for _, work := range strings.Split(source, ";") {
				if work == "definition" {
					continue
				}
				n++
				author := strings.FieldsFunc(strings.TrimSpace(work), func(r rune) bool { return r == ' ' || r == ',' })[0]
				when := year.FindString(work)
				found := page.Sources(m["id"].(string), method.(map[string]any)["id"].(string))
				if !slices.ContainsFunc(found, func(w string) bool { return strings.HasPrefix(w, author) && strings.Contains(w, when) }) {
					t.Errorf("%v by %v: %q is not among %q", m["id"], method.(map[string]any)["id"], work, found)
				}
			}
		}
	}
	if n < 20 {
		t.Errorf("only %d sources", n)
	}
}
