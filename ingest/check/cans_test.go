package check_test

import (
	"slices"
	"testing"

	"sheetwash/ingest/check"
	"sheetwash/ingest/issue"
)

const soundCans = `calibration,simulator,x,y,volume,depth,can_area,can_diameter,duration,pressure
C,trailer-1,30,40,100,,78.5,,10,48
C,trailer-1,60,40,,12.7,,,10,48`

func TestCans(t *testing.T) {
	for _, tt := range []struct {
		code     issue.Code
		old, new string
		row      int64
	}{
		{check.CanNoDepth, "60,40,,12.7", "60,40,,", 3},
		{check.CanNoSize, "100,,78.5", "100,,", 2},
		{check.CanDisagrees, "100,,78.5,,", "100,,78.5,12,", 2},
		{check.CanDisagrees, "100,,78.5", "100,127,78.5", 2},
		{check.CanDuration, "12.7,,,10", "12.7,,,0", 3},
		{check.CanSingle, "C,trailer-1,60", "D,trailer-1,60", 2},
		{check.CanMixed, "C,trailer-1,60", "C,trailer-2,60", 3},
		{check.KeyMissing, "C,trailer-1,60", ",trailer-1,60", 3},
		{check.NumberNegative, "12.7", "-12.7", 3},
		{check.PressureOdd, "12.7,,,10,48", "12.7,,,10,0.048", 3},
	} {
		s := sound
		s.cans = soundCans
		s = s.with(t, tt.old, tt.new)
		found := run(t, s.draft(t))
		if !slices.ContainsFunc(found, func(i issue.Issue) bool { return i.Code == tt.code && i.Table == "cans" && i.Row == tt.row }) {
			t.Errorf("%s: no finding in row %d: %v", tt.code, tt.row, found)
		}
	}
}

// TestCanDepth: a volume of 100 mL in a mouth of 78.5 cm2 is 1.2739 cm; in a
// mouth 10 cm across, of 25 pi cm2, it is 4/pi cm.
func TestCanDepth(t *testing.T) {
	s := sound
	s.cans = "calibration,volume,can_area,can_diameter,duration\nC,100,78.5,,10\nC,100,,10,10\nC,100,,,10"
	d := s.draft(t)
	for i, want := range []float64{1000 / 78.5, 12.732395447351628} {
		if got, ok := check.CanDepth(d, i, false); !ok || got < want-1e-12 || got > want+1e-12 {
			t.Errorf("depth of can %d = %v, %v, want %v mm", i, got, ok, want)
		}
	}
	if _, ok := check.CanDepth(d, 2, false); ok {
		t.Error("a can without a size has a depth")
	}
}
