package inference_test

import (
	"math"
	"testing"

	"sheetwash/analysis/inference"
)

// Four plots against four, of which two never ran off.
func BenchmarkCensoredRatio(b *testing.B) {
	inf := math.Inf(1)
	x := []inference.Bounds{{Low: 30, High: inf}, {Low: 21, High: 21}, {Low: 30, High: inf}, {Low: 26, High: 26}}
	y := []inference.Bounds{{Low: 8, High: 8}, {Low: 13, High: 13}, {Low: 11, High: 11}, {Low: 17, High: 17}}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := inference.CensoredRatio(x, y, 0.95); err != nil {
			b.Fatal(err)
		}
	}
}
