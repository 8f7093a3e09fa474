package units_test

import (
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"sheetwash/ingest/units"
)

var known = []string{"run", "volume", "rain_duration", "duration", "runoff_start", "slope", "intensity", "end"}

func isKnown(n string) bool { return slices.Contains(known, n) }

func TestSplit(t *testing.T) {
	for _, tt := range []struct {
		header, name, unit string
		bracketed, known   bool
	}{
		{"volume", "volume", "", false, true},
		{"volume [mL]", "volume", "mL", true, true},
		{"volume (mL)", "volume", "mL", true, true},
		{"Volume(mL)", "volume", "mL", true, true},
		{"volume_mL", "volume", "mL", false, true},
		{"volume.mL", "volume", "mL", false, true},
		{"volume mL", "volume", "mL", false, true},
		{"volume/mL", "volume", "mL", false, true},
		{"volume, mL", "volume", "mL", false, true},
		{"VOLUME [mL]", "volume", "mL", true, true},
		{" volume  [ mL ] ", "volume", "mL", true, true},
		{"volume [[gal_us]]", "volume", "[gal_us]", true, true},
		{"intensity [[in_i]/h]", "intensity", "[in_i]/h", true, true},
		{"intensity (mm h-1)", "intensity", "mm h-1", true, true},
		{"intensity mm h-1", "intensity", "mm h-1", false, true},
		{"intensity_mm_h", "intensity", "mm_h", false, true},
		{"volume []", "volume", "", false, true},
		{"rain_duration", "rain_duration", "", false, true},
		{"Rain duration", "rain_duration", "", false, true},
		{"rain-duration", "rain_duration", "", false, true},
		{"rain.duration.min", "rain_duration", "min", false, true},
		{"rain_duration_min", "rain_duration", "min", false, true},
		{"runoff_start [s]", "runoff_start", "s", true, true},
		{"slope%", "slope", "%", false, true},
		{"slope °", "slope", "°", false, true},
		{"slope_class", "slope", "class", false, true}, // whether class is a unit, Resolve says
		{"rain", "rain", "", false, false},
		{"nitrate [mg/L]", "nitrate", "mg/L", true, false},
		{"[mL]", "[ml]", "", false, false},
		{"", "", "", false, false},
		{"a)", "a)", "", false, false},
		{"a]b]", "a]b]", "", false, false},
	} {
		h, ok := units.Split(tt.header, isKnown)
		if want := (units.Header{Name: tt.name, Unit: tt.unit, Bracketed: tt.bracketed}); h != want || ok != tt.known {
			t.Errorf("Split(%q) = %+v, %v; want %+v, %v", tt.header, h, ok, want, tt.known)
		}
	}
}

func FuzzSplit(f *testing.F) {
	for _, s := range []string{"volume [mL]", "volume_mL", "slope%", "volume [[x]]", "]", "volume (", "é (", "volume \xc2", "\ufeffvolume", "-\ufeffv", "-\u2003v"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, header string) {
		h, ok := units.Split(header, isKnown)
		if ok && !isKnown(h.Name) {
			t.Fatalf("Split(%q) = %+v, which is no known column", header, h)
		}
		if units.Normalise(h.Name) != h.Name && utf8.ValidString(header) {
			t.Fatalf("Split(%q) = %q, which is not in its normal form", header, h.Name)
		}
		if h.Unit != "" && !strings.Contains(header, h.Unit) {
			t.Fatalf("Split(%q): unit %q does not stand there", header, h.Unit)
		}
	})
}
