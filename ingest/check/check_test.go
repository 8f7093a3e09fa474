package check_test

import (
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"sheetwash/analysis/experiment"
	"sheetwash/ingest/check"
	"sheetwash/ingest/issue"
	"sheetwash/ingest/schema"
)

// frame makes a frame of a table from lines of comma-separated cells in
// canonical units, header first. It takes none for a time that did not happen.
func frame(t *testing.T, name, text string) *check.Frame {
	t.Helper()
	f := check.NewFrame(name)
	if text == "" {
		return f
	}
	s, ok := schema.Find(name)
	if !ok {
		t.Fatalf("no table %q", name)
	}
	lines := strings.Split(strings.TrimSpace(text), "\n")
	header := strings.Split(lines[0], ",")
	f.Parts = []check.Part{{File: name + ".csv", Shown: map[string]check.Shown{}}}
	for i := range lines[1:] {
		f.AddRow(int64(i + 2))
	}
	for k, h := range header {
		c := &check.Column{Name: h, State: make([]check.State, f.N)}
		if sc, known := s.Column(h); known {
			c.Kind, c.Words = sc.Kind, sc.Words
		} else {
			c.Open = true
			if strings.HasPrefix(h, "analyte_") {
				c.Kind = schema.Number
			}
		}
		c.Num, c.Code, c.Stamp = make([]float64, f.N), make([]int32, f.N), make([]time.Time, f.N)
		for i, line := range lines[1:] {
			set(t, c, i, strings.Split(line, ",")[k])
		}
		f.Add(c)
	}
	return f
}

func set(t *testing.T, c *check.Column, i int, cell string) {
	t.Helper()
	if cell == "" {
		return
	}
	c.State[i] = check.Present
	var err error
	switch c.Kind {
	case schema.Number, schema.Time:
		if cell == "none" {
			c.State[i] = check.NotHappened
			return
		}
		c.Num[i], err = strconv.ParseFloat(cell, 64)
	case schema.Bool:
		var b bool
		if b, err = strconv.ParseBool(cell); b {
			c.Num[i] = 1
		}
	case schema.Stamp:
		c.Stamp[i], err = time.Parse(time.RFC3339, cell)
	default:
		k := slices.Index(c.Words, cell)
		if k < 0 {
			k = len(c.Words)
			c.Words = append(slices.Clip(c.Words), cell)
		}
		c.Code[i] = int32(k)
	}
	if err != nil {
		t.Fatal(err)
	}
}

// tables is a dataset as text, before one thing in it is spoilt.
type tables struct{ runs, plots, samples, cans string }

// sound is a dataset about which no rule has anything to say. The areas are
// 1 m2 and the rain 60 mm/h, so that 1 L of rain falls on a plot in a minute.
var sound = tables{
	runs: `run,event,intensity,rain_duration,water_temperature,subtract_blank,pressure,simulator
A,day,60,30,18,false,48,trailer-1
B,day,60,30,18,false,48,trailer-1`,
	plots: `run,plot,treatment,area,slope,cover,initial_water,runoff_start,ponding_start,exclude,exclude_reason,experimental_unit
A,1,fescue,1,0.05,80,20,6,4,false,,
A,2,stubble,1,0.05,5,20,2,1,false,,
B,3,potato,1,0.05,0,20,none,,false,,`,
	samples: `run,plot,stream,start,end,volume,gross_mass,tare_mass,sediment_mass,concentration,flag,exclude,exclude_reason,water_temperature
A,1,runoff,5,10,900,,,1.5,,ok,false,,18
A,1,runoff,10,20,3000,,,5,,,false,,18
A,1,runoff,20,30,3400,,,5,,,false,,18
A,2,runoff,0,10,3000,,,20,,,false,,18
A,2,runoff,10,20,6000,,,42,,,false,,19
A,2,runoff,20,30,6100,,,43,,,false,,19
B,3,runoff,0,30,0,,,0,,trace,false,,18`,
}

func (s tables) draft(t *testing.T) *check.Draft {
	t.Helper()
	return &check.Draft{
		Dataset: "day", Errors: experiment.DefaultErrors(),
		Runs: frame(t, "runs", s.runs), Plots: frame(t, "plots", s.plots), Samples: frame(t, "samples", s.samples), Cans: frame(t, "cans", s.cans),
	}
}

