package acceptance

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"sheetwash/analysis"
	"sheetwash/analysis/rainfall"
	"sheetwash/analysis/result"
	"sheetwash/ingest/rig"
)

// TestGaugeGrids takes the workbook of 21 gauge grids of Hapich (2025) the whole
// way: the uniformity of each sheet is that which the sheet computes, to five
// digits, and so is its mean (mm in 5 min, so 12 times as much in mm/h).
func TestGaugeGrids(t *testing.T) {
	a := analyse(t, "../../../testdata/datasets/catchcan-simulator-xlsx", analysis.DefaultPlan())
	rows := table(t, "../../../testdata/reference/gauge_grids.csv")
	if len(rows) != 22 {
		t.Fatalf("%d grids", len(rows)-1)
	}
	for _, r := range rows[1:] {
		mean, uniformity := parsed(t, r[1]), parsed(t, r[2])
		for _, tt := range []struct {
			metric    result.Metric
			want, tol float64
		}{{result.UniformityChristiansen, 100 * uniformity, 100 * 5.1e-6}, {result.Intensity, 12 * mean, 12 * 5.1e-6}} {
			if v, ok := find(a, r[0], "", tt.metric, ""); !ok || !v.OK || math.Abs(v.V-tt.want) > tt.tol {
				t.Errorf("%s %s = %v, want %v", r[0], tt.metric, v, tt.want)
			}
		}
	}
}

// datasets is the folder that SHEETWASH_DATASETS names: published data whose
// licence does not let them be copied here. Without it the test is skipped.
func datasets(t *testing.T) string {
	t.Helper()
	dir := os.Getenv("SHEETWASH_DATASETS")
	if dir == "" {
		t.Skip("SHEETWASH_DATASETS names no folder with the published data sets: this check is left out")
	}
	return dir
}

// TestIrrigationGrids reproduces the published uniformities of two sprinkler
// tests, whose cans are read from the folder of datasets (catchcan-irrigation, GPL-3).
//
// Solid set: Evans et al. (1997), NC Cooperative Extension AG-553-1, worksheet 1.
// Lateral: Merriam and Keller (1978), form II-1, at 50 ft spacing: catches of
// neighbouring laterals add up. Both take the higher whole number of cans.
func TestIrrigationGrids(t *testing.T) {
	dir := filepath.Join(datasets(t), "catchcan-irrigation")
	var solid []float64
	for _, r := range table(t, filepath.Join(dir, "solid_set_in.csv"))[1:] {
		solid = append(solid, numbersOf(t, r[1:])...)
	}
	compareGrid(t, "solid set", solid, 74.891, 55.217, 75.652)
	var upper, lower []float64
	for k, r := range table(t, filepath.Join(dir, "lateral_in_per_hr.csv"))[1:] {
		v := numbersOf(t, r[1:]) // l4 l3 l2 l1 r1 r2 r3
		row := []float64{v[4], v[5] + v[0], v[6] + v[1], v[2], v[3]}
		if k < 3 {
			upper = append(upper, row...)
		} else {
			lower = append(lower, row...)
		}
	}
	compareGrid(t, "lateral, upper part", upper, 87.036, 82.18, 87.846)
	compareGrid(t, "lateral, lower part", lower, 85.823, 75.00, 87.342)
}

func compareGrid(t *testing.T, name string, catch []float64, cu, quarter, half float64) {
	t.Helper()
	for _, tt := range []struct {
		what string
		f    func() (float64, error)
		want float64
	}{
		{"CU", func() (float64, error) { return rainfall.Christiansen(catch) }, cu},
		{"low quarter", func() (float64, error) { return rainfall.LowQuarter(catch, rainfall.Ceil) }, quarter},
		{"low half", func() (float64, error) { return rainfall.LowHalf(catch, rainfall.Ceil) }, half},
	} {
		if v, err := tt.f(); err != nil || math.Abs(v-tt.want) > 0.0051 {
			t.Errorf("%s, %s: %v, %v; published %v", name, tt.what, v, err, tt.want)
		}
	}
}

// TestDropTables reads the tables of drop sizes of three instruments, tells
// counts from concentrations, and finds drops and energies that rain can have.
// They are excerpts of NASA GPM Ground Validation, IFloodS 2013 and MC3E 2011.
func TestDropTables(t *testing.T) {
	dir := filepath.Join(datasets(t), "dropsize-disdrometer")
	for _, tt := range []struct {
		file          string
		classes       int
		concentration bool
	}{
		{"nasa_gv_ifloods_apu_test.txt", 32, false}, {"apu_nasa_mc3e_dsd.txt", 32, true},
		{"2dvd_nasa_ifloods_rainDSD.txt", 50, true}, {"nasa_gv_mc3e_2dvd_test.txt", 50, true},
	} {
		data, err := os.ReadFile(filepath.Join(dir, tt.file))
		if err != nil {
			t.Fatal(err)
		}
		d, err := rig.ParseDrops(data, nil)
		if err != nil || len(d.Classes) != tt.classes || d.Concentration != tt.concentration {
			t.Errorf("%s: %v classes, concentration %v, %v", tt.file, len(d.Classes), d.Concentration, err)
			continue
		}
		e, err := rainfall.Energy(*d, rainfall.Launch{})
		if err != nil || !(e.MedianMM > 0.3 && e.MedianMM < 4) || !(e.UnitJM2MM > 1 && e.UnitJM2MM < 29) || (e.UUnit > 0) == tt.concentration {
			t.Errorf("%s: %+v, %v", tt.file, e, err)
		}
		t.Logf("%s: median %.2f mm, %.1f J/(m2 mm), u %.2f", tt.file, e.MedianMM, e.UnitJM2MM, e.UUnit)
	}
}

func table(t *testing.T, path string) [][]string {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return rows
}

func parsed(t *testing.T, text string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(text, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func numbersOf(t *testing.T, texts []string) []float64 {
	t.Helper()
	var out []float64
	for _, x := range texts {
		out = append(out, parsed(t, x))
	}
	return out
}
