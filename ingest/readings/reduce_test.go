package readings

import (
	"context"
	"errors"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"sheetwash/analysis/experiment"
	"sheetwash/analysis/quantity"
	"sheetwash/ingest/issue"
	"sheetwash/ingest/mapping"
	"sheetwash/ingest/table"
)

// Ten readings of 1 s in two bins of 15 s and one of another plot: the sums
// worked out by hand, times in minutes from the bin's start.
func TestSums(t *testing.T) {
	b := bind(textTable("run,plot,time,channel,value,unit\nR,1,0,runoff_mass,2,g\nR,1,7.5,runoff_mass,4,g\nR,1,15,runoff_mass,0.5,kg\nR,2,60,rain_rate,76,\n", 2, false), "s")
	got := reduce(t, b, Options{Workers: 2})
	want := []Keyed{
		{Run: "R", Plot: "1", Row: 2, Series: experiment.Series{Channel: experiment.RunoffMass, BinMin: 0.25, N: 3, FirstMin: 0, LastMin: 0.25, First: 2, Last: 500,
			Bins: []experiment.Bin{
				{Index: 0, N: 2, SumT: 0.125, SumV: 6, SumTT: 0.125 * 0.125, SumTV: 0.5},
				{Index: 1, N: 1, SumV: 500},
			}, Place: experiment.Place{File: "day/readings", Row: 2}}},
		{Run: "R", Plot: "2", Row: 5, Series: experiment.Series{Channel: experiment.RainRate, BinMin: 0.25, N: 1, FirstMin: 1, LastMin: 1, First: 76, Last: 76,
			Bins: []experiment.Bin{{Index: 4, N: 1, SumV: 76}}, Place: experiment.Place{File: "day/readings", Row: 5}}},
	}
	if !slices.EqualFunc(got.Series, want, equalKeyed) {
		t.Errorf("got  %+v\nwant %+v", got.Series, want)
	}
	if got.Rows != 4 || got.Empty != 0 {
		t.Errorf("%d rows, %d empty", got.Rows, got.Empty)
	}
	if p := places(&got.Issues); !slices.Equal(p, []string{"readings.default_unit:unit"}) {
		t.Errorf("issues %v", p)
	}
}

func equalKeyed(a, b Keyed) bool {
	bins := slices.Equal(a.Series.Bins, b.Series.Bins)
	a.Series.Bins, b.Series.Bins = nil, nil
	return bins && a.Run == b.Run && a.Plot == b.Plot && a.Row == b.Row && a.Series.N == b.Series.N &&
		a.Series.Channel == b.Series.Channel && a.Series.VolumeRate == b.Series.VolumeRate && a.Series.BinMin == b.Series.BinMin &&
		a.Series.FirstMin == b.Series.FirstMin && a.Series.LastMin == b.Series.LastMin &&
		a.Series.First == b.Series.First && a.Series.Last == b.Series.Last && a.Series.Place == b.Series.Place
}

const head = "run,plot,time,channel,value,unit\n"