// with replaces text in one of the tables; it must be there.
func (s tables) with(t *testing.T, old, new string) tables {
	t.Helper()
	n := 0
	for _, p := range []*string{&s.runs, &s.plots, &s.samples, &s.cans} {
		n += strings.Count(*p, old)
		*p = strings.Replace(*p, old, new, 1)
	}
	if n != 1 {
		t.Fatalf("%q stands %d times in the tables, want once", old, n)
	}
	return s
}

func run(t *testing.T, d *check.Draft) []issue.Issue {
	t.Helper()
	var l issue.List
	check.Run(d, &l)
	return l.All()
}

func TestSound(t *testing.T) {
	s := sound
	s.cans = soundCans
	for _, i := range run(t, s.draft(t)) {
		t.Errorf("%s: %v", i.Severity, i)
	}
}

// soil is the plots of sound with every measurement of stored water, of which depth, bulk density and
// masses before and after are given for the first plot.
func soil(sizes string) string {
	return `run,plot,treatment,area,runoff_start,initial_water,final_water,gravimetric_before,gravimetric_after,edge_loss,soil_depth,bulk_density,soil_mass_before,soil_mass_after
A,1,fescue,1,6,20,35,15,28,500,` + sizes + `
A,2,stubble,1,2,20,,,,,,,,
B,3,potato,1,none,20,35,15,28,500,300,1.3,20000,20400`
}

// TestSoundSoil asks that whole measurements of stored water, and an antecedent
// moisture by itself, are sound.
func TestSoundSoil(t *testing.T) {
	s := sound
	s.plots = soil("300,1.3,20000,20400")
	for _, i := range run(t, s.draft(t)) {
		t.Errorf("%s: %v", i.Severity, i)
	}
}

