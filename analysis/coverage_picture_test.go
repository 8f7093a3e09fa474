package analysis_test

import (
	"fmt"
	"os"
	"strings"
	"testing"
)

// covered is one point of the picture: how often the intervals of a value held the truth.
type covered struct {
	value   string
	bottles int
	percent float64
}

// drawCoverage writes the picture of docs/coverage.md: a line per value, a dot per number of
// bottles, darker for more, on the band of 93 to 97 %.
func drawCoverage(t *testing.T, file string, points []covered) {
	t.Helper()
	const left, width, line, low, high = 330, 420, 22, 91.0, 99.0
	x := func(percent float64) float64 { return left + width*(percent-low)/(high-low) }
	var rows []string
	for _, p := range points {
		if len(rows) == 0 || rows[len(rows)-1] != p.value {
			rows = append(rows, p.value)
		}
	}
	bottom := 20 + line*len(rows)
	var b strings.Builder
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" width="780" height="%d" font-family="sans-serif" font-size="12">`+"\n", bottom+45)
	fmt.Fprintf(&b, `<title>Share of 95 %% intervals that hold the truth</title><rect width="780" height="%d" fill="#fff"/>`+"\n", bottom+45)
	fmt.Fprintf(&b, `<rect x="%.1f" y="15" width="%.1f" height="%d" fill="#e8eef4"/>`+"\n", x(93), x(97)-x(93), bottom-10)
	fmt.Fprintf(&b, `<path d="M%.1f 15V%d" stroke="#7890a8"/>`+"\n", x(95), bottom+5)
	for p := 92; p <= 98; p++ {
		fmt.Fprintf(&b, `<text x="%.1f" y="%d" text-anchor="middle">%d %%</text>`+"\n", x(float64(p)), bottom+22, p)
	}
	fmt.Fprintf(&b, `<text x="%.1f" y="%d" text-anchor="middle">dots: 6, 8, 12, 20, 30 bottles, darker for more</text>`+"\n", x(95), bottom+39)
	row := -1
	for _, p := range points {
		if row < 0 || rows[row] != p.value {
			row++
			fmt.Fprintf(&b, `<text x="%d" y="%d" text-anchor="end">%s</text>`+"\n", left-12, 35+line*row, p.value)
		}
		grey := 190 - 5*p.bottles
		fmt.Fprintf(&b, `<circle cx="%.1f" cy="%d" r="4" fill="rgb(%d,%d,%d)"/>`+"\n", x(p.percent), 31+line*row, grey, grey, grey+30)
	}
	b.WriteString("</svg>\n")
	if err := os.WriteFile(file, []byte(b.String()), 0o644); err != nil {
		t.Fatal(err)
	}
}