// Every finding, at its row and column.
func TestFindings(t *testing.T) {
	seen := map[issue.Code]bool{}
	started := func(run string) (time.Time, bool) {
		return time.Date(2031, 5, 14, 10, 5, 0, 0, time.UTC), run == "R"
	}
	for _, tt := range []struct {
		name, csv string
		opt       Options
		readings  int64
		want      []string
	}{
		{"in order", "R,1,0,runoff_mass,1,g\nR,1,1,runoff_mass,2,g", Options{}, 2, nil},
		{"word for a number", "R,1,0,runoff_mass,lost,g\nR,1,1,runoff_mass,2,g", Options{}, 1, []string{"readings.not_number@2:value"}},
		{"NaN", "R,1,0,runoff_mass,NaN,g", Options{}, 0, []string{"readings.not_finite@2:value"}},
		{"beyond a float64", "R,1,0,runoff_mass,1e999,g", Options{}, 0, []string{"readings.not_finite@2:value"}},
		{"beyond a float64 once converted", "R,1,0,runoff_mass,1e308,kg", Options{}, 0, []string{"readings.not_finite@2:value"}},
		{"unknown channel", "R,1,0,runoff_mas,1,g", Options{}, 0, []string{"readings.unknown_channel@2:channel"}},
		{"no channel", "R,1,0,,1,g", Options{}, 0, []string{"readings.unknown_channel@2:channel"}},
		{"channel in other letters", "R,1,0,Runoff mass,1,g", Options{}, 1, nil},
		{"unknown unit", "R,1,0,runoff_mass,1,furlong", Options{}, 0, []string{"readings.unknown_unit@2:unit"}},
		{"unit of another dimension", "R,1,0,runoff_mass,1,mm", Options{}, 0, []string{"readings.unknown_unit@2:unit"}},
		{"no unit", "R,1,0,runoff_mass,1,", Options{}, 1, []string{"readings.default_unit:unit"}},
		{"no run", ",1,0,runoff_mass,1,g", Options{}, 0, []string{"readings.no_run@2:run"}},
		{"no plot", "R,,0,rain_rate,1,mm/h", Options{}, 1, nil},
		{"no time", "R,1,,runoff_mass,1,g", Options{}, 0, []string{"readings.no_time@2:time"}},
		{"no value", "R,1,0,runoff_mass,,g\n,,, ,,\nR,1,x,y,,z", Options{}, 0, nil},
		{"not a time", "R,1,soon,runoff_mass,1,g", Options{}, 0, []string{"readings.bad_time@2:time"}},
		{"seconds beyond a minute", "R,1,1:75,runoff_mass,1,g", Options{}, 0, []string{"readings.bad_time@2:time"}},
		{"far away", "R,1,1e9,runoff_mass,1,g", Options{}, 0, []string{"readings.time_range@2:time"}},
		{"before the rain", "R,1,-5,runoff_mass,1,g\nR,1,-4,runoff_mass,1,g", Options{}, 2, []string{"readings.before_rain@2:time"}},
		{"stamp without a start", "S,1,2031-05-14T10:06:00Z,runoff_mass,1,g", Options{Start: started}, 0, []string{"readings.no_start@2:time"}},
		{"stamp with nobody to ask", "R,1,2031-05-14T10:06:00Z,runoff_mass,1,g", Options{}, 0, []string{"readings.no_start@2:time"}},
		{"stamp", "R,1,2031-05-14T10:06:00Z,runoff_mass,1,g", Options{Start: started}, 1, nil},
		{"same time twice", "R,1,0,runoff_mass,1,g\nR,1,0,runoff_mass,2,g\nR,1,0,runoff_volume,2,mL", Options{}, 3, []string{"readings.duplicate_time@3:time"}},
		{"depth and volume per time", "R,1,0,runoff_rate,1,mm/h\nR,1,1,runoff_rate,1,mL/min", Options{}, 2, []string{"readings.mixed_rate@3:unit"}},
		{"too many series", "R,1,0,runoff_mass,1,g\nR,2,0,runoff_mass,1,g\nR,3,0,runoff_mass,1,g", Options{MaxSeries: 2}, 2, []string{"readings.too_many_series@4"}},
		{"too many bins", "R,1,0,runoff_mass,1,g\nR,1,15,runoff_mass,1,g\nR,1,30,runoff_mass,1,g", Options{MaxBins: 2}, 3, []string{"readings.coarsened"}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			for _, size := range []int{1, 100} {
				got := reduce(t, bind(textTable(head+tt.csv, size, false), "s"), tt.opt)
				n := int64(0)
				for _, s := range got.Series {
					n += s.Series.N
				}
				if p := places(&got.Issues); !slices.Equal(p, tt.want) || n != tt.readings {
					t.Errorf("batches of %d: issues %v, want %v; %d readings, want %d", size, p, tt.want, n, tt.readings)
				}
				for _, i := range got.Issues.All() {
					if !slices.Contains(Codes(), i.Code) || i.Message == "" || i.File != "day/readings" || i.Table != "readings" {
						t.Errorf("issue %+v", i)
					}
					seen[i.Code] = true
				}
			}
		})
	}
	for _, c := range Codes() {
		if !seen[c] {
			t.Errorf("no case has the code %s", c)
		}
	}
}

