package mapping_test

import (
	"strings"
	"testing"

	"sheetwash/ingest/issue"
	"sheetwash/ingest/mapping"
	"sheetwash/ingest/table"
)

func TestResolve(t *testing.T) {
	for _, tt := range []struct {
		name, header string
		tables       []string
		bound        []string
		found        []string
	}{
		{
			name: "all units stated", header: "run,plot,stream,start [min],end (min),volume_mL,sediment mass [g]", tables: []string{"samples"},
			bound: []string{
				"samples.run <- run", "samples.plot <- plot", "samples.stream <- stream", "samples.start <- start [min] [min > min]",
				"samples.end <- end (min) [min > min]", "samples.volume <- volume_mL [mL > mL]", "samples.sediment_mass <- sediment mass [g] [g > g]",
			},
		},
		{
			name: "US units", header: "RUN,Plot,Stream,END [min],Volume [oz],Sediment-Mass [oz],Concentration.ppm", tables: []string{"samples"},
			bound: []string{
				"samples.run <- RUN", "samples.plot <- Plot", "samples.stream <- Stream", "samples.end <- END [min] [min > min]",
				"samples.volume <- Volume [oz] [[foz_us] > mL]", "samples.sediment_mass <- Sediment-Mass [oz] [[oz_av] > g]",
				"samples.concentration <- Concentration.ppm [mg/L > g/L]",
			},
			found: []string{"note unit.parts_per Concentration.ppm", "note unit.us_gallon Volume [oz]"},
		},
		{
			name: "defaults are notes", header: "run,plot,treatment,area,slope", tables: []string{"plots"},
			bound: []string{
				"plots.run <- run", "plots.plot <- plot", "plots.treatment <- treatment", "plots.area <- area [m2 > m2]", "plots.slope <- slope [% > 1]",
			},
			found: []string{"note unit.default area", "note unit.default slope"},
		},
		{
			name: "slope in degrees", header: "run,plot,treatment,area [ft2],slope [deg]", tables: []string{"plots"},
			bound: []string{
				"plots.run <- run", "plots.plot <- plot", "plots.treatment <- treatment", "plots.area <- area [ft2] [[ft_i]2 > m2]", "plots.slope <- slope [deg] [deg > 1]",
			},
		},
		{
			name: "covariates", header: "run,plot,treatment,area [m2],surface,slope_class,plot_size", tables: []string{"plots"},
			bound: []string{
				"plots.run <- run", "plots.plot <- plot", "plots.treatment <- treatment", "plots.area <- area [m2] [m2 > m2]",
				"plots.surface <- surface", "plots.slope_class <- slope_class", "plots.plot_size <- plot_size",
			},
			found: []string{"note column.covariate plot_size", "note column.covariate slope_class", "note column.covariate surface"},
		},
		{
			name: "unused in a closed table", header: "run,rain_duration [min],weather,", tables: []string{"runs"},
			bound: []string{"runs.run <- run", "runs.rain_duration <- rain_duration [min] [min > min]"},
			found: []string{"note column.unused weather"},
		},
		{
			name: "missing and like it", header: "run,plot,strem,volume [mL]", tables: []string{"samples"},
			bound: []string{"samples.run <- run", "samples.plot <- plot", "samples.volume <- volume [mL] [mL > mL]"},
			found: []string{"error column.missing end", "error column.missing stream", "note column.unused strem"},
		},
		{
			name: "twice", header: "run,rain_duration [min],rain duration (h)", tables: []string{"runs"},
			bound: []string{"runs.run <- run", "runs.rain_duration <- rain_duration [min] [min > min]"},
			found: []string{"error column.duplicate rain duration (h)"},
		},
		{
			name: "an unknown unit in brackets", header: "run,plot,stream,end [min],volume [furlong]", tables: []string{"samples"},
			bound: []string{"samples.run <- run", "samples.plot <- plot", "samples.stream <- stream", "samples.end <- end [min] [min > min]"},
			found: []string{"error unit.unknown volume [furlong]"},
		},
		{
			name: "an unknown unit as suffix", header: "run,plot,stream,end [min],volume_mll", tables: []string{"samples"},
			bound: []string{"samples.run <- run", "samples.plot <- plot", "samples.stream <- stream", "samples.end <- end [min] [min > min]"},
			found: []string{"error unit.unknown volume_mll"},
		},
		{
			name: "a suffix that is no unit beside the column itself", header: "run,plot,stream,end [min],volume [mL],volume_ok", tables: []string{"samples"},
			bound: []string{
				"samples.run <- run", "samples.plot <- plot", "samples.stream <- stream", "samples.end <- end [min] [min > min]", "samples.volume <- volume [mL] [mL > mL]",
			},
			found: []string{"note column.unused volume_ok"},
		},
		{
			name: "the wrong dimension", header: "run,rain_duration [min],intensity [in]", tables: []string{"runs"},
			bound: []string{"runs.run <- run", "runs.rain_duration <- rain_duration [min] [min > min]"},
			found: []string{"error unit.dimension intensity [in]"},
		},
		{
			name: "a required column with a wrong unit is not missing as well", header: "run,rain_duration_mm", tables: []string{"runs"},
			bound: []string{"runs.run <- run"},
			found: []string{"error unit.dimension rain_duration_mm"},
		},
		{
			name: "analytes", header: "run,plot,stream,end [min],analyte_nitrate [mg/L],analyte_phosphorus_ug_L,analyte_pH", tables: []string{"samples"},
			bound: []string{
				"samples.run <- run", "samples.plot <- plot", "samples.stream <- stream", "samples.end <- end [min] [min > min]",
				"samples.analyte_nitrate <- analyte_nitrate [mg/L] [mg/L > mg/L]", "samples.analyte_phosphorus <- analyte_phosphorus_ug_L [ug/L > ug/L]", "samples.analyte_ph <- analyte_pH",
			},
			found: []string{"warning unit.missing analyte_pH"},
		},
		{
			name: "long readings", header: "run,plot,time,channel,value,unit", tables: []string{"readings"},
			bound: []string{
				"readings.run <- run", "readings.plot <- plot", "readings.time <- time [s > min]", "readings.channel <- channel", "readings.value <- value", "readings.unit <- unit",
			},
			found: []string{"note unit.default time"},
		},
		{
			name: "wide readings", header: "run,time [s],runoff_mass [kg],rain_rate,runoff_rate [L/min],soil_water_%", tables: []string{"readings"},
			bound: []string{
				"readings.run <- run", "readings.time <- time [s] [s > min]", "readings.runoff_mass <- runoff_mass [kg] [kg > g]", "readings.rain_rate <- rain_rate [mm/h > mm/h]",
				"readings.runoff_rate <- runoff_rate [L/min] [L/min > mL/min]", "readings.soil_water <- soil_water_% [% > %]",
			},
			found: []string{"note unit.default rain_rate"},
		},
		{
			name: "readings of neither form", header: "run,time [s]", tables: []string{"readings"},
			bound: []string{"readings.run <- run", "readings.time <- time [s] [s > min]"},
			found: []string{"error column.missing channel", "error column.missing value"},
		},
		{
			name: "readings of both forms", header: "run,time [s],value,runoff_mass [g]", tables: []string{"readings"},
			bound: []string{"readings.run <- run", "readings.time <- time [s] [s > min]", "readings.value <- value", "readings.runoff_mass <- runoff_mass [g] [g > g]"},
			found: []string{"error readings.form channel"},
		},
		{
			name: "cans without a catch", header: "calibration,duration [min]", tables: []string{"cans"},
			bound: []string{"cans.calibration <- calibration", "cans.duration <- duration [min] [min > min]"},
			found: []string{"error column.missing depth"},
		},
		{
			name:   "one joined table",
			header: "run,plot,treatment,area [m2],rain_duration [min],intensity [mm/h],stream,end [min],volume [mL],water_temperature [Cel],exclude,tillage", tables: []string{"runs", "plots", "samples"},
			bound: []string{
				"runs.run <- run", "runs.rain_duration <- rain_duration [min] [min > min]",
				"plots.run <- run", "plots.plot <- plot", "plots.treatment <- treatment", "plots.area <- area [m2] [m2 > m2]", "plots.intensity <- intensity [mm/h] [mm/h > mm/h]", "plots.tillage <- tillage",
				"samples.run <- run", "samples.plot <- plot", "samples.stream <- stream", "samples.end <- end [min] [min > min]", "samples.volume <- volume [mL] [mL > mL]",
				"samples.water_temperature <- water_temperature [Cel] [Cel > Cel]", "samples.exclude <- exclude",
			},
			found: []string{"note column.covariate tillage"},
		},
		{
			name: "a unit on text is ignored", header: "run [no],rain_duration [min]", tables: []string{"runs"},
			bound: []string{"runs.run <- run [no]", "runs.rain_duration <- rain_duration [min] [min > min]"},
			found: []string{"note unit.ignored run [no]"},
		},
	} {
		t.Run(tt.name, func(t *testing.T) {
			var issues issue.List
			bounds := mapping.Resolve(open(t, "x.csv", tt.header+"\n"), tt.tables, &issues)
			equal(t, "bindings", bindings(bounds), tt.bound)
			equal(t, "findings", codes(&issues), tt.found)
		})
	}
}

