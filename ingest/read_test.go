package ingest_test

import (
	"context"
	"errors"
	"math"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"sheetwash/analysis/experiment"
	"sheetwash/analysis/quantity"
	"sheetwash/ingest"
	"sheetwash/ingest/check"
	"sheetwash/ingest/issue"
)

// accepted reads a folder that must be accepted.
func accepted(t *testing.T, files map[string]string) *ingest.Outcome {
	t.Helper()
	o := readOnly(t, tree(t, files), ingest.Options{Workers: 2})
	if o.Dataset == nil {
		t.Fatalf("refused:%s", list(o.Issues))
	}
	return o
}

// full is a dataset with everything that its tables may say.
var full = map[string]string{
	"day/runs.csv": "run,season,site,crew,simulator,started,intensity [in/h],rain_duration [min],sequence,pressure [psi],water_temperature [degF],indoor,water_source,subtract_blank,note\n" +
		"B,2031,Ashlock Mill,amber,trailer-1,2031-05-14T10:05:00+01:00,3,30,dry,7,64.4,no,rain tank,TRUE,windy\n" +
		"A,2031,Ashlock Mill,amber,trailer-1,2031-05-14T12:05:00+01:00,3,30,wet,,,,,,\n",
	"day/plots.csv": "run,plot,treatment,area [m2],area_kind,slope,replicate,position,cover,cover_kind,land_use,soil,initial_water,runoff_start,ponding_start,exclude,exclude_reason,block,orchard\n" +
		"B,2, meadow fescue ley ,0.75,surface,75 %,1,P2,80,living grass,meadow,silt loam,22,6:30,4,no,,,12\n" +
		"B,10,barley stubble disked in,0.75,horizontal,1-3 %,1,P1,,,,,,NONE,,yes,trampled,b1,\n" +
		"A,2,meadow fescue ley,0.75,,,,,,,,,,,,,,,\n",
	"day/samples.csv": "run,plot,stream,start [s],end [s],volume [L],gross_mass,tare_mass,sediment_mass,turbidity,water_temperature,flag,exclude,exclude_reason,analyte_nitrate [mg/L]\n" +
		"B,2,runoff,600,1200,2.5,,,4.5,120,18,,,,3.5\n" +
		"B,2,Runoff,300,600,0.5,,,,,,OVERFLOW,,,\n" +
		"B,2,drainage,0,1200,0.1,,,,,,,1,spilt by a visitor,\n" +
		"B,,blank,,,,,,0.02,,,,,,\n" +
		"B,2,remainder,,,,1000,400,1.25,,,,,,\n" +
		"A,2,runoff,2031-05-14T12:05:00+01:00,2031-05-14T12:15:30+01:00,,,,,,,lost,,,\n",
	"day/cans.csv":     "calibration,simulator,date,x,y,position,volume,can_diameter [in],duration,pressure\nC-1,trailer-1,2031-05-13,30,40,P1,100,4,10,48\nC-1,trailer-1,2031-05-13,60,40,P2,101,4,10,48\n",
	"day/readings.csv": "run,plot,time,channel,value\nB,10,60,drainage_mass,2\nB,,0,pressure,48\nB,10,0,drainage_mass,0\n",
}