// TestRules spoils one thing at a time and asks for the finding and its place.
func TestRules(t *testing.T) {
	const masses = `run,plot,stream,start,end,volume,gross_mass,tare_mass,sediment_mass,sediment_gross_mass,sediment_tare_mass,concentration
A,1,runoff,5,30,,5392,392,,21.9,21.1,
A,2,runoff,0,30,6000,6392,392,12,33.1,21.1,2
B,3,splash,0,30,,393,393,,21.1,21.1,`
	for _, tt := range []struct {
		code     issue.Code
		old, new string // replaced in sound
		samples  string // instead of sound's
		plots    string // the same
		runs     string
		table    string
		row      int64
		column   string
	}{
		{code: check.RunNoPlots, old: "B,3,potato,1,0.05,0,20,none,,false,,", new: "A,3,potato,1,0.05,0,20,none,,false,,", table: "runs", row: 3, column: "run"},
		{code: check.PlotNoData, old: "A,2,stubble", new: "A,1b,stubble,1,0.05,5,20,2,1,false,,\nA,2,stubble", table: "plots", row: 3, column: "plot"},
		{code: check.PlotRepeated, old: "B,3,potato,1,0.05,0,20,none", new: "B,1,potato,1,0.05,0,20,none", table: "plots", row: 4, column: "plot"},
		{code: check.AreaImplausible, old: "A,1,fescue,1,", new: "A,1,fescue,7500,", table: "plots", row: 2, column: "area"},
		{code: check.RainImplausible, old: "A,day,60,30", new: "A,day,60,1800", table: "runs", row: 2, column: "rain_duration"},
		{code: check.IntensityOdd, old: "B,day,60", new: "B,day,3000", table: "runs", row: 3, column: "intensity"},
		{code: check.PressureOdd, old: "A,day,60,30,18,false,48", new: "A,day,60,30,18,false,4800", table: "runs", row: 2, column: "pressure"},
		{code: check.TemperatureOdd, old: "B,day,60,30,18", new: "B,day,60,30,50", table: "runs", row: 3, column: "water_temperature"},
		{code: check.TemperatureOutlier, old: "10,20,3000,,,5,,,false,,18", new: "10,20,3000,,,5,,,false,,8", table: "samples", row: 3, column: "water_temperature"},
		{code: check.SlopeSteep, old: "fescue,1,0.05", new: "fescue,1,5", table: "plots", row: 2, column: "slope"},
		{code: check.SoilNotPositive, plots: soil("0,1.3,20000,20400"), table: "plots", row: 2, column: "soil_depth"},
		{code: check.SoilNotPositive, plots: soil("300,0,20000,20400"), table: "plots", row: 2, column: "bulk_density"},
		{code: check.SoilNotPositive, plots: soil("300,1.3,0,20400"), table: "plots", row: 2, column: "soil_mass_before"},
		{code: check.SoilImplausible, plots: soil("0.3,1.3,20000,20400"), table: "plots", row: 2, column: "soil_depth"},
		{code: check.SoilImplausible, plots: soil("300,1300,20000,20400"), table: "plots", row: 2, column: "bulk_density"},
		{code: check.StorageIncomplete, plots: soil("300,1.3,20000,"), table: "plots", row: 2, column: "soil_mass_before"},
		{code: check.StorageIncomplete, plots: soil("300,1.3,,20400"), table: "plots", row: 2, column: "soil_mass_after"},
		{code: check.StorageIncomplete, plots: soil(",1.3,20000,20400"), table: "plots", row: 2, column: "final_water"},
		{code: check.StorageIncomplete, plots: soil("300,,20000,20400"), table: "plots", row: 2, column: "gravimetric_after"},
		{code: check.NumberNegative, plots: soil("300,1.3,20000,-20400"), table: "plots", row: 2, column: "soil_mass_after"},
		{code: check.NumberNegative, plots: soil("-300,1.3,20000,20400"), table: "plots", row: 2, column: "soil_depth"},
		{code: check.NumberNegative, plots: soil("300,-1.3,20000,20400"), table: "plots", row: 2, column: "bulk_density"},
		{code: check.NumberNegative, plots: strings.Replace(soil("300,1.3,20000,20400"), ",500", ",-500", 1), table: "plots", row: 2, column: "edge_loss"},
		{code: check.NumberNegative, plots: strings.Replace(soil("300,1.3,20000,20400"), ",28", ",-28", 1), table: "plots", row: 2, column: "gravimetric_after"},
		{code: check.PercentRange, plots: strings.Replace(soil("300,1.3,20000,20400"), ",35", ",350", 1), table: "plots", row: 2, column: "final_water"},
		{code: check.SoilImplausible, plots: strings.Replace(soil("300,1.3,20000,20400"), ",28", ",2800", 1), table: "plots", row: 2, column: "gravimetric_after"},
		{code: check.DissolvedOdd, runs: "run,event,intensity,rain_duration,dissolved_solids\nA,day,60,30,350\nB,day,60,30,0.35", table: "runs", row: 2, column: "dissolved_solids"},
		{code: check.TreatmentSpelling, old: "stubble", new: "Fescue ", table: "plots", row: 3, column: "treatment"},
		{code: check.ExcludeNoReason, old: "30,3400,,,5,,,false", new: "30,3400,,,5,,,true", table: "samples", row: 4, column: "exclude"},
		{code: check.OnsetAfterRain, old: "20,2,1,", new: "20,32,1,", table: "plots", row: 3, column: "runoff_start"},
		{code: check.OnsetAfterWater, old: "20,2,1,", new: "20,12,1,", table: "plots", row: 3, column: "runoff_start"},
		{code: check.OnsetBeforePonding, old: "20,2,1,", new: "20,2,3,", table: "plots", row: 3, column: "runoff_start"},
		{code: check.OnsetNoneButWater, old: "B,3,runoff,0,30,0,,,0,,trace", new: "B,3,runoff,0,30,50,,,0,,", table: "plots", row: 4, column: "runoff_start"},
		{code: check.SampleGap, old: "10,20,3000", new: "12,20,3000", table: "samples", row: 3, column: "start"},
		{code: check.SampleStopsEarly, old: "\nA,1,runoff,20,30,3400,,,5,,,false,,18", new: "", table: "samples", row: 3, column: "end"},
		{code: check.SampleLate, old: "20,30,3400", new: "20,300,3400", table: "samples", row: 4, column: "end"},
		{code: check.SampleNotMeasured, old: "20,30,3400,,,5", new: "20,30,,,,", table: "samples", row: 4, column: "volume"},
		{code: check.StartDefault, old: "A,1,runoff,10,20", new: "A,1,runoff,,20", table: "samples", column: "start"},
		{code: check.FlagNoVolume, old: "30,3400,,,5,,,", new: "30,,,,5,,leak,", table: "samples", row: 4, column: "flag"},
		{code: check.FlagNoVolume, old: "30,3400,,,5,,,", new: "30,0,,,5,,overflow,", table: "samples", row: 4, column: "flag"},
		{code: check.FlagLostVolume, old: "30,3400,,,5,,,", new: "30,3400,,,5,,lost,", table: "samples", row: 4, column: "flag"},
		{code: check.BlankPlot, old: "B,3,runoff", new: "A,1,blank,,,,,,0.05,,,,,\nB,3,runoff", table: "samples", row: 8, column: "plot"},
		{code: check.BlankUnused, old: "B,3,runoff", new: "A,,blank,,,,,,0.05,,,,,\nB,3,runoff", table: "samples", row: 8, column: "stream"},
		{code: check.BlankMissing, old: "A,day,60,30,18,false", new: "A,day,60,30,18,true", table: "runs", row: 2, column: "subtract_blank"},
		{code: check.RemainderSetAside, old: "B,3,runoff", new: "A,1,remainder,,,,,,0.3,,,,,\nB,3,runoff", table: "samples", row: 8, column: "stream"},
		{code: check.VolumeDisagrees, old: "20,30,6100,,", new: "20,30,6100,5392,392", table: "samples", row: 7, column: "volume"},
		{code: check.VolumeOdd, old: "5,10,900", new: "5,10,900000", table: "samples", row: 2, column: "volume"},
		{code: check.RunoffExceedsRain, old: "20,30,6100", new: "20,30,26100", table: "plots", row: 3, column: "area"},
		{code: check.SedimentOdd, old: "5,10,900,,,1.5", new: "5,10,900,,,900", table: "samples", row: 2, column: "sediment_mass"},
		{code: check.SedimentPending, old: "20,30,3400,,,5", new: "20,30,3400,,,", table: "samples", column: "sediment_mass"},
		{code: check.SedimentDisagrees, old: "5,10,900,,,1.5,", new: "5,10,900,,,1.5,16", table: "samples", row: 2, column: "concentration"},
		{code: check.SedimentNoWater, old: "5,10,900,,,1.5", new: "5,10,0,,,1.5", table: "samples", row: 2, column: "sediment_mass"},
		{code: check.SedimentNoWater, old: "5,10,900,,,1.5", new: "5,10,,,,1.5", table: "samples", row: 2, column: "sediment_mass"},
		{code: check.SedimentNoWater, old: "5,10,900,,,1.5,", new: "5,10,,,,,16", table: "samples", row: 2, column: "concentration"},
		{code: check.OnsetNoWater, samples: "run,plot,stream,start,end,volume,flag\nA,1,runoff,0,30,0,\nA,2,runoff,0,30,5000,\nB,3,runoff,0,30,0,", table: "plots", row: 2, column: "runoff_start"},
		{code: check.TemperatureDefault, old: "A,day,60,30,18", new: "A,day,60,30,", samples: masses, table: "runs", column: "water_temperature"},
		{code: check.SampleOverlap, old: "10,20,3000", new: "8,20,3000", table: "samples", row: 3, column: "start"},

		{code: check.GrossBelowTare, samples: strings.Replace(masses, "5392,392", "392,5392", 1), table: "samples", row: 2, column: "gross_mass"},
		{code: check.TareMissing, samples: strings.Replace(masses, "5392,392", "5392,", 1), table: "samples", row: 2, column: "tare_mass"},
		{code: check.SedimentBelowTare, samples: strings.Replace(masses, "21.9,21.1", "21.0,21.1", 1), table: "samples", row: 2, column: "sediment_gross_mass"},
		{code: check.SedimentNotDetected, samples: strings.Replace(masses, "21.9,21.1", "21.09,21.1", 1), table: "samples", row: 2, column: "sediment_gross_mass"},
		{code: check.SedimentTareMissing, samples: strings.Replace(masses, "21.9,21.1", "21.9,", 1), table: "samples", row: 2, column: "sediment_tare_mass"},
		{code: check.SedimentDisagrees, samples: strings.Replace(masses, "33.1,21.1", "43.1,21.1", 1), table: "samples", row: 3, column: "sediment_mass"},
	} {
		t.Run(string(tt.code)+" "+tt.new+" "+tt.column, func(t *testing.T) {
			s := sound
			if tt.samples != "" {
				s.samples = tt.samples
			}
			if tt.plots != "" {
				s.plots = tt.plots
			}
			if tt.runs != "" {
				s.runs = tt.runs
			}
			if tt.old != "" {
				s = s.with(t, tt.old, tt.new)
			}
			found := run(t, s.draft(t))
			if !slices.ContainsFunc(found, func(i issue.Issue) bool {
				return i.Code == tt.code && i.Severity == check.SeverityOf(tt.code) && i.Table == tt.table && i.Row == tt.row && i.Column == tt.column && i.File == tt.table+".csv"
			}) {
				t.Errorf("no finding at %s:%d [%s]; have %v", tt.table, tt.row, tt.column, found)
			}
		})
	}
}