// Times in all forms are minutes from the start of rain; 10:06 is one minute
// after 10:05.
func TestTimes(t *testing.T) {
	start := time.Date(2031, 5, 14, 10, 5, 0, 0, time.FixedZone("", 3600))
	for _, tt := range []struct {
		cell  string
		comma bool
		clock bool
		want  float64
	}{
		{"90", false, false, 1.5},
		{" 90 ", false, false, 1.5},
		{"7,5", true, false, 0.125},
		{"1:30", false, false, 1.5},
		{"0:01:30", false, false, 1.5},
		{"1:30.75", false, false, 1.5125},
		{"1:30,75", true, false, 1.5125},
		{"2:00:00", false, false, 120},
		{"90:00", false, false, 90},
		{"90 s", false, false, 1.5},
		{"2031-05-14T10:06:30+01:00", false, false, 1.5},
		{"2031-05-14 09:06:30Z", false, false, 1.5},
		{"2031-05-14T10:06:30", false, false, 1.5}, // in the zone of the start
		{"10:06:30", false, true, 1.5},
		{"10:04", false, true, -1},
	} {
		delim := ","
		if tt.comma {
			delim = ";"
		}
		csv := strings.ReplaceAll("run|plot|time|channel|value|unit\nR|1|"+tt.cell+"|runoff_mass|1|g", "|", delim)
		b := bind(textTable(csv, 9, tt.comma), "s")
		for i := range b.Bindings {
			b.Bindings[i].Clock = tt.clock && b.Bindings[i].Name == "time"
		}
		got := reduce(t, b, Options{Start: func(string) (time.Time, bool) { return start, true }})
		if len(got.Series) != 1 || math.Abs(got.Series[0].Series.FirstMin-tt.want) > 1e-12 {
			t.Errorf("%q: %+v %v, want %v min", tt.cell, got.Series, got.Issues.All(), tt.want)
		}
	}
}

// Wide readings: a column per channel, each with its unit, empty cells passed over.
func TestWide(t *testing.T) {
	m := textTable("run,plot,time,runoff_mass,runoff_rate,pressure\nR,1,0,1,60,\nR,1,15,2,,48\nR,1,30,,,\n", 2, false)
	m.fields[4].Unit = "L/h"
	got := reduce(t, bind(m, "s"), Options{})
	if len(got.Series) != 3 || got.Empty != 5 || len(got.Issues.All()) != 0 {
		t.Fatalf("%+v, %d empty, %v", got.Series, got.Empty, got.Issues.All())
	}
	rate := got.Series[1].Series // 60 L/h are 1000 mL/min
	if rate.Channel != experiment.RunoffRate || !rate.VolumeRate || rate.First != 1000 {
		t.Errorf("rate %+v", rate)
	}
	if mass := got.Series[0].Series; mass.N != 2 || mass.Last != 2 {
		t.Errorf("mass %+v", mass)
	}
}

// Typed columns give what the text gives.
func TestTypedColumns(t *testing.T) {
	cols := []table.Column{
		{Kind: table.Dict, Codes: []int32{0, 0, 1, 1, 0}, Words: []string{"R", "S"}},
		{Kind: table.Int, Int: []int64{1, 2, 1, 7, 2}, Null: []bool{false, false, false, true, false}},
		{Kind: table.Float, Float: []float64{0, 1, 2, 3, math.NaN()}},
		{Kind: table.Dict, Codes: []int32{0, 0, 0, 1, 0}, Words: []string{"runoff_mass", "rain_rate"}},
		{Kind: table.Float, Float: []float64{1.5, 2, math.NaN(), 76, 4}, Null: []bool{false, true, false, false, false}},
		{Kind: table.Dict, Codes: []int32{0, 0, 0, 1, 0}, Words: []string{"g", "mm/h"}},
	}
	m := &memory{batches: []*table.Batch{table.NewBatch(5, cols, func(i int) int64 { return int64(i) + 1 }, nil)}}
	for _, n := range []string{"run", "plot", "time", "channel", "value", "unit"} {
		m.fields = append(m.fields, table.Field{Name: n})
	}
	got := reduce(t, bind(m, "s"), Options{})
	if p := places(&got.Issues); !slices.Equal(p, []string{"readings.not_finite@3:value", "readings.bad_time@5:time"}) {
		t.Errorf("issues %v", p)
	}
	if len(got.Series) != 2 || got.Empty != 1 {
		t.Fatalf("%+v, %d empty", got.Series, got.Empty)
	}
	if a, b := got.Series[0], got.Series[1]; a.Run != "R" || a.Plot != "1" || a.Series.First != 1.5 || b.Run != "S" || b.Plot != "" || b.Series.First != 76 {
		t.Errorf("%+v", got.Series)
	}
}

