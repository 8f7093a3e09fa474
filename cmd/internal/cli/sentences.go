package cli

import (
	"fmt"
	"strings"

	"sheetwash/analysis/result"
	"sheetwash/api/report"
)

// Amounts of water and soil over an area, for sentences. One inch of water on an
// acre is 27 154 US gallons; 1 g/m2 is 0.01 t/ha.
const (
	gallonsPerAcreInch = 27154.2857
	tonnesPerHaPerGM2  = 0.01
	litresPerM2PerMM   = 1
)

// sentences tells in plain words what became of the rain on each treatment.
func (s *summary) sentences() string {
	var b strings.Builder
	for _, name := range s.treatments() {
		if line := s.sentence(name); line != "" {
			b.WriteString(wrap(line, 79, "  ") + "\n")
		}
	}
	return b.String()
}

// sentence is empty where rain or runoff is not known.
func (s *summary) sentence(treatment string) string {
	rain, ok1 := s.headline(treatment, result.RainDepth)
	runoff, ok2 := s.headline(treatment, result.RunoffDepth)
	if !ok1 || !ok2 || !rain.Value.OK || !runoff.Value.OK {
		return ""
	}
	soil := ""
	if loss, ok := s.headline(treatment, result.SoilLoss); ok && loss.Value.OK && runoff.Value.V > 0 {
		soil = s.soil(loss.Value.V)
	}
	r, word, err := s.units.Convert(rain.Value.V, "mm")
	if err != nil {
		return ""
	}
	q, _, err := s.units.Convert(runoff.Value.V, "mm")
	if err != nil {
		return ""
	}
	if runoff.Value.V == 0 {
		return fmt.Sprintf("%s: of %s %s of rain nothing ran off.", treatment, depth(r), word)
	}
	return fmt.Sprintf("%s: of %s %s of rain %s %s ran off, %s%s.", treatment, depth(r), word, depth(q), word, s.water(runoff.Value.V), soil)
}

// depth writes a depth as it is spoken of: one decimal below 10, none above, two
// below a tenth.
func depth(v float64) string {
	switch {
	case v >= 9.95:
		return fmt.Sprintf("%.0f", v)
	case v >= 0.095:
		return fmt.Sprintf("%.1f", v)
	}
	return fmt.Sprintf("%.2f", v)
}

// water is an amount of runoff over the land.
func (s *summary) water(mm float64) string {
	if s.units == report.US {
		in, _, err := s.units.Convert(mm, "mm")
		if err != nil {
			return ""
		}
		return grouped(in*gallonsPerAcreInch) + " gallons per acre"
	}
	return significant(mm*litresPerM2PerMM, 2) + " litres per square metre"
}

// soil is an amount of sediment lost over the land.
func (s *summary) soil(gM2 float64) string {
	if s.units == report.US {
		tons, _, err := s.units.Convert(gM2, "g/m2")
		if err != nil {
			return ""
		}
		return ", and took " + significant(tons, 2) + " tons of sediment per acre with it"
	}
	return ", and took " + significant(gM2*tonnesPerHaPerGM2, 2) + " tonnes of sediment per hectare with it"
}

// grouped writes a large number with two significant digits and commas between
// thousands.
func grouped(v float64) string {
	digits := figure(v, 2)
	whole, rest, _ := strings.Cut(digits, ".")
	for i := len(whole) - 3; i > 0; i -= 3 {
		whole = whole[:i] + "," + whole[i:]
	}
	if rest != "" {
		whole += "." + rest
	}
	return whole
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
