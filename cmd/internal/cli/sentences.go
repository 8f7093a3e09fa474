package cli

import (
	"strings"

	"sheetwash/api/report/words"
)

// sentences tells in plain words what became of the rain on each treatment.
func (s *summary) sentences() string {
	var b strings.Builder
	for _, name := range s.treatments() {
		if line := words.Water(s.units, name, words.AmountsOf(s.analysis.Treatments, s.scope, name)).String(); line != "" {
			b.WriteString(wrap(line, 79, "  ") + "\n")
		}
	}
	return b.String()
}

// wrap breaks a line at blanks; the lines after the first are indented.
func wrap(line string, width int, indent string) string {
	var out []string
	current := ""
	for _, word := range strings.Fields(line) {
		if current != "" && len([]rune(current))+1+len([]rune(word)) > width {
			out = append(out, current)
			current = indent + word
			continue
		}
		if current == "" {
			current = word
		} else {
			current += " " + word
		}
	}
	return strings.Join(append(out, current), "\n")
}