// TestClockTimes gives a run that started at 10:05 bottles noted by the time of
// day. In a column of elapsed times 10:10 is 10 min 10 s and 10:10:00 is 610 min.
func TestClockTimes(t *testing.T) {
	const runs = "run,event,intensity,rain_duration,started\nA,day,60,30,2031-05-14T10:05:00+01:00"
	const plots = "run,plot,treatment,area,runoff_start\nA,1,fescue,1,"
	for _, tt := range []struct {
		name, ends string
		want       bool
	}{
		{"h:mm", "10.1666666667 10.3333333333 10.5", true},
		{"h:mm past the hour", "10.9 11 11.1", true},
		{"h:mm:ss", "610 620 635", true},
		{"minutes", "10 20 30", false},
		{"minutes of a start", "10.2 15 20", false},
		{"two bottles about minute 10", "10.2 10.6", false},
		{"another hour", "11.9 12.1 12.3", false},
	} {
		t.Run(tt.name, func(t *testing.T) {
			samples := "run,plot,stream,start,end,volume"
			start := "0"
			for _, end := range strings.Fields(tt.ends) {
				samples += "\nA,1,runoff," + start + "," + end + ",100"
				start = end
			}
			found := run(t, tables{runs: runs, plots: plots, samples: samples}.draft(t))
			got := slices.ContainsFunc(found, func(i issue.Issue) bool { return i.Code == check.SampleClockTimes && i.Row == 2 && i.Column == "end" })
			if got != tt.want {
				t.Errorf("reported %v, want %v: %v", got, tt.want, found)
			}
		})
	}
}

