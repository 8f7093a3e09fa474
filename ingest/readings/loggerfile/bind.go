package loggerfile

import (
	"sheetwash/analysis/experiment"
	"sheetwash/analysis/quantity"
	"sheetwash/ingest/mapping"
	"sheetwash/ingest/schema"
	"sheetwash/ingest/table"
)

// Bind binds a table with the columns of Header to the readings of the data
// dictionary, time in seconds.
func Bind(t table.Table) *mapping.Bound {
	readings, _ := schema.Find("readings")
	out := &mapping.Bound{Table: readings, Source: t}
	for i, f := range t.Fields() {
		column, ok := readings.Column(f.Name)
		if !ok {
			continue
		}
		b := mapping.Binding{Table: readings.Name, Name: f.Name, Column: column, Source: i, Header: f.Name}
		if f.Name == "time" {
			b.Numeric, b.Unit, b.Canonical = true, quantity.MustParse("s"), quantity.MustParse("min")
		}
		out.Bindings = append(out.Bindings, b)
	}
	return out
}

// Unit converts from UCUM codes to the channel's own unit.
func Unit(channel experiment.Channel, unit string) (conv quantity.Conversion, volumeRate, ok bool) {
	code, _ := schema.ChannelUnit(channel.String())
	to := quantity.MustParse(code)
	if unit == "" {
		unit = code
	}
	from, err := quantity.Parse(unit)
	if err != nil {
		return conv, false, false
	}
	if from.Dimension() == quantity.VolumeRate {
		to, volumeRate = quantity.MustParse("mL/min"), true
	}
	conv, err = from.To(to)
	return conv, volumeRate, err == nil
}
