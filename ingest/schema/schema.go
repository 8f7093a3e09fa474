// Package schema is the data dictionary as data: the tables a dataset may have,
// their columns, dimensions, default units and an example. Reading, mapping,
// checking, templates and the documentation all take it from here.
//
// It is a leaf and holds no logic beyond look-up.
package schema

// Kind is what a column's cells are.
type Kind uint8

// The kinds of column. Number cells have a dimension; Time cells are minutes
// from the start of rain and may be written as h:mm:ss, mm:ss, a clock time or
// an ISO 8601 stamp; Word cells are one of Column.Words.
const (
	Text Kind = iota
	Number
	Time
	Stamp // ISO 8601 date or date-time
	Bool
	Word
)

// Column is one column of the data dictionary.
type Column struct {
	Name     string
	Kind     Kind
	Required bool
	Unit     string   // canonical unit inside the program (UCUM); "" for text
	Default  string   // unit taken where a file names none (UCUM); its use is a note
	Words    []string // for Word: what is accepted
	Example  string   // for templates, in Default units
	Meaning  string
}

// Table is one table of the data dictionary.
type Table struct {
	Name    string
	Key     []string // columns that identify a row; empty: none
	Open    bool     // some columns that are not named here are kept: any in plots (covariates), analyte_* in samples
	Meaning string
	Columns []Column
}

// Column returns the column of that name.
func (t *Table) Column(name string) (*Column, bool) {
	for i := range t.Columns {
		if t.Columns[i].Name == name {
			return &t.Columns[i], true
		}
	}
	return nil, false
}

// Find returns the table of that name.
func Find(name string) (*Table, bool) {
	for i := range tables {
		if tables[i].Name == name {
			return &tables[i], true
		}
	}
	return nil, false
}

// Tables returns the tables in the order of the data dictionary. The caller must not write to them.
func Tables() []Table { return tables }

