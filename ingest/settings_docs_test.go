package ingest_test

import (
	"os"
	"slices"
	"strings"
	"testing"

	"sheetwash/ingest"
	"sheetwash/ingest/issue"
)

// TestKeysAreDocumented asks that docs/formats.md, or for uncertainties docs/cli.md, tells of every key that
// analysis.yaml and simulator.yaml take: those that the finding for an unknown key lists.
func TestKeysAreDocumented(t *testing.T) {
	page := ""
	for _, name := range []string{"../docs/formats.md", "../docs/cli.md"} {
		data, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		page += string(data)
	}
	for _, tt := range []struct {
		file string
		code issue.Code
	}{{"analysis.yaml", ingest.SettingsUnknown}, {"simulator.yaml", "profile.unknown"}} {
		o := readOnly(t, tree(t, dataset("d", tt.file, "nonsense: 1\n")), ingest.Options{})
		i := slices.IndexFunc(o.Issues, func(i issue.Issue) bool { return i.Code == tt.code })
		if i < 0 {
			t.Fatalf("%s: %s", tt.file, list(o.Issues))
		}
		_, keys, _ := strings.Cut(o.Issues[i].Message, "use one of ")
		n := 0
		for _, key := range strings.Split(keys, ", ") {
			if n++; !strings.Contains(page, "`"+strings.TrimPrefix(key, "errors.")+"`") {
				t.Errorf("no document tells of the key %s of %s", key, tt.file)
			}
		}
		if n < 10 {
			t.Errorf("%s has %d keys", tt.file, n)
		}
	}
}
