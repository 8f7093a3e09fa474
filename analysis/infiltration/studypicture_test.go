package infiltration_test

import (
	"math"
)

// studied is one point of the picture of docs/coverage.md.
type studied struct {
	soil, form   string
	bottles      int
	intensityRel float64
	percent      float64
}

func sqrt(n int) float64 { return math.Sqrt(float64(n)) }

func drawStudy(points []studied) []byte { return nil }