// TestLoggedWithoutPlot has a channel of flow that names no plot; rain may.
func TestLoggedWithoutPlot(t *testing.T) {
	for channel, want := range map[experiment.Channel]bool{experiment.RunoffMass: true, experiment.DrainageRate: true, experiment.RainRate: false} {
		d := sound.draft(t)
		d.Readings = []check.Logged{{Run: "A", Row: 7, Series: experiment.Series{Channel: channel, Place: experiment.Place{File: "readings.csv", Row: 7}}}}
		found := run(t, d)
		if got := slices.ContainsFunc(found, func(i issue.Issue) bool {
			return i.Code == check.ReadingNoPlot && i.File == "readings.csv" && i.Row == 7 && i.Column == "plot"
		}); got != want {
			t.Errorf("%s: reported %v, want %v", channel, got, want)
		}
	}
}

// TestMasses asks that a dataset weighed throughout is sound, and that its volumes
// and masses are compared with the sediment taken off: 6392 - 392 - 12 + 12/2.65 = 5992.5 mL.
func TestMasses(t *testing.T) {
	s := sound
	s.samples = `run,plot,stream,start,end,volume,gross_mass,tare_mass,sediment_mass,sediment_gross_mass,sediment_tare_mass,concentration
A,1,runoff,5,30,,5392,392,,21.9,21.1,
A,2,runoff,0,30,6000,6392,392,12,33.1,21.1,2
B,3,splash,0,30,,393,393,,21.1,21.1,`
	for _, i := range run(t, s.draft(t)) {
		t.Errorf("%s: %v", i.Severity, i)
	}
}