var tables = []Table{
	{
		Name: "runs", Key: []string{"run"}, Meaning: "one row per application of rain",
		Columns: []Column{
			{Name: "run", Required: true, Example: "AM-1", Meaning: "identifier, unique in the dataset"},
			{Name: "event", Example: "Ashlock Mill", Meaning: "field day or trial date; the block in comparisons"},
			{Name: "season", Example: "2031", Meaning: "programme of field days"},
			{Name: "site", Example: "Ashlock Mill", Meaning: "place"},
			{Name: "crew", Example: "amber", Meaning: "who ran it"},
			{Name: "simulator", Example: "trailer-1", Meaning: "which simulator"},
			{Name: "started", Kind: Stamp, Example: "2031-05-14T10:05:00+01:00", Meaning: "start of rain"},
			{Name: "intensity", Kind: Number, Unit: "mm/h", Default: "mm/h", Example: "76", Meaning: "nominal or gauge-measured rain intensity"},
			{Name: "rain_duration", Kind: Number, Required: true, Unit: "min", Default: "min", Example: "30", Meaning: "rain on until rain off"},
			{Name: "sequence", Example: "dry", Meaning: "dry, wet, or the number of the run on the same soil"},
			{Name: "pressure", Kind: Number, Unit: "kPa", Default: "kPa", Example: "48", Meaning: "at the nozzle gauge"},
			{Name: "water_temperature", Kind: Number, Unit: "Cel", Default: "Cel", Example: "18", Meaning: "of the supply water"},
			{Name: "indoor", Kind: Bool, Example: "false", Meaning: "under a roof"},
			{Name: "water_source", Example: "rain tank", Meaning: "where the water came from"},
			{Name: "dissolved_solids", Kind: Number, Unit: "g/L", Default: "g/L", Example: "", Meaning: "left by the supply water when it is evaporated; given, it is taken off dried masses"},
			{Name: "subtract_blank", Kind: Bool, Example: "false", Meaning: "subtract the run's blanks from sediment masses"},
			{Name: "level_confirmed", Kind: Bool, Example: "true", Meaning: "the table was levelled, and its base looked at, before the rain"},
			{Name: "note", Example: "", Meaning: "anything else"},
		},
	},
	{
		Name: "plots", Key: []string{"run", "plot"}, Open: true, Meaning: "one row per plot under one run",
		Columns: []Column{
			{Name: "run", Required: true, Example: "AM-1", Meaning: "run of the plot"},
			{Name: "plot", Required: true, Example: "1", Meaning: "unique within the run"},
			{Name: "treatment", Required: true, Example: "meadow fescue ley", Meaning: "management or cover being compared"},
			{Name: "area", Kind: Number, Required: true, Unit: "m2", Default: "m2", Example: "0.75", Meaning: "catching area"},
			{Name: "area_kind", Kind: Word, Words: []string{"horizontal", "surface"}, Example: "horizontal", Meaning: "horizontal projection, or measured along the slope"},
			{Name: "replicate", Example: "1", Meaning: "replicate within the treatment"},
			{Name: "block", Example: "", Meaning: "block of the design; not given: the run"},
			{Name: "position", Example: "P1", Meaning: "place across the table"},
			{Name: "experimental_unit", Example: "", Meaning: "body of soil, where one stands under more than one run"},
			{Name: "intensity", Kind: Number, Unit: "mm/h", Default: "mm/h", Example: "", Meaning: "measured at this position"},
			{Name: "slope", Kind: Number, Unit: "1", Default: "%", Example: "2.5", Meaning: "measured, or a class such as 1-3 %"},
			{Name: "cover", Kind: Number, Unit: "%", Default: "%", Example: "80", Meaning: "residue or canopy"},
			{Name: "cover_kind", Example: "living grass", Meaning: "what covers the soil"},
			{Name: "land_use", Example: "meadow", Meaning: "use of the land shown"},
			{Name: "soil", Example: "silt loam", Meaning: "soil"},
			{Name: "initial_water", Kind: Number, Unit: "%", Default: "%", Example: "22", Meaning: "antecedent moisture, volumetric"},
			{Name: "final_water", Kind: Number, Unit: "%", Default: "%", Example: "", Meaning: "moisture after the run, volumetric; with soil_depth the water stored"},
			{Name: "soil_depth", Kind: Number, Unit: "mm", Default: "mm", Example: "", Meaning: "depth of soil that the water contents stand for"},
			{Name: "gravimetric_before", Kind: Number, Unit: "%", Default: "%", Example: "", Meaning: "water over dry soil by mass, before the run"},
			{Name: "gravimetric_after", Kind: Number, Unit: "%", Default: "%", Example: "", Meaning: "the same after the run; with bulk_density and soil_depth the water stored"},
			{Name: "bulk_density", Kind: Number, Unit: "g/cm3", Default: "g/cm3", Example: "", Meaning: "dry soil over its volume"},
			{Name: "soil_mass_before", Kind: Number, Unit: "g", Default: "g", Example: "", Meaning: "tray with its soil before the run"},
			{Name: "soil_mass_after", Kind: Number, Unit: "g", Default: "g", Example: "", Meaning: "the same after the run"},
			{Name: "edge_loss", Kind: Number, Unit: "mL", Default: "mL", Example: "", Meaning: "water that left the plot over its edges"},
			{Name: "runoff_start", Kind: Time, Unit: "min", Default: "min", Example: "6.5", Meaning: "observed first sustained runoff; none = none by the end of rain; empty = not noted"},
			{Name: "ponding_start", Kind: Time, Unit: "min", Default: "min", Example: "4", Meaning: "observed standing water"},
			{Name: "exclude", Kind: Bool, Example: "false", Meaning: "leave out of the statistics"},
			{Name: "exclude_reason", Example: "", Meaning: "why"},
		},
	},
	{
		Name: "samples", Open: true, Meaning: "one row per bottle or timed catch",
		Columns: []Column{
			{Name: "run", Required: true, Example: "AM-1", Meaning: "run of the bottle"},
			{Name: "plot", Required: true, Example: "1", Meaning: "plot of the bottle; empty for a blank"},
			{Name: "stream", Kind: Word, Required: true, Words: []string{"runoff", "drainage", "splash", "blank", "remainder"}, Example: "runoff", Meaning: "what was caught"},
			{Name: "start", Kind: Time, Unit: "min", Default: "min", Example: "5", Meaning: "start of the catch; not given: the previous end, then 0"},
			{Name: "end", Kind: Time, Required: true, Unit: "min", Default: "min", Example: "10", Meaning: "end of the catch"},
			{Name: "volume", Kind: Number, Unit: "mL", Default: "mL", Example: "740", Meaning: "volume of the suspension"},
			{Name: "gross_mass", Kind: Number, Unit: "g", Default: "g", Example: "", Meaning: "full bottle"},
			{Name: "tare_mass", Kind: Number, Unit: "g", Default: "g", Example: "", Meaning: "empty bottle"},
			{Name: "sediment_mass", Kind: Number, Unit: "g", Default: "g", Example: "1.82", Meaning: "oven-dry sediment"},
			{Name: "sediment_gross_mass", Kind: Number, Unit: "g", Default: "g", Example: "", Meaning: "dish or filter with dry sediment"},
			{Name: "sediment_tare_mass", Kind: Number, Unit: "g", Default: "g", Example: "", Meaning: "empty dish or filter"},
			{Name: "concentration", Kind: Number, Unit: "g/L", Default: "g/L", Example: "", Meaning: "sediment per volume of suspension"},
			{Name: "turbidity", Kind: Number, Unit: "{NTU}", Default: "{NTU}", Example: "", Meaning: "turbidity"},
			{Name: "water_temperature", Kind: Number, Unit: "Cel", Default: "Cel", Example: "", Meaning: "of this bottle; not given: the run's"},
			{Name: "flag", Kind: Word, Words: []string{"ok", "overflow", "spilled", "lost", "leak", "trace"}, Example: "ok", Meaning: "overflow, spilled, leak: the volume is a lower bound; lost: interval known, volume not"},
			{Name: "exclude", Kind: Bool, Example: "false", Meaning: "set this bottle aside"},
			{Name: "exclude_reason", Example: "", Meaning: "why"},
		},
	},
	{
		Name: "cans", Meaning: "one row per catch can of a calibration",
		Columns: []Column{
			{Name: "calibration", Required: true, Example: "C-1", Meaning: "identifier of the calibration"},
			{Name: "simulator", Example: "trailer-1", Meaning: "which simulator"},
			{Name: "date", Kind: Stamp, Example: "2031-05-13", Meaning: "when"},
			{Name: "x", Kind: Number, Unit: "cm", Default: "cm", Example: "30", Meaning: "place across"},
			{Name: "y", Kind: Number, Unit: "cm", Default: "cm", Example: "40", Meaning: "place along"},
			{Name: "position", Example: "P1", Meaning: "links to plots.position"},
			{Name: "volume", Kind: Number, Unit: "mL", Default: "mL", Example: "", Meaning: "caught volume; needs can_area or can_diameter"},
			{Name: "depth", Kind: Number, Unit: "mm", Default: "mm", Example: "12.7", Meaning: "caught depth; this or volume"},
			{Name: "can_area", Kind: Number, Unit: "cm2", Default: "cm2", Example: "", Meaning: "mouth area at the rim"},
			{Name: "can_diameter", Kind: Number, Unit: "cm", Default: "cm", Example: "", Meaning: "mouth diameter at the rim"},
			{Name: "duration", Kind: Number, Required: true, Unit: "min", Default: "min", Example: "10", Meaning: "of the catch"},
			{Name: "pressure", Kind: Number, Unit: "kPa", Default: "kPa", Example: "48", Meaning: "at the nozzle gauge"},
		},
	},
	{
		Name: "readings", Meaning: "one row per logger reading, or one column per channel",
		Columns: []Column{
			{Name: "run", Required: true, Example: "AM-1", Meaning: "run of the reading"},
			{Name: "plot", Example: "1", Meaning: "plot; empty for a channel of the run"},
			{Name: "time", Kind: Time, Required: true, Unit: "min", Default: "s", Example: "60", Meaning: "from the start of rain"},
			{Name: "channel", Kind: Word, Words: []string{
				"runoff_mass", "runoff_volume", "drainage_mass", "drainage_volume", "runoff_rate", "drainage_rate",
				"rain_rate", "rain_depth", "concentration", "pressure", "soil_water", "turbidity", "water_temperature",
			}, Example: "runoff_mass", Meaning: "what was measured"},
			{Name: "value", Kind: Number, Example: "12.5", Meaning: "the reading, in the unit of its row"},
			{Name: "unit", Example: "g", Meaning: "unit of the value; not given: the channel's own"},
		},
	},
}

// ChannelUnit returns the canonical unit (UCUM) of a readings channel, which is
// also its default.
func ChannelUnit(channel string) (string, bool) {
	u, ok := channelUnits[channel]
	return u, ok
}

var channelUnits = map[string]string{
	"runoff_mass": "g", "runoff_volume": "mL", "drainage_mass": "g", "drainage_volume": "mL",
	"runoff_rate": "mm/h", "drainage_rate": "mm/h", "rain_rate": "mm/h", "rain_depth": "mm",
	"concentration": "g/L", "pressure": "kPa", "soil_water": "%", "turbidity": "{NTU}", "water_temperature": "Cel",
}