// TestRuns compares the runs of full field by field: 3 in/h are 76.2 mm/h, 64.4
// degrees Fahrenheit 18 Celsius, and 7 psi 48.263301052178527 kPa.
func TestRuns(t *testing.T) {
	runs := accepted(t, full).Dataset.Runs()
	if len(runs) != 2 || runs[0].ID != "A" || runs[1].ID != "B" {
		t.Fatalf("runs are not ordered by identifier: %+v", runs)
	}
	got := runs[1]
	if len(got.Plots) != 2 || got.Plots[0].ID != "10" || got.Plots[1].ID != "2" {
		t.Errorf("plots are not ordered by identifier: %+v", got.Plots)
	}
	if len(got.Series) != 1 || got.Series[0].Channel != experiment.Pressure {
		t.Errorf("series of the run: %+v", got.Series)
	}
	if len(got.Blanks) != 1 || got.Blanks[0].SedimentG.V != 0.02 {
		t.Errorf("blanks of the run: %+v", got.Blanks)
	}
	if s := got.Plots[0].Series; len(s) != 1 || s[0].Channel != experiment.DrainageMass || s[0].N != 2 || s[0].Last != 2 {
		t.Errorf("series of plot 10: %+v", s)
	}
	if k := got.PressureKPa.V; math.Abs(k-48.263301052178527) > 1e-12 {
		t.Errorf("pressure %v kPa", k)
	}
	if c := got.WaterTempC.V; math.Abs(c-18) > 1e-12 {
		t.Errorf("water temperature %v Cel", c)
	}
	if want := time.Date(2031, 5, 14, 9, 5, 0, 0, time.UTC); !got.Started.Equal(want) {
		t.Errorf("started %v, want %v", got.Started, want)
	}
	got.Plots, got.Blanks, got.Series, got.PressureKPa, got.WaterTempC, got.Started = nil, nil, nil, quantity.None(), quantity.None(), time.Time{}
	want := experiment.Run{
		ID: "B", Event: "day", Season: "2031", Site: "Ashlock Mill", Crew: "amber", Simulator: "trailer-1", Sequence: "dry",
		IntensityMMH: quantity.Some(76.2), RainMin: 30, WaterSource: "rain tank", Note: "windy", SubtractBlank: true,
		Place: experiment.Place{File: "runs.csv", Row: 2},
	}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("run B = %+v\nwant    %+v", got, want)
	}
}

// TestPlots: an area of 0.75 m2 along a slope of 75 % (3 in 4) has the
// horizontal projection 0.75 times 4/5; the class 1-3 % is 2 % with the standard
// uncertainty 2 %/sqrt(12).
func TestPlots(t *testing.T) {
	runs := accepted(t, full).Dataset.Runs()
	meadow, stubble, repeat := runs[1].Plots[1], runs[1].Plots[0], runs[0].Plots[0]
	if got := meadow.AreaM2; math.Abs(got-0.6) > 1e-15 {
		t.Errorf("projected area %v m2, want 0.6", got)
	}
	if got := stubble.USlope; math.Abs(got-0.02/math.Sqrt(12)) > 1e-15 {
		t.Errorf("uncertainty of the slope class %v", got)
	}
	if got := repeat; got.Onset != experiment.OnsetNotNoted || got.ExperimentalUnit != "day/2" || meadow.ExperimentalUnit != "day/2" || stubble.ExperimentalUnit != "" {
		t.Errorf("repeated plot: %+v", got)
	}
	if got := stubble.Slope.V; math.Abs(got-0.02) > 1e-15 {
		t.Errorf("slope class at %v, want its midpoint 0.02", got)
	}
	stubble.USlope, stubble.Slope = 0, quantity.None()
	if want := (experiment.Plot{
		ID: "10", Treatment: "barley stubble disked in", Replicate: "1", Position: "P1", Block: "b1", AreaM2: 0.75,
		Onset: experiment.OnsetNone, Exclude: true, ExcludeReason: "trampled", Samples: []experiment.Sample{}, Series: stubble.Series,
		Place: experiment.Place{File: "plots.csv", Row: 3},
	}); !reflect.DeepEqual(stubble, want) {
		t.Errorf("plot 10 = %+v\nwant      %+v", stubble, want)
	}
	meadow.Samples, meadow.AreaM2 = nil, 0
	if want := (experiment.Plot{
		ID: "2", Treatment: "meadow fescue ley", Replicate: "1", Position: "P2", ExperimentalUnit: "day/2", Slope: quantity.Some(0.75),
		CoverPct: quantity.Some(80), CoverKind: "living grass", LandUse: "meadow", Soil: "silt loam", InitialWaterPct: quantity.Some(22),
		Onset: experiment.OnsetNoted, OnsetMin: 6.5, PondingMin: quantity.Some(4), Covariates: []experiment.Covariate{{Name: "orchard", Value: "12"}},
		Place: experiment.Place{File: "plots.csv", Row: 2},
	}); !reflect.DeepEqual(meadow, want) {
		t.Errorf("plot 2 = %+v\nwant     %+v", meadow, want)
	}
}

