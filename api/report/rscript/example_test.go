package rscript_test

import (
	"bytes"
	"fmt"
	"strings"

	"sheetwash/analysis/result"
	"sheetwash/api/report/rscript"
)

// The script of an analysis goes beside its exported tables.
func ExampleWrite() {
	var script bytes.Buffer
	if err := rscript.Write(&script, &result.Analysis{}, 0.95); err != nil {
		fmt.Println(err)
		return
	}
	first, _, _ := strings.Cut(script.String(), "\n")
	fmt.Println(rscript.FileName + ": " + first)
	// Output:
	// second_opinion.R: # A second opinion on the treatment results and comparisons of sheetwash.
}
