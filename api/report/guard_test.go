package report_test

import (
	"bytes"
	"encoding/csv"
	"regexp"
	"strings"
	"testing"
	"unicode/utf8"

	"pgregory.net/rapid"

	"sheetwash/analysis/result"
	"sheetwash/api/report"
)

// The rule of the guard as it is documented.
var needsGuard = regexp.MustCompile(`^'*[=+\-@\t\r]`)

// Any text goes out and comes back: what a spreadsheet could take for a formula
// gets one apostrophe, everything else stays as it is.
func TestGuardIsLossless(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.OneOf(rapid.String(), rapid.StringMatching(`'{0,3}[=+\-@\t\r,"\n]?.{0,6}`)).Draw(t, "text")
		a := &result.Analysis{Findings: []result.Finding{{Dataset: "d", Code: "c", Severity: "note", Message: text}}}
		var b bytes.Buffer
		if err := report.Write(&b, a, "findings", report.Options{Format: report.CSV}); err != nil {
			t.Fatal(err)
		}
		rows, err := csv.NewReader(&b).ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		got := rows[1][len(rows[1])-1]
		if needsGuard.MatchString(text) {
			if !strings.HasPrefix(got, "'") {
				t.Fatalf("%q went out unguarded as %q", text, got)
			}
			got = got[1:]
		}
		want := strings.ReplaceAll(text, "\r\n", "\n") // encoding/csv reads line ends so
		if !utf8.ValidString(want) {
			want = strings.ToValidUTF8(want, "\uFFFD")
		}
		if got != want {
			t.Fatalf("%q came back as %q", text, got)
		}
	})
}

// Numbers are never guarded: -12.7 stays -12.7.
func TestNumbersAreNotGuarded(t *testing.T) {
	var b bytes.Buffer
	if err := report.Write(&b, sample(), "comparisons", report.Options{Format: report.CSV}); err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(b.String(), ",-12.7,") {
		t.Errorf("the difference of -12.7 mm is not there as a number:\n%s", b.String())
	}
}