// TestSamples asks for the order by stream, start and end, and for readings as they stand.
func TestSamples(t *testing.T) {
	runs := accepted(t, full).Dataset.Runs()
	at := func(row int64) experiment.Place { return experiment.Place{File: "samples.csv", Row: row} }
	want := []experiment.Sample{
		{Stream: experiment.Runoff, Flag: experiment.FlagOverflow, StartMin: 5, EndMin: 10, VolumeML: quantity.Some(500), SedimentPending: true, Place: at(3)},
		{Stream: experiment.Runoff, StartMin: 10, EndMin: 20, VolumeML: quantity.Some(2500), SedimentG: quantity.Some(4.5), TurbidityNTU: quantity.Some(120),
			WaterTempC: quantity.Some(18), Analytes: []experiment.Analyte{{Name: "nitrate", Value: 3.5, Unit: "mg/L"}}, Place: at(2)},
		{Stream: experiment.Drainage, EndMin: 20, VolumeML: quantity.Some(100), Exclude: true, ExcludeReason: "spilt by a visitor", SedimentPending: true, Place: at(4)},
		{Stream: experiment.Remainder, GrossG: quantity.Some(1000), TareG: quantity.Some(400), SedimentG: quantity.Some(1.25), Place: at(6)},
	}
	if got := runs[1].Plots[1].Samples; !reflect.DeepEqual(got, want) {
		t.Errorf("samples of plot 2 = %+v\nwant                %+v", got, want)
	}
	lost := runs[0].Plots[0].Samples[0]
	if lost.StartMin != 0 || lost.EndMin != 10.5 || lost.Flag != experiment.FlagLost || lost.VolumeML.OK {
		t.Errorf("the lost bottle, timed by stamps: %+v", lost)
	}
}

// TestCalibration: 100 mL in a can 4 in across: 100/(pi 5.08^2) cm = 12.334... mm.
func TestCalibration(t *testing.T) {
	cans := accepted(t, full).Dataset.Cans()
	if len(cans) != 2 {
		t.Fatalf("%d cans", len(cans))
	}
	got := cans[0]
	if want := 1000 / (math.Pi * 5.08 * 5.08); math.Abs(got.DepthMM-want) > 1e-12 {
		t.Errorf("depth %v mm, want %v", got.DepthMM, want)
	}
	got.DepthMM = 0
	if want := (experiment.Can{
		Calibration: "C-1", Simulator: "trailer-1", Position: "P1", Date: time.Date(2031, 5, 13, 0, 0, 0, 0, time.UTC), XCM: quantity.Some(30), YCM: quantity.Some(40),
		DurationMin: 10, PressureKPa: quantity.Some(48), Place: experiment.Place{File: "cans.csv", Row: 2},
	}); !reflect.DeepEqual(got, want) {
		t.Errorf("can = %+v\nwant  %+v", got, want)
	}
}

// TestWorkers asks for the same outcome with any number of workers and on re-runs.
func TestWorkers(t *testing.T) {
	dir := t.TempDir()
	writeSeason(t, dir, 400, 30)
	var want *ingest.Outcome
	for _, workers := range []int{1, 2, 5, 1} {
		o := readOnly(t, dir, ingest.Options{Workers: workers})
		if want == nil {
			want = o
			if o.Rows != 400/10+400+400*30 {
				t.Errorf("%d rows", o.Rows)
			}
			continue
		}
		if !reflect.DeepEqual(o, want) {
			t.Errorf("with %d workers the outcome differs", workers)
		}
	}
}

// TestJoined reads one table in which clock times stand beside the start of their run.
func TestJoined(t *testing.T) {
	o := accepted(t, map[string]string{"d/day.csv": "run,started,rain_duration [min],intensity [mm/h],plot,treatment,area [m2],runoff_start,stream,end,volume [mL]\n" +
		"R1,2031-05-14T10:05:00Z,30,76,1,oak-wood litter,0.75,10:09:30 am,runoff,10:15 am,700\n" +
		"R1,2031-05-14T10:05:00Z,30,76,1,oak-wood litter,0.75,10:09:30 am,runoff,2031-05-14T10:35:00Z,4000\n" +
		"R1,,30,76,1,,0.75,,drainage,30,400\n" +
		"R1,2031-05-14T10:05:00Z,30,76,,,,,blank,,\n"})
	if o.Rows != 4 {
		t.Errorf("%d rows, want 4", o.Rows)
	}
	run := o.Dataset.Runs()[0]
	p := run.Plots[0]
	if run.IntensityMMH.V != 76 || p.IntensityMMH.OK {
		t.Errorf("intensity of the run %v and of the plot %v, want it with the run", run.IntensityMMH, p.IntensityMMH)
	}
	if p.OnsetMin != 4.5 || len(p.Samples) != 3 || p.Samples[0].EndMin != 10 || p.Samples[1].StartMin != 10 || p.Samples[1].EndMin != 30 || len(run.Blanks) != 1 {
		t.Errorf("%+v", p)
	}
	for _, code := range []issue.Code{ingest.EventDefault, ingest.RunIntensity, check.StartDefault} {
		if !slices.ContainsFunc(o.Issues, func(i issue.Issue) bool { return i.Code == code && i.Severity == issue.Note }) {
			t.Errorf("%s is not noted", code)
		}
	}
}

