package columnar_test

import (
	"os"
	"regexp"
	"slices"
	"testing"

	"sheetwash/ingest/columnar"
	"sheetwash/ingest/issue"
)

// Codes lists every code that the source declares, once.
func TestCodes(t *testing.T) {
	source, err := os.ReadFile("finding.go")
	if err != nil {
		t.Fatal(err)
	}
	var declared []issue.Code
	for _, m := range regexp.MustCompile(`issue\.Code = "([a-z_.]+)"`).FindAllSubmatch(source, -1) {
		declared = append(declared, issue.Code(m[1]))
	}
	if !slices.Equal(columnar.Codes(), declared) {
		t.Errorf("Codes %v, declared %v", columnar.Codes(), declared)
	}
}