// TestPooledSediment asks that a sediment row that spans several bottles does
// not overlap them, and overlaps another sediment row.
func TestPooledSediment(t *testing.T) {
	s := sound
	s.samples = `run,plot,stream,start,end,volume,sediment_mass
A,1,runoff,5,10,900,
A,1,runoff,10,30,6400,
A,1,runoff,5,30,,11.5
A,2,runoff,0,30,15000,100
B,3,splash,0,30,0,0`
	for _, i := range run(t, s.draft(t)) {
		if i.Severity != issue.Note {
			t.Errorf("%s: %v", i.Severity, i)
		}
	}
	s = s.with(t, "A,1,runoff,5,30,,11.5", "A,1,runoff,5,20,,6.5\nA,1,runoff,15,30,,5")
	found := run(t, s.draft(t))
	if !slices.ContainsFunc(found, func(i issue.Issue) bool { return i.Code == check.SampleOverlap && i.Row == 5 }) {
		t.Errorf("overlapping sediment rows pass: %v", found)
	}
}

// TestRatedSediment has seven bottles with turbidity and sediment and three with a turbidity alone: two within the range
// of the seven, whose sediment the rating supplies, and one beyond, which waits.
func TestRatedSediment(t *testing.T) {
	s := sound
	s.samples = `run,plot,stream,start,end,volume,sediment_mass,turbidity
A,1,runoff,5,10,900,1.5,120
A,1,runoff,10,15,1500,2.6,130
A,1,runoff,15,20,1500,2.4,115
A,1,runoff,20,30,3400,5,110
A,2,runoff,0,10,3000,20,600
A,2,runoff,10,15,3000,22,640
A,2,runoff,15,20,3000,23,660
A,2,runoff,20,25,3000,,650
A,2,runoff,25,30,3000,,300
B,3,runoff,0,30,0,0,`
	pending := func(s tables) []issue.Issue {
		return slices.DeleteFunc(run(t, s.draft(t)), func(i issue.Issue) bool { return i.Code != check.SedimentPending })
	}
	if found := pending(s); len(found) > 0 {
		t.Errorf("rated bottles wait: %v", found)
	}
	if found := pending(s.with(t, "3000,,650", "3000,,670")); len(found) != 1 || !strings.HasPrefix(found[0].Message, "1 bottles") {
		t.Errorf("beyond the rating: %v", found)
	}
	if found := pending(s.with(t, "3000,23,660", "3000,23,").with(t, "3000,22,640", "3000,22,")); len(found) != 1 || !strings.HasPrefix(found[0].Message, "2 bottles") {
		t.Errorf("of five pairs: %v", found)
	}
}

// TestLateChange uses the masses of a published run in which one bottle was
// changed late: 859.2 g and 622.0 g where the median is 730.8 g
// (Hapich 2025, github.com/hannahhapich/TWP_Runoff, run 3, minutes 12 to 14).
func TestLateChange(t *testing.T) {
	s := sound
	s.samples = `run,plot,stream,start,end,volume
A,1,runoff,10,11,727
A,1,runoff,11,12,735
A,1,runoff,12,13,859.2
A,1,runoff,13,14,622.0
A,1,runoff,14,30,733
A,2,runoff,0,30,6000
B,3,splash,0,30,0`
	s = s.with(t, "14,30,733", "14,15,733\nA,1,runoff,15,30,10900")
	found := run(t, s.draft(t))
	at := slices.IndexFunc(found, func(i issue.Issue) bool { return i.Code == check.SampleLateChange })
	if at < 0 || found[at].Row != 4 {
		t.Errorf("the late change in row 4 is not noted: %v", found)
	}
	if n := len(slices.DeleteFunc(found, func(i issue.Issue) bool { return i.Code != check.SampleLateChange })); n != 1 {
		t.Errorf("%d late changes, want 1", n)
	}
}