// TestDurations: a duration may be a number, h:mm:ss, mm:ss or a number with a
// unit of its own, and no time of day.
func TestDurations(t *testing.T) {
	for cell, want := range map[string]float64{"30": 30, "0:30:00": 30, "30:00": 30, "90:30": 90.5, "1800 s": 30, "0.5 h": 30} {
		o := accepted(t, dataset("d", "runs.csv", "run,intensity [mm/h],rain_duration [min]\nR1,76,"+cell+"\n"))
		if got := o.Dataset.Runs()[0].RainMin; got != want {
			t.Errorf("%q is %v min, want %v", cell, got, want)
		}
	}
	for _, cell := range []string{"10:05 am", "2031-05-14T10:35:00Z", "half an hour", "30:75"} {
		dir := tree(t, dataset("d", "runs.csv", "run,started,intensity [mm/h],rain_duration [min]\nR1,2031-05-14T10:05:00Z,76,"+cell+"\n"))
		o := readOnly(t, dir, ingest.Options{})
		if !slices.ContainsFunc(o.Issues, func(i issue.Issue) bool {
			return i.Row == 2 && i.Column == "rain_duration [min]" && i.Severity == issue.Error
		}) {
			t.Errorf("%q passes:%s", cell, list(o.Issues))
		}
	}
}

// TestLinesOfRecords: where a quoted cell holds line breaks a finding counts
// records, and says the line, whether a cell cannot be decoded, a rule is broken or
// rows of a joined table disagree.
func TestLinesOfRecords(t *testing.T) {
	for name, files := range map[string]map[string]string{
		"a rule": dataset("d", "plots.csv", "run,plot,treatment,area [m2],remark\nR1,1,meadow fescue ley,0.75,\"windy,\nthen\ncalm\"\nR1,2,meadow fescue ley,0,\n"),
		"a cell": dataset("d", "plots.csv", "run,plot,treatment,area [m2],remark\nR1,1,meadow fescue ley,0.75,\"windy,\nthen\ncalm\"\nR1,2,meadow fescue ley,x,\n"),
		"a joined table": {"d/day.csv": "run,plot,treatment,area [m2],intensity [mm/h],rain_duration [min],stream,end [min],volume [mL],remark\n" +
			"R1,1,meadow fescue ley,0.75,76,30,runoff,15,2000,\"windy,\nthen\ncalm\"\nR1,1,meadow fescue ley,0.8,76,30,runoff,30,7000,\n"},
	} {
		o := readOnly(t, tree(t, files), ingest.Options{})
		if !slices.ContainsFunc(o.Issues, func(i issue.Issue) bool {
			return i.Severity == issue.Error && i.Row == 3 && i.Column == "area [m2]" && strings.HasSuffix(i.Message, "(line 5)")
		}) {
			t.Errorf("%s: no error in row 3, line 5:%s", name, list(o.Issues))
		}
	}
}

