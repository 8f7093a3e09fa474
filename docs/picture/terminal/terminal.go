// Package terminal draws text as a terminal would show it, as an SVG image.
//
// The command picture and the test that keeps the README's picture in step call
// it. It knows nothing of what the text says.
package terminal

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"strings"
)

// Sizes in pixels of the image.
const (
	fontSize   = 13.0
	charWidth  = 7.83 // of a monospaced font of that size
	lineHeight = 18
	margin     = 16
)

// Summary draws the command of the README and the table that it printed, without
// the sentences below.
func Summary(printed string) []byte {
	const last = "Sediment: "
	if at := strings.Index(printed, "\n"+last); at >= 0 {
		end := strings.IndexByte(printed[at+1:], '\n')
		printed = printed[:at+1+max(end, 0)]
	}
	return SVG("sheetwash analyze testdata/demo-season --out results", printed)
}

// SVG draws a prompt with the command and the text below it. The image says what
// it shows to those who can't see it.
func SVG(command, text string) []byte {
	lines := append([]string{"$ " + command}, strings.Split(strings.Trim(text, "\n"), "\n")...)
	columns := 0
	for _, l := range lines {
		columns = max(columns, len([]rune(l)))
	}
	width, height := int(float64(columns)*charWidth)+2*margin, len(lines)*lineHeight+2*margin
	var b bytes.Buffer
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" width="%d" height="%d" viewBox="0 0 %d %d" role="img" aria-label="Terminal output of %s">`+"\n", width, height, width, height, escaped(command))
	fmt.Fprintf(&b, `<rect width="%d" height="%d" rx="6" fill="#1b1f24"/>`+"\n", width, height)
	fmt.Fprintf(&b, `<g font-family="ui-monospace, SFMono-Regular, Menlo, Consolas, 'DejaVu Sans Mono', monospace" font-size="%v" fill="#e6edf3">`+"\n", fontSize)
	for i, l := range lines {
		if l == "" {
			continue
		}
		fill := ""
		if i == 0 {
			fill = ` fill="#8ddb8c"`
		}
		fmt.Fprintf(&b, `<text x="%d" y="%d" xml:space="preserve" textLength="%.1f"%s>%s</text>`+"\n",
			margin, margin+(i+1)*lineHeight-5, float64(len([]rune(l)))*charWidth, fill, escaped(l))
	}
	b.WriteString("</g>\n</svg>\n")
	return b.Bytes()
}

func escaped(text string) string {
	var b bytes.Buffer
	if err := xml.EscapeText(&b, []byte(text)); err != nil { // a buffer takes everything
		return ""
	}
	return b.String()
}
