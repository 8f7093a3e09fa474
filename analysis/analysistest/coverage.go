package analysistest

import (
	"fmt"
	"slices"
	"strings"
)

// Covered is one point of a picture of a coverage study: how often the intervals of a row held the
// truth, %, in a cell whose size (bottles, cans) shades its dot.
type Covered struct {
	Row     string
	Size    int
	Percent float64
}

// CoveragePicture draws a study as SVG: a line per row in the order of the points, a dot per
// size, darker for more, on the band of 93 to 97 %. Dots below 91 or above 99 % stand at the edge.
func CoveragePicture(sizes string, points []Covered) []byte {
	const left, width, line, low, high = 330, 420, 22, 91.0, 99.0
	x := func(percent float64) float64 { return left + width*(min(max(percent, low), high)-low)/(high-low) }
	var rows []string
	most := 1
	for _, p := range points {
		if !slices.Contains(rows, p.Row) {
			rows = append(rows, p.Row)
		}
		most = max(most, p.Size)
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
	fmt.Fprintf(&b, `<text x="%.1f" y="%d" text-anchor="middle">dots: %s, darker for more</text>`+"\n", x(95), bottom+39, sizes)
	for k, row := range rows {
		fmt.Fprintf(&b, `<text x="%d" y="%d" text-anchor="end">%s</text>`+"\n", left-12, 35+line*k, row)
		for _, p := range points {
			if p.Row == row {
				grey := 190 - 150*p.Size/most
				fmt.Fprintf(&b, `<circle cx="%.1f" cy="%d" r="4" fill="rgb(%d,%d,%d)"/>`+"\n", x(p.Percent), 31+line*k, grey, grey, grey+30)
			}
		}
	}
	b.WriteString("</svg>\n")
	return []byte(b.String())
}