// TestJoinedPlotWithoutBottles: in a joined table a row without a bottle states a
// plot that had none; a row that says anything of a bottle is one.
func TestJoinedPlotWithoutBottles(t *testing.T) {
	const head = "run,plot,treatment,area [m2],runoff_start [min],intensity [mm/h],rain_duration [min],stream,end [min],volume [mL]\n"
	o := accepted(t, map[string]string{"d/day.csv": head + "R1,1,oak-wood litter,0.75,none,76,30,,,\nR1,2,meadow fescue ley,0.75,5,76,30,runoff,30,2000\n"})
	plots := o.Dataset.Runs()[0].Plots
	if len(plots) != 2 || len(plots[0].Samples) != 0 || plots[0].Onset != experiment.OnsetNone || len(plots[1].Samples) != 1 {
		t.Errorf("plots %+v", plots)
	}
	for _, row := range []string{"R1,1,oak-wood litter,0.75,none,76,30,,30,\n", "R1,,,,,76,30,,,\n"} {
		dir := tree(t, map[string]string{"d/day.csv": head + row + "R1,2,meadow fescue ley,0.75,5,76,30,runoff,30,2000\n"})
		if o := readOnly(t, dir, ingest.Options{}); o.Dataset != nil {
			t.Errorf("%q is accepted", row)
		}
	}
}

// TestBrokenColumnsAreReportedOnce: a required column that is missing, or whose
// unit is not known, is one finding, and not one more for each row.
func TestBrokenColumnsAreReportedOnce(t *testing.T) {
	for name, plots := range map[string]string{
		"missing":      "run,plot,treatment,aera [m2]\nR1,1,meadow fescue ley,0.75\n",
		"unknown unit": "run,plot,treatment,area [morgen]\nR1,1,meadow fescue ley,0.75\n",
	} {
		o := readOnly(t, tree(t, dataset("d", "plots.csv", plots)), ingest.Options{})
		errs := slices.DeleteFunc(slices.Clone(o.Issues), func(i issue.Issue) bool { return i.Severity != issue.Error })
		if len(errs) != 1 {
			t.Errorf("%s: %d errors, want one:%s", name, len(errs), list(o.Issues))
		}
	}
	runs := "run,intensity [furlong],rain_duration [min]\nR1,76,30\n"
	o := readOnly(t, tree(t, dataset("d", "runs.csv", runs)), ingest.Options{})
	for _, i := range o.Issues {
		if i.Severity == issue.Error && i.Column != "intensity [furlong]" {
			t.Errorf("%v follows from the unit of the intensity", i)
		}
	}
}

// TestZone: a stamp without an offset is in UTC, with a note, or in the zone of analysis.yaml.
func TestZone(t *testing.T) {
	files := dataset("d", "runs.csv", "run,started,intensity [mm/h],rain_duration [min]\nR1,2031-05-14T10:05:00,76,30\n")
	noted := func(o *ingest.Outcome) bool {
		return slices.ContainsFunc(o.Issues, func(i issue.Issue) bool { return i.Code == ingest.StampZone && i.Column == "started" })
	}
	o := accepted(t, files)
	if got, want := o.Dataset.Runs()[0].Started, time.Date(2031, 5, 14, 10, 5, 0, 0, time.UTC); !got.Equal(want) || !noted(o) {
		t.Errorf("started %v, want %v, and a note%s", got, want, list(o.Issues))
	}
	files["d/analysis.yaml"] = "timezone: Europe/Dublin\n" // summer time, one hour ahead
	o = accepted(t, files)
	if got, want := o.Dataset.Runs()[0].Started, time.Date(2031, 5, 14, 9, 5, 0, 0, time.UTC); !got.Equal(want) || noted(o) {
		t.Errorf("started %v, want %v without a note%s", got, want, list(o.Issues))
	}
}

func TestSettings(t *testing.T) {
	files := dataset("d", "analysis.yaml", "level: 0.9\nsmoothing_s: 30\nbare_cover_pct: 8\nleast_peak_s: 60\nsteady_share: 0.2\nlow_quarter: ceil\ntimezone: Europe/Dublin\n"+
		"errors:\n  volume_ml: 5\n  bottle_change_s: 3\n  slope_pct: 0.5\n  soil_mass_g: 25\n  cover_points: 50\n")
	o := accepted(t, files)
	want := experiment.DefaultErrors()
	want.VolumeML, want.BottleChange, want.Slope, want.SoilMassG, want.CoverPoints = 5, 0.05, 0.005, 25, 50
	if got := o.Dataset.Errors(); got != want {
		t.Errorf("errors %+v, want %+v", got, want)
	}
	s := o.Settings
	if s.Level != quantity.Some(0.9) || s.SmoothingMin != quantity.Some(0.5) || s.ThresholdShare.OK || s.Zone.String() != "Europe/Dublin" ||
		s.LeastPeakMin != quantity.Some(1.0) || s.SteadyShare != quantity.Some(0.2) || s.BareCoverPct != quantity.Some(8) || s.LowQuarter != "ceil" {
		t.Errorf("settings %+v", s)
	}
	if accepted(t, dataset("d", "analysis.yaml", "")).Settings != (ingest.Settings{}) {
		t.Error("an empty analysis.yaml sets something")
	}
}