// metadata is a table whose units stand in field metadata, as in Parquet.
type metadata struct {
	table.Table
	units map[string]string
}

func (m metadata) Fields() []table.Field {
	fields := append([]table.Field(nil), m.Table.Fields()...)
	for i := range fields {
		fields[i].Unit = m.units[fields[i].Name]
	}
	return fields
}

func TestResolveMetadata(t *testing.T) {
	tab := metadata{open(t, "runs.csv", "run,rain_duration,intensity [mm/h],pressure [kPa]\n"), map[string]string{
		"rain_duration": "h", "intensity [mm/h]": "mm/hr", "pressure [kPa]": "[psi]",
	}}
	var issues issue.List
	bounds := mapping.Resolve(tab, []string{"runs"}, &issues)
	equal(t, "bindings", bindings(bounds), []string{"runs.run <- run", "runs.intensity <- intensity [mm/h] [mm/h > mm/h]", "runs.rain_duration <- rain_duration [h > min]"})
	equal(t, "findings", codes(&issues), []string{"error unit.conflict pressure [kPa]"})
}

// A finding says what to do: the closest header for a missing column, the
// closest column for a header that is not known.
func TestSuggestions(t *testing.T) {
	var issues issue.List
	mapping.Resolve(open(t, "samples.csv", "run,plot,stream,end_tim [min],volum [mL]\n"), []string{"samples"}, &issues)
	text := ""
	for _, i := range issues.All() {
		text += i.Error() + "\n"
	}
	for _, want := range []string{
		`samples.csv [end]: the table samples needs a column end; the header most like it is "end_tim [min]"`,
		`samples.csv [volum [mL]]: the data dictionary has no such column; it is not read; did you mean "volume"?`,
	} {
		if !strings.Contains(text, want) {
			t.Errorf("no finding says %q:\n%s", want, text)
		}
	}
}

func TestRecognise(t *testing.T) {
	joined := "run,plot,treatment,area [m2],rain_duration [min],stream,end [min],volume [mL]"
	for _, tt := range []struct{ name, header, want string }{
		{"runs", "x", "runs"},
		{"plots", "run,plot,treatment,area", "plots"},
		{"plots", "run,plot,treatment,area,rain_duration", "runs plots"},
		{"samples", "run,plot,stream,end", "samples"},
		{"samples", joined, "runs plots samples"},
		{"fieldbook", joined, "runs plots samples"},
		{"fieldbook", "Run,Plot,Treatment,Area (ft2)", "plots"},
		{"bottles", "run,plot,stream,end_s,volume", "samples"},
		{"log", "run,time,channel,value", "readings"},
		{"log", "run,time,runoff_mass [g],rain_rate", "readings"},
		{"grid", "calibration,x,y,depth,duration", "cans"},
		{"weather", "day,wind", ""},
		{"readings", "anything", "readings"},
	} {
		got := strings.Join(mapping.Recognise(tt.name, open(t, "x.csv", tt.header+"\n").Fields()), " ")
		if got != tt.want {
			t.Errorf("Recognise(%q, %s) = %q, want %q", tt.name, tt.header, got, tt.want)
		}
	}
}
