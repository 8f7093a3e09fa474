package quantity_test

import (
	"math"
	"testing"

	"sheetwash/analysis/quantity"
)

func TestOptional(t *testing.T) {
	for _, v := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
		if quantity.Some(v).OK {
			t.Errorf("Some(%v) is present; it must be missing", v)
		}
	}
	if o := quantity.Some(0); !o.OK || o.Or(7) != 0 {
		t.Errorf("Some(0) = %v; zero is a measurement", o)
	}
	if got := quantity.None().Or(7); got != 7 {
		t.Errorf("None().Or(7) = %v", got)
	}
	if got := quantity.Some(4).Map(math.Sqrt); got != quantity.Some(2) {
		t.Errorf("Map = %v, want 2", got)
	}
	if quantity.None().Map(math.Exp).OK || quantity.Some(-1).Map(math.Sqrt).OK {
		t.Error("missing stays missing, and an undefined value becomes missing")
	}
}
