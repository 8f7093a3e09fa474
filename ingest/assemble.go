package ingest

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"sheetwash/analysis/experiment"
	"sheetwash/analysis/quantity"
	"sheetwash/ingest/check"
	"sheetwash/ingest/units"
)

// assemble makes the dataset of a draft that has no errors: runs by identifier,
// plots likewise, samples by stream, start and end; no samples where bottles is
// false, since they take several times the bytes of their table.
func assemble(d *check.Draft, digest string, bottles bool) (*experiment.Dataset, error) {
	runs := make([]experiment.Run, d.Runs.N)
	for i := range runs {
		runs[i] = assembleRun(d.Runs, i)
	}
	shared := check.SharedUnits(d)
	s := newSamples(d)
	for p, r := range d.Links.RunOfPlot {
		plot := assemblePlot(d, p)
		if bottles {
			plot.Samples = s.ofPlot(p)
		}
		plot.ExperimentalUnit = check.ExperimentalUnit(d, shared, p)
		runs[r].Plots = append(runs[r].Plots, plot)
	}
	for i := range d.Samples.N {
		r := d.Links.RunOfSample(i)
		if bottles && s.isBlank(i) {
			runs[r].Blanks = append(runs[r].Blanks, s.sample(i))
		}
	}
	for i, logged := range d.Readings {
		if d.Links.PlotOfLogged[i] < 0 {
			r := &runs[d.Links.RunOfLogged[i]]
			r.Series = append(r.Series, logged.Series)
		}
	}
	for i := range runs {
		slices.SortFunc(runs[i].Plots, func(a, b experiment.Plot) int { return cmp.Compare(a.ID, b.ID) })
		slices.SortFunc(runs[i].Series, bySeries)
	}
	slices.SortFunc(runs, func(a, b experiment.Run) int { return cmp.Compare(a.ID, b.ID) })
	return experiment.New(experiment.Parts{Name: d.Dataset, Digest: digest, Runs: runs, Cans: assembleCans(d), Rigs: d.Rigs, Errors: d.Errors, Headers: headers(d)})
}

// headers returns the headers of columns that a file names otherwise than the
// data dictionary; a unit behind the name is no other name. Of a column that a
// file feeds from several, such as one per stream, there is none.
func headers(d *check.Draft) experiment.Headers {
	out, several := experiment.Headers{}, map[experiment.Heading]bool{}
	for _, f := range []*check.Frame{d.Runs, d.Plots, d.Samples, d.Cans} {
		for i := range f.Parts {
			for column, shown := range f.Parts[i].Shown {
				at := experiment.Heading{File: f.Parts[i].File, Column: column}
				if other, twice := out[at]; twice && other != shown.Header {
					several[at] = true
				}
				out[at] = shown.Header
			}
		}
	}
	for at, h := range out {
		if several[at] || h == "" || strings.HasPrefix(units.Normalise(h), at.Column) {
			delete(out, at)
		}
	}
	return out
}

func bySeries(a, b experiment.Series) int {
	return cmp.Or(cmp.Compare(a.Channel, b.Channel), cmp.Compare(a.Place.File, b.Place.File), cmp.Compare(a.Place.Row, b.Place.Row))
}

func place(f *check.Frame, i int) experiment.Place {
	return experiment.Place{File: f.Part(i).File, Row: f.Row(i)}
}

// optional returns cell i of a number column.
func optional(c *check.Column, i int) quantity.Optional {
	if v, ok := c.Value(i); ok {
		return quantity.Some(v)
	}
	return quantity.None()
}

func assembleRun(f *check.Frame, i int) experiment.Run {
	word := func(name string) string { return f.Column(name).Word(i) }
	rain, _ := f.Column("rain_duration").Value(i)
	return experiment.Run{
		ID: word("run"), Event: word("event"), Season: word("season"), Site: word("site"), Crew: word("crew"), Simulator: word("simulator"),
		Sequence: word("sequence"), Started: f.Column("started").Time(i),
		IntensityMMH: optional(f.Column("intensity"), i), RainMin: rain,
		PressureKPa: optional(f.Column("pressure"), i), WaterTempC: optional(f.Column("water_temperature"), i),
		WaterSource: word("water_source"), Note: word("note"),
		DissolvedGL: optional(f.Column("dissolved_solids"), i),
		Indoor:      f.Column("indoor").True(i), SubtractBlank: f.Column("subtract_blank").True(i),
		Place: place(f, i),
	}
}

func assemblePlot(d *check.Draft, i int) experiment.Plot {
	f := d.Plots
	word := func(name string) string { return f.Column(name).Word(i) }
	p := experiment.Plot{
		ID: word("plot"), Treatment: word("treatment"), Replicate: word("replicate"), Position: word("position"), Block: word("block"),
		IntensityMMH: optional(f.Column("intensity"), i), Slope: optional(f.Column("slope"), i),
		CoverPct: optional(f.Column("cover"), i), InitialWaterPct: optional(f.Column("initial_water"), i),
		CoverKind: word("cover_kind"), LandUse: word("land_use"), Soil: word("soil"),
		PondingMin: optional(f.Column("ponding_start"), i),
		Exclude:    f.Column("exclude").True(i), ExcludeReason: word("exclude_reason"),
		Place: place(f, i),
	}
	if c := f.Column("slope"); c != nil && c.U != nil {
		p.USlope = c.U[i]
	}
	p.Storage = assembleStorage(f, i)
	p.AreaM2, _ = f.Column("area").Value(i)
	if word("area_kind") == "surface" {
		p.AreaM2 *= math.Cos(math.Atan(p.Slope.Or(0)))
	}
	switch onset := f.Column("runoff_start"); onset.Is(i) {
	case check.Present:
		p.Onset, p.OnsetMin = experiment.OnsetNoted, onset.Num[i]
	case check.NotHappened:
		p.Onset = experiment.OnsetNone
	}
	for _, c := range f.Columns {
		if c.Open && c.Has(i) {
			p.Covariates = append(p.Covariates, experiment.Covariate{Name: c.Name, Value: c.Show(i)})
		}
	}
	for _, k := range d.Links.Logged(i) {
		p.Series = append(p.Series, d.Readings[k].Series)
	}
	slices.SortFunc(p.Series, bySeries)
	return p
}

