package units_test

import (
	"errors"
	"fmt"
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"

	"sheetwash/analysis/quantity"
	"sheetwash/ingest/units"
)

var (
	summer = time.FixedZone("+01:00", 3600)
	start  = time.Date(2031, 5, 14, 10, 5, 0, 0, summer)
	late   = time.Date(2031, 5, 14, 23, 50, 0, 0, summer)
)

func TestTime(t *testing.T) {
	min, sec := quantity.MustParse("min"), quantity.MustParse("s")
	elapsed := units.TimeRule{Unit: min}
	day := units.TimeRule{Unit: min, Start: start, Started: true}
	clock := units.TimeRule{Unit: min, Start: start, Started: true, Clock: true}
	night := units.TimeRule{Unit: min, Start: late, Started: true, Clock: true}
	for _, tt := range []struct {
		name, cell string
		rule       units.TimeRule
		want       float64
	}{
		{"a number in the column's unit", "12.5", elapsed, 12.5},
		{"seconds", "90", units.TimeRule{Unit: sec}, 1.5},
		{"a decimal comma", "12,5", units.TimeRule{Unit: min, DecimalComma: true}, 12.5},
		{"a number with its unit", "90 s", elapsed, 1.5},
		{"and without a blank", "90s", elapsed, 1.5},
		{"hours", "1.5 h", elapsed, 90},
		{"zero", "0", elapsed, 0},
		{"mm:ss", "2:30", elapsed, 2.5},
		{"mm:ss with a leading zero", "02:30", elapsed, 2.5},
		{"mm:ss with decimals", "2:30.6", elapsed, 2.51},
		{"mm:ss with a comma", "2:30,6", elapsed, 2.51},
		{"more than an hour in mm:ss", "90:00", elapsed, 90},
		{"two parts are elapsed even where the start is known", "10:05", day, 10 + 5.0/60},
		{"h:mm:ss", "1:02:30", elapsed, 62.5},
		{"three parts are elapsed too", "0:10:05", day, 10 + 5.0/60},
		{"h:mm:ss with decimals", "0:00:01.5", elapsed, 0.025},
		{"before the rain", "-0:30", elapsed, -0.5},
		{"a declared clock", "10:15", clock, 10},
		{"with seconds", "10:15:30", clock, 10.5},
		{"in the morning by its mark", "10:15 am", day, 10},
		{"in the afternoon", "1:05 PM", day, 180},
		{"noon", "12:05 p.m.", day, 120},
		{"with a zone", "09:15Z", day, 10},
		{"with an offset", "11:15+02:00", day, 10},
		{"by ISO 8601's mark", "T10:15", day, 10},
		{"past midnight", "00:10", night, 20},
		{"just before the rain", "10:00", clock, -5},
		{"the end of the day before", "23:55", units.TimeRule{Unit: min, Start: time.Date(2031, 5, 14, 0, 5, 0, 0, summer), Started: true, Clock: true}, -10},
		{"a stamp", "2031-05-14T10:35:00+01:00", day, 30},
		{"a stamp of another zone", "2031-05-14T09:35:00Z", day, 30},
		{"a stamp in the zone of the start", "2031-05-14 10:35", day, 30},
		{"with decimals of seconds", "2031-05-14T10:05:01.5", day, 0.025},
		{"a stamp past midnight", "2031-05-15T00:10:00+01:00", night, 20},
		{"basic format", "20310514T103500+0100", day, 30},
	} {
		t.Run(tt.name, func(t *testing.T) {
			got, err := units.Time(tt.cell, tt.rule)
			if err != nil || math.Abs(got-tt.want) > 1e-12 {
				t.Errorf("Time(%q) = %v, %v; want %v", tt.cell, got, err, tt.want)
			}
		})
	}
}