// TestDigest asks that the digest is that of the files that are read: it changes
// with each of them, and not with what lies beside them.
func TestDigest(t *testing.T) {
	digest := func(files map[string]string) string { return accepted(t, files).Digest }
	plain := digest(dataset("d"))
	if digest(dataset("e")) != plain || digest(dataset("d", "README.md", "x", "photo.jpg", "x")) != plain {
		t.Error("the digest depends on what is not read")
	}
	for _, other := range []map[string]string{
		dataset("d", "analysis.yaml", "level: 0.9\n"),
		dataset("d", "plots.csv", goodPlots+"\n"),
	} {
		if digest(other) == plain {
			t.Error("the digest does not depend on all that is read")
		}
	}
	z := tree(t, map[string]string{"d.zip": string(pack(t, dataset("")))})
	if got := readOnly(t, filepath.Join(z, "d.zip"), ingest.Options{}).Digest; got != plain {
		t.Error("a zip has another digest than its folder")
	}
}

func TestMappingOption(t *testing.T) {
	dir := tree(t, map[string]string{
		"day/bottles.csv": "Lauf,Parzelle,Ende,Wasser\nR1,1,15,2000\nR1,1,30,7000\n",
		"day/runs.csv":    goodRuns, "day/plots.csv": goodPlots,
		"crew.yaml": "tables:\n  samples:\n    file: bottles.csv\n    columns:\n      run: Lauf\n      plot: Parzelle\n      stream: {constant: runoff}\n      end: {from: Ende, unit: min}\n      volume: {from: Wasser, unit: mL}\n",
	})
	m := filepath.Join(dir, "crew.yaml")
	sources, _, err := ingest.Find([]string{filepath.Join(dir, "day")}, ingest.FindOptions{Mapping: m})
	if err != nil || len(sources) != 1 {
		t.Fatal(err, names(sources))
	}
	o, err := ingest.Read(context.Background(), sources[0], ingest.Options{Mapping: m})
	if err != nil || o.Dataset == nil {
		t.Fatalf("%v%s", err, list(o.Issues))
	}
	if n := len(o.Dataset.Runs()[0].Plots[0].Samples); n != 2 {
		t.Errorf("%d samples, want 2", n)
	}
}

// TestFormat reads a file whose form a mapping states and its bytes do not tell:
// decimal commas in a single column, and Windows-1252.
func TestFormat(t *testing.T) {
	o := accepted(t, map[string]string{
		"day/runs.csv": goodRuns, "day/plots.csv": goodPlots,
		"day/flaschen.csv": "Lauf|Gef\xe4\xdf|Ende|Wasser\nR1|1|15|2000,5\nR1|1|30|7000\n",
		"day/mapping.yaml": "tables:\n  samples:\n    file: flaschen.csv\n    delimiter: \"|\"\n    decimal: \",\"\n    encoding: windows-1252\n    columns:\n" +
			"      run: Lauf\n      plot: Gefäß\n      stream: {constant: runoff}\n      end: {from: Ende, unit: min}\n      volume: {from: Wasser, unit: mL}\n",
		"day/datapackage.json": "{}",
	})
	if got := o.Dataset.Runs()[0].Plots[0].Samples[0].VolumeML.V; got != 2000.5 {
		t.Errorf("volume %v mL, want 2000.5", got)
	}
	if !slices.ContainsFunc(o.Issues, func(i issue.Issue) bool { return i.Code == ingest.FileUnused && i.File == "datapackage.json" }) {
		t.Errorf("the data package that is not read is not noted:%s", list(o.Issues))
	}
}

func TestCancelled(t *testing.T) {
	sources, _, err := ingest.Find([]string{tree(t, dataset("d"))}, ingest.FindOptions{})
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := ingest.Read(ctx, sources[0], ingest.Options{}); !errors.Is(err, context.Canceled) {
		t.Errorf("error %v, want that of the context", err)
	}
}