// assembleStorage returns what was measured of the water in the soil; nil for nothing.
func assembleStorage(f *check.Frame, i int) *experiment.SoilWaterGain {
	s := experiment.SoilWaterGain{
		FinalWaterPct: optional(f.Column("final_water"), i), SoilDepthMM: optional(f.Column("soil_depth"), i),
		GravimetricBeforePct: optional(f.Column("gravimetric_before"), i), GravimetricAfterPct: optional(f.Column("gravimetric_after"), i),
		BulkDensityGCM3: optional(f.Column("bulk_density"), i),
		SoilBeforeG:     optional(f.Column("soil_mass_before"), i), SoilAfterG: optional(f.Column("soil_mass_after"), i),
		EdgeLossML: optional(f.Column("edge_loss"), i),
	}
	if s == (experiment.SoilWaterGain{}) {
		return nil
	}
	return &s
}

// samples holds the columns of the samples frame.
type samples struct {
	d                                                    *check.Draft
	f                                                    *check.Frame
	stream, flag, start, end, volume, gross, tare        *check.Column
	sediment, dishGross, dishTare, concentration         *check.Column
	temperature, turbidity, exclude, excludeReason, plot *check.Column
	analytes                                             []*check.Column
}

func newSamples(d *check.Draft) *samples {
	f := d.Samples
	s := &samples{
		d: d, f: f, stream: f.Column("stream"), flag: f.Column("flag"), start: f.Column("start"), end: f.Column("end"),
		volume: f.Column("volume"), gross: f.Column("gross_mass"), tare: f.Column("tare_mass"),
		sediment: f.Column("sediment_mass"), dishGross: f.Column("sediment_gross_mass"), dishTare: f.Column("sediment_tare_mass"),
		concentration: f.Column("concentration"), temperature: f.Column("water_temperature"), turbidity: f.Column("turbidity"),
		exclude: f.Column("exclude"), excludeReason: f.Column("exclude_reason"), plot: f.Column("plot"),
	}
	for _, c := range f.Columns {
		if c.Open && c.Num != nil {
			s.analytes = append(s.analytes, c)
		}
	}
	return s
}

func (s *samples) isBlank(i int) bool { return s.stream.Word(i) == experiment.Blank.String() }

// ofPlot returns the samples of plot row p in the order of its links.
func (s *samples) ofPlot(p int) []experiment.Sample {
	rows := s.d.Links.Samples(p)
	out := make([]experiment.Sample, 0, len(rows))
	for _, row := range rows {
		if !s.isBlank(int(row)) {
			out = append(out, s.sample(int(row)))
		}
	}
	return out
}

const analytePrefix = "analyte_"

func (s *samples) sample(i int) experiment.Sample {
	out := experiment.Sample{
		VolumeML: optional(s.volume, i), GrossG: optional(s.gross, i), TareG: optional(s.tare, i),
		SedimentG: optional(s.sediment, i), SedimentGrossG: optional(s.dishGross, i), SedimentTareG: optional(s.dishTare, i),
		ConcentrationGL: optional(s.concentration, i), WaterTempC: optional(s.temperature, i), TurbidityNTU: optional(s.turbidity, i),
		Exclude: s.exclude.True(i), ExcludeReason: s.excludeReason.Word(i),
		SedimentPending: check.SedimentIsPending(s.d, i),
		Place:           place(s.f, i),
	}
	out.Stream, _ = experiment.ParseStream(s.stream.Word(i))
	if w := s.flag.Word(i); w != "" {
		out.Flag, _ = experiment.ParseFlag(w)
	}
	out.StartMin, _ = s.start.Value(i)
	out.EndMin, _ = s.end.Value(i)
	for _, c := range s.analytes {
		if v, ok := c.Value(i); ok {
			name := c.Name
			if len(name) > len(analytePrefix) && name[:len(analytePrefix)] == analytePrefix {
				name = name[len(analytePrefix):]
			}
			out.Analytes = append(out.Analytes, experiment.Analyte{Name: name, Value: v, Unit: c.Unit})
		}
	}
	return out
}

func assembleCans(d *check.Draft) []experiment.Can {
	f := d.Cans
	out := make([]experiment.Can, 0, f.N)
	for i := range f.N {
		word := func(name string) string { return f.Column(name).Word(i) }
		can := experiment.Can{
			Calibration: word("calibration"), Simulator: word("simulator"), Position: word("position"), Date: f.Column("date").Time(i),
			XCM: optional(f.Column("x"), i), YCM: optional(f.Column("y"), i), PressureKPa: optional(f.Column("pressure"), i), Place: place(f, i),
		}
		can.DepthMM, _ = check.CanDepth(d, i, false)
		can.DurationMin, _ = f.Column("duration").Value(i)
		out = append(out, can)
	}
	return out
}