func TestTimeRefuses(t *testing.T) {
	rule := units.TimeRule{Unit: quantity.MustParse("min"), Start: start, Started: true}
	for _, cell := range []string{
		"", "  ", "none", "abc", "1:2", "1:60", "1:99:00", "1:00:60", "1:2:3:4", ":30", "3:", "1:-2", "--1:00", "NaN", "inf", "0x10", "1_000",
		"1:00 xm", "13:00 pm", "0:30 am", "25:00Z", "2031-05-14", "2031-02-30T10:00:00Z", "2031-05-14T25:00", "5 mm", "5 furlongs", "12345:00", "1:0a", "1:00.", "10.5:00",
	} {
		if v, err := units.Time(cell, rule); !errors.Is(err, units.ErrTime) {
			t.Errorf("Time(%q) = %v, %v; want ErrTime", cell, v, err)
		}
	}
	for _, cell := range []string{"10:05 am", "10:05Z", "2031-05-14T10:35:00Z", "T10:05"} {
		if _, err := units.Time(cell, units.TimeRule{Unit: quantity.MustParse("min")}); !errors.Is(err, units.ErrNoStart) {
			t.Errorf("Time(%q) without a start: %v; want ErrNoStart", cell, err)
		}
	}
	if _, err := units.Time("5", units.TimeRule{Unit: quantity.MustParse("mm")}); !errors.Is(err, quantity.ErrDimension) {
		t.Errorf("a column of times in mm: %v", err)
	}
}

// Any number of whole seconds is the same as a number, as mm:ss, as h:mm:ss, as
// a clock time and as a stamp.
func TestTimeForms(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.IntRange(0, 6*3600).Draw(t, "seconds")
		begin := start.Add(time.Duration(rapid.IntRange(0, 86400).Draw(t, "start")) * time.Second)
		at := begin.Add(time.Duration(s) * time.Second)
		rule := units.TimeRule{Unit: quantity.MustParse("s"), Start: begin, Started: true}
		want := float64(s) / 60
		for _, cell := range []string{
			fmt.Sprint(s), fmt.Sprintf("%d:%02d", s/60, s%60), fmt.Sprintf("%d:%02d:%02d", s/3600, s/60%60, s%60),
			at.Format(time.RFC3339), at.UTC().Format("2006-01-02 15:04:05Z07:00"), at.Format("3:04:05 PM"), at.UTC().Format("15:04:05Z"),
		} {
			if got, err := units.Time(cell, rule); err != nil || math.Abs(got-want) > 1e-9 {
				t.Fatalf("Time(%q) from %v = %v, %v; want %v", cell, begin, got, err, want)
			}
		}
		rule.Clock = true
		if got, err := units.Time(at.Format("15:04:05"), rule); err != nil || math.Abs(got-want) > 1e-9 {
			t.Fatalf("clock %v from %v = %v, %v; want %v", at, begin, got, err, want)
		}
	})
}

func TestStamp(t *testing.T) {
	for cell, want := range map[string]time.Time{
		"2031-05-14T10:05:00+01:00": start, "2031-05-14 10:05": start, "2031-05-14T09:05Z": start, "2031-05-14": time.Date(2031, 5, 14, 0, 0, 0, 0, summer),
	} {
		if got, err := units.Stamp(cell, summer); err != nil || !got.Equal(want) {
			t.Errorf("Stamp(%q) = %v, %v; want %v", cell, got, err, want)
		}
	}
	for _, cell := range []string{"", "14.05.2031", "05/14/2031", "2031-13-01", "45784", "10:05", "0001-01-01", "2031-05-14T"} {
		if got, err := units.Stamp(cell, nil); !errors.Is(err, units.ErrTime) {
			t.Errorf("Stamp(%q) = %v, %v; want ErrTime", cell, got, err)
		}
	}
}

func FuzzTime(f *testing.F) {
	for _, s := range []string{"12.5", "90 s", "1:02:30", "10:05 am", "2031-05-14T10:05:30+01:00", "-0:30", "٣:٠٠", "1e400", "T", ":", "2031-05-14 "} {
		f.Add(s, true)
		f.Add(s, false)
	}
	f.Fuzz(func(t *testing.T, cell string, clock bool) {
		v, err := units.Time(cell, units.TimeRule{Unit: quantity.MustParse("min"), Start: start, Started: true, Clock: clock})
		if err == nil && (math.IsNaN(v) || math.IsInf(v, 0)) {
			t.Fatalf("Time(%q) = %v", cell, v)
		}
		if err != nil && !errors.Is(err, units.ErrTime) {
			t.Fatalf("Time(%q): %v is not ErrTime", cell, err)
		}
	})
}
