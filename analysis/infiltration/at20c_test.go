package infiltration_test

import (
	"errors"
	"math"
	"testing"

	"sheetwash/analysis/infiltration"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
	"sheetwash/analysis/water"
)

// Korson et al. 1969: water of 10 Cel is 1.64 times as viscous as water of 30 Cel;
// 1.3059 mPa s at 10 and 1.0020 at 20 Cel.
func TestAt20C(t *testing.T) {
	raw := result.Estimate{Value: quantity.Some(20), U: quantity.Some(1), Low: quantity.Some(18), High: quantity.Some(22), UShared: quantity.Some(0.5)}
	at := func(tC, uTC float64) result.Estimate {
		e, err := infiltration.At20C(raw, tC, uTC)
		if err != nil {
			t.Fatal(err)
		}
		return e
	}
	cold, warm := at(10, 0), at(30, 0)
	if got := cold.Value.V / warm.Value.V; math.Abs(got-1.64) > 0.005 {
		t.Errorf("10 to 30 Cel: %v, want 1.64", got)
	}
	if want := 20 * 1.3059 / 1.0020; math.Abs(cold.Value.V-want) > 2e-3*want {
		t.Errorf("at 10 Cel %v, want %v", cold.Value.V, want)
	}
	if got := at(20, 0); got.Value.V != 20 || got.Low.V != 18 || got.High.V != 22 || got.U.V != 1 || got.UShared.V != 0.5 {
		t.Errorf("at 20 Cel %+v, want the raw rate", got)
	}
	// Close to 20 Cel viscosity falls by 2.4 % per Cel: 2 Cel are 0.96 of 20 mm/h.
	if got, want := at(20, 2).U.V, math.Hypot(1, 0.96); math.Abs(got-want) > 0.02 {
		t.Errorf("u %v, want %v", got, want)
	}
	if got := at(20, 2); math.Abs((got.High.V-20)/2-got.U.V) > 1e-9 {
		t.Errorf("limit %v does not widen with u %v", got.High.V, got.U.V)
	}
	if _, err := infiltration.At20C(raw, 80, 0); !errors.Is(err, water.ErrTemperature) {
		t.Errorf("at 80 Cel: error %v", err)
	}
	bound := result.Estimate{Value: quantity.Some(60), Low: quantity.Some(58), Censored: result.Right}
	if e, err := infiltration.At20C(bound, 10, 1); err != nil || e.High.OK || e.Censored != result.Right || e.Value.V <= 60 {
		t.Errorf("a bound became %+v, %v", e, err)
	}
}
