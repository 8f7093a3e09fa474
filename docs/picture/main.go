// Command picture draws what a command printed on a terminal as an SVG image,
// for the README:
//
//	go run ./cmd/sheetwash analyze testdata/demo-season --dry-run \
//		| go run ./docs/picture > docs/img/summary.svg
//
// The sentences below the table are left out.
package main

import (
	"fmt"
	"io"
	"os"

	"sheetwash/docs/picture/terminal"
)

func main() {
	text, err := io.ReadAll(os.Stdin)
	if err == nil {
		_, err = os.Stdout.Write(terminal.Summary(string(text)))
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, "picture:", err)
		os.Exit(1)
	}
}
