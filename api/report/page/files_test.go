package page

import (
	"strings"
	"testing"
)

// File names of pages are letters, digits and hyphens, and differ.
func TestPageNames(t *testing.T) {
	for name, want := range map[string]string{"event-Pell Farm": "event-pell-farm", "run-../../etc/passwd": "run-etc-passwd", "event-": "event", "event-<b>É\u202e": "event-b", "run-" + strings.Repeat("x", 300): "run-" + strings.Repeat("x", 56)} {
		if got := slug(name); got != want {
			t.Errorf("slug(%q) = %q, want %q", name, got, want)
		}
	}
}