func TestStarts(t *testing.T) {
	s := sound
	s.samples = `run,plot,stream,end,volume
A,1,runoff,20,3000
A,1,runoff,10,900
A,1,runoff,30,3400
A,2,runoff,30,15000
A,2,drainage,12,100
B,3,splash,30,0`
	d := s.draft(t)
	run(t, d)
	start := d.Samples.Column("start")
	// The previous end is taken in the order of time, per plot and stream.
	for i, want := range []float64{10, 0, 20, 0, 0, 0} {
		if got, ok := start.Value(i); !ok || got != want {
			t.Errorf("start of row %d = %v, %v, want %v", i+2, got, ok, want)
		}
	}
}

func TestNeedsCalibration(t *testing.T) {
	s := sound.with(t, "A,day,60", "A,day,")
	d := s.draft(t)
	for _, i := range run(t, d) {
		if i.Code == check.PlotNoIntensity {
			t.Errorf("cans of the season could tell: %v", i)
		}
	}
	if got := check.NeedsCalibration(d); !slices.Equal(got, []string{"A"}) {
		t.Errorf("NeedsCalibration = %q, want A", got)
	}
	s = s.with(t, "A,day,,30,18,false,48,trailer-1", "A,day,,30,18,false,48,")
	d = s.draft(t)
	found := run(t, d)
	if n := len(slices.DeleteFunc(found, func(i issue.Issue) bool { return i.Code != check.PlotNoIntensity })); n != 2 {
		t.Errorf("%d plots without intensity, want 2", n)
	}
	d = s.draft(t)
	d.Readings = []check.Logged{{Run: "A", Series: experiment.Series{Channel: experiment.RainRate, N: 3}}}
	for _, i := range run(t, d) {
		if i.Code == check.PlotNoIntensity {
			t.Errorf("rain was logged: %v", i)
		}
	}
}

func TestExperimentalUnit(t *testing.T) {
	s := sound.with(t, "B,3,potato,1,0.05,0,20,none", "B,1,potato,1,0.05,0,20,none")
	d := s.draft(t)
	run(t, d)
	shared := check.SharedUnits(d)
	for i, want := range []string{"day/1", "", "day/1"} {
		if got := check.ExperimentalUnit(d, shared, i); got != want {
			t.Errorf("unit of plot row %d = %q, want %q", i+2, got, want)
		}
	}
}

func TestLoggerChannels(t *testing.T) {
	series := func(means ...float64) experiment.Series {
		s := experiment.Series{Channel: experiment.RunoffMass, BinMin: 1, Place: experiment.Place{File: "readings.csv", Row: 2}}
		for i, m := range means {
			s.Bins = append(s.Bins, experiment.Bin{Index: int32(i), N: 2, SumV: 2 * m})
		}
		return s
	}
	for _, tt := range []struct {
		name  string
		s     experiment.Series
		falls bool
	}{
		{"rising", series(0, 10, 25), false},
		{"within the balance's error", series(10, 10, 9.9), false},
		{"emptied", series(0, 500, 3), true},
	} {
		d := sound.draft(t)
		d.Readings = []check.Logged{{Run: "A", Plot: "1", Row: 2, Series: tt.s}}
		found := run(t, d)
		if got := slices.ContainsFunc(found, func(i issue.Issue) bool { return i.Code == check.ReadingFalls }); got != tt.falls {
			t.Errorf("%s: falls = %v, want %v", tt.name, got, tt.falls)
		}
	}
}

// TestBrokenTables asks that no rule complains of what a damaged file has lost.
func TestBrokenTables(t *testing.T) {
	s := sound
	s.samples, s.plots = "", strings.Join(strings.Split(s.plots, "\n")[:3], "\n")
	d := s.draft(t)
	d.Broken = map[string]bool{"samples": true, "plots": true}
	for _, i := range run(t, d) {
		t.Errorf("a rule complains of rows that the file has lost: %v", i)
	}
}
