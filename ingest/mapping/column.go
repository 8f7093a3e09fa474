package mapping

import (
	"fmt"
	"strings"

	"github.com/agnivade/levenshtein"

	"sheetwash/analysis/quantity"
	"sheetwash/ingest/schema"
)

// target is what one name of the data dictionary accepts: a column, a channel
// of the wide readings, or an analyte.
type target struct {
	table   *schema.Table
	name    string
	column  *schema.Column // nil for channels and analytes
	channel string
	analyte bool
}

// analytePrefix begins the columns of samples that hold any other concentration.
const analytePrefix = "analyte_"

// findTarget returns what a normalised name means in a table.
func findTarget(t *schema.Table, name string) (target, bool) {
	if c, ok := t.Column(name); ok {
		return target{table: t, name: name, column: c}, true
	}
	if t.Name == "readings" {
		if _, ok := schema.ChannelUnit(name); ok {
			return target{table: t, name: name, channel: name}, true
		}
	}
	if t.Name == "samples" && strings.HasPrefix(name, analytePrefix) && len(name) > len(analytePrefix) {
		return target{table: t, name: name, analyte: true}, true
	}
	return target{}, false
}

// numeric reports whether the cells are numbers or times and so have a unit.
func (c target) numeric() bool {
	return c.column == nil || c.column.Kind == schema.Number || c.column.Kind == schema.Time
}

// defaultUnit returns the unit taken where a file names none; "" if there is none.
func (c target) defaultUnit() string {
	if c.channel != "" {
		u, _ := schema.ChannelUnit(c.channel)
		return u
	}
	if c.column != nil {
		return c.column.Default
	}
	return ""
}

// dimensions returns the dimensions that the unit may have; none: any.
func (c target) dimensions() []quantity.Dimension {
	canonical := c.canonicalCode()
	if canonical == "" {
		return nil
	}
	dims := []quantity.Dimension{quantity.MustParse(canonical).Dimension()}
	switch {
	case c.name == "slope" && c.column != nil:
		dims = append(dims, quantity.Angle)
	case c.channel == "runoff_rate" || c.channel == "drainage_rate":
		dims = append(dims, quantity.VolumeRate)
	}
	return dims
}

func (c target) canonicalCode() string {
	if c.channel != "" {
		u, _ := schema.ChannelUnit(c.channel)
		return u
	}
	if c.column != nil {
		return c.column.Unit
	}
	return ""
}

// canonical returns the unit of the decoded numbers for cells in unit: the
// dictionary's own, mL/min for a rate channel stated as volume per time, and the unit itself where
// the dictionary has none (analytes, the value of long readings).
func (c target) canonical(unit quantity.Unit) quantity.Unit {
	code := c.canonicalCode()
	if code == "" {
		return unit
	}
	if c.channel != "" && unit.Dimension() == quantity.VolumeRate {
		return quantity.MustParse("mL/min")
	}
	return quantity.MustParse(code)
}

// binding returns an empty binding of the target.
func (c target) binding() Binding {
	return Binding{
		Table: c.table.Name, Name: c.name, Column: c.column, Channel: c.channel,
		Source: -1, Numeric: c.numeric(),
	}
}

// names returns the names that a table accepts, for suggestions.
func names(t *schema.Table) []string {
	var out []string
	for _, c := range t.Columns {
		out = append(out, c.Name)
		if t.Name == "readings" && c.Name == "channel" {
			out = append(out, c.Words...)
		}
	}
	return out
}

// closest returns the candidate that is most like name, or "" if none is near:
// at most a third of its letters differ, or one holds the other.
func closest(name string, candidates []string) string {
	best, least := "", 1<<30
	for _, c := range candidates {
		d := distance(strings.ToLower(name), strings.ToLower(c))
		near := d <= max(1, min(len(name), len(c))/3)
		if !near && min(len(name), len(c)) >= 3 && (strings.Contains(strings.ToLower(name), strings.ToLower(c)) || strings.Contains(strings.ToLower(c), strings.ToLower(name))) {
			near = true
		}
		if near && d < least {
			best, least = c, d
		}
	}
	return best
}

// didYouMean returns a clause for a message, or "".
func didYouMean(name string, candidates []string) string {
	if c := closest(name, candidates); c != "" {
		return fmt.Sprintf("; did you mean %q?", c)
	}
	return ""
}

// distance is the number of letters to insert, delete or replace (Levenshtein
// 1966). Long texts are cut: a header of more than 60 bytes is like none.
func distance(a, b string) int {
	return levenshtein.ComputeDistance(a[:min(len(a), 60)], b[:min(len(b), 60)])
}
