package columnar_test

import (
	"context"
	"fmt"
	"os"
	"testing"

	"sheetwash/ingest/columnar"
)

// TestMain lets the test binary decode in a child, and, called as
// "columnar.test reduce FILE", makes it the program that the comparison in
// docs/bench times as a whole process.
func TestMain(m *testing.M) {
	columnar.ChildMain()
	if len(os.Args) == 3 && os.Args[1] == "reduce" {
		sums, err := reduce(context.Background(), os.Args[2], 2)
		if err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		fmt.Println(len(sums))
		return
	}
	if len(os.Args) == 4 && os.Args[1] == "generate" {
		if err := writeReadings(os.Args[2], benchRows, os.Args[3] == "zstd"); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		return
	}
	os.Exit(m.Run())
}
