package mapping_test

import (
	"os"
	"strings"
	"testing"

	"sheetwash/ingest/mapping"
)

// The mappings that docs/formats.md shows are mappings.
func TestDocumentedMappings(t *testing.T) {
	text, err := os.ReadFile("../../docs/formats.md")
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for i, block := range strings.Split(string(text), "```") {
		yaml, ok := strings.CutPrefix(block, "yaml\n")
		if i%2 == 0 || !ok {
			continue
		}
		if strings.HasPrefix(yaml, "samples:") {
			yaml = "tables:\n  " + strings.ReplaceAll(yaml, "\n", "\n  ")
		}
		if !strings.Contains(yaml, "tables:") {
			continue // a part of a source
		}
		n++
		if m, issues := mapping.Parse([]byte(yaml), "formats.md"); m == nil {
			t.Errorf("%v\n%s", issues.All(), yaml)
		}
	}
	if n < 3 {
		t.Errorf("%d whole mappings found in the page", n)
	}
	for _, e := range mapping.Catalogue() {
		if strings.HasPrefix(string(e.Code), "unit.") && !strings.Contains(string(text), string(e.Code)) && e.Code != mapping.UnitIgnored {
			t.Errorf("the page does not name %s", e.Code)
		}
	}
}