// What a mapping may say of a column: missing words (numbers among them),
// translation, constants and composed text.
func TestBindings(t *testing.T) {
	m := textTable("a,b,time,what,value\nR,1,0,scale,5\nR,1,1,scale,-99\nR,1,2,scale,-99.0\nR,1,3,scale,NA\nR,1,4,scale,trace\nR,1,5,tap,7\n", 3, false)
	b := bind(m, "s")
	missing := map[string]mapping.Meaning{"NA": mapping.NotMeasured, "-99": mapping.NotMeasured}
	for i := range b.Bindings {
		if b.Bindings[i].Name == "value" {
			b.Bindings[i].Missing, b.Bindings[i].Translate = missing, map[string]string{"trace": "0.5"}
		}
	}
	b.Bindings = append(b.Bindings,
		mapping.Binding{Name: "run", Source: -1, Compose: []mapping.Part{{Field: 0}, {Field: -1, Literal: "-"}, {Field: 1}}},
		mapping.Binding{Name: "plot", Source: -1, Constant: "P1"},
		mapping.Binding{Name: "channel", Source: 3, Header: "what", Translate: map[string]string{"scale": "runoff_mass"}, Missing: map[string]mapping.Meaning{"tap": mapping.NotMeasured}},
		mapping.Binding{Name: "unit", Source: -1, Constant: "g"},
	)
	got := reduce(t, b, Options{})
	if len(got.Series) != 1 || got.Series[0].Run != "R-1" || got.Series[0].Plot != "P1" || got.Series[0].Series.N != 2 || got.Series[0].Series.Last != 0.5 || got.Empty != 3 {
		t.Fatalf("%+v, %d empty", got.Series, got.Empty)
	}
	if p := places(&got.Issues); !slices.Equal(p, []string{"readings.unknown_channel@7:what"}) {
		t.Errorf("issues %v", p)
	}
}

// The unit may stand in the header of the value column.
func TestUnitOfHeader(t *testing.T) {
	b := bind(textTable("run,plot,time,channel,value\nR,1,0,runoff_mass,2\n", 3, false), "s")
	for i := range b.Bindings {
		if b.Bindings[i].Name == "value" {
			b.Bindings[i].Unit = quantity.MustParse("kg")
		}
	}
	got := reduce(t, b, Options{})
	if len(got.Series) != 1 || got.Series[0].Series.First != 2000 || len(got.Issues.All()) != 0 {
		t.Errorf("%+v %v", got.Series, got.Issues.All())
	}
}

// Issues of the batches come along, and a table without rows has no series.
func TestBatchIssues(t *testing.T) {
	m := textTable(head+"R,1,0,runoff_mass,2,g\n", 3, false)
	m.batches[0].Issues.Add(issue.Issue{Code: table.CodeRagged, Severity: issue.Error, File: "day/readings", Row: 9})
	got := reduce(t, bind(m, "s"), Options{})
	if p := places(&got.Issues); !slices.Equal(p, []string{"csv.ragged@9"}) {
		t.Errorf("issues %v", p)
	}
	m.batches = nil
	if got := reduce(t, bind(m, "s"), Options{}); len(got.Series) != 0 {
		t.Errorf("%+v", got.Series)
	}
}

func TestUnbound(t *testing.T) {
	for _, csv := range []string{"plot,time,channel,value\n", "run,channel,value\n", "run,time,channel\n", "run,time,value\n"} {
		if _, err := Reduce(context.Background(), bind(textTable(csv, 1, false), "s"), Options{Unit: unitFor}); !errors.Is(err, ErrBinding) {
			t.Errorf("%q: %v", csv, err)
		}
	}
}

// Long names are kept apart from one another, whatever their length.
func TestNames(t *testing.T) {
	var csv strings.Builder
	csv.WriteString(head)
	want := map[string]bool{}
	for n := 1; n <= 40; n++ {
		for _, c := range []string{"a", "b"} {
			run := strings.Repeat("x", n-1) + c
			want[run] = true
			for range 2 {
				csv.WriteString(run + ",1," + string(rune('0'+n%10)) + ",runoff_mass,1,g\n")
			}
		}
	}
	got := reduce(t, bind(textTable(csv.String(), 7, false), "s"), Options{Workers: 3})
	if len(got.Series) != len(want) {
		t.Fatalf("%d series, want %d", len(got.Series), len(want))
	}
	for _, s := range got.Series {
		if !want[s.Run] || s.Series.N != 2 {
			t.Errorf("%+v", s)
		}
	}
}
