package schema_test

import (
	"slices"
	"strconv"
	"testing"
	"time"

	"sheetwash/analysis/experiment"
	"sheetwash/analysis/quantity"
	"sheetwash/ingest/schema"
)

// Every unit is one, the default can be converted to the unit that the program
// uses, and every example is a cell that its column takes.
func TestTables(t *testing.T) {
	for _, s := range schema.Tables() {
		seen := map[string]bool{}
		for _, c := range s.Columns {
			place := s.Name + "." + c.Name
			if seen[c.Name] || c.Meaning == "" {
				t.Errorf("%s: named twice or without a meaning", place)
			}
			seen[c.Name] = true
			if numeric := c.Kind == schema.Number || c.Kind == schema.Time; !numeric && c.Unit+c.Default != "" {
				t.Errorf("%s has a unit and no numbers", place)
			}
			if c.Unit != "" {
				unit, err := quantity.Parse(c.Unit)
				from, errFrom := quantity.Parse(c.Default)
				if err != nil || errFrom != nil || !from.Commensurable(unit) {
					t.Errorf("%s: unit %q, default %q: %v, %v", place, c.Unit, c.Default, err, errFrom)
				}
			}
			if c.Required && c.Example == "" {
				t.Errorf("%s is required and has no example", place)
			}
			checkExample(t, place, c)
		}
		for _, k := range s.Key {
			if c, ok := s.Column(k); !ok || !c.Required {
				t.Errorf("%s: the key column %s is not required", s.Name, k)
			}
		}
		if found, ok := schema.Find(s.Name); !ok || found.Name != s.Name {
			t.Errorf("Find(%s) = %v, %v", s.Name, found, ok)
		}
	}
	if _, ok := schema.Find("bottles"); ok {
		t.Error("there is no table of bottles")
	}
}

func checkExample(t *testing.T, place string, c schema.Column) {
	t.Helper()
	if c.Example == "" {
		return
	}
	var err error
	switch c.Kind {
	case schema.Number, schema.Time:
		_, err = strconv.ParseFloat(c.Example, 64)
	case schema.Bool:
		_, err = strconv.ParseBool(c.Example)
	case schema.Stamp:
		if _, err = time.Parse(time.RFC3339, c.Example); err != nil {
			_, err = time.Parse(time.DateOnly, c.Example)
		}
	case schema.Word:
		if !slices.Contains(c.Words, c.Example) {
			t.Errorf("%s: the example %q is none of %v", place, c.Example, c.Words)
		}
	}
	if err != nil {
		t.Errorf("%s: example %q: %v", place, c.Example, err)
	}
}

// The words of the dictionary are those of the domain, and every channel has a unit.
func TestWords(t *testing.T) {
	words := func(table, column string) []string {
		s, _ := schema.Find(table)
		c, ok := s.Column(column)
		if !ok {
			t.Fatalf("no column %s.%s", table, column)
		}
		return c.Words
	}
	for _, w := range words("samples", "stream") {
		if s, ok := experiment.ParseStream(w); !ok || s.String() != w {
			t.Errorf("the domain has no stream %q", w)
		}
	}
	for _, w := range words("samples", "flag") {
		if f, ok := experiment.ParseFlag(w); !ok || f.String() != w {
			t.Errorf("the domain has no flag %q", w)
		}
	}
	channels := words("readings", "channel")
	for _, c := range experiment.Channels() {
		if !slices.Contains(channels, c.String()) {
			t.Errorf("the dictionary has no channel %q", c)
		}
		unit, ok := schema.ChannelUnit(c.String())
		if _, err := quantity.Parse(unit); !ok || err != nil {
			t.Errorf("channel %s: unit %q, %v", c, unit, err)
		}
	}
	if len(channels) != len(experiment.Channels()) {
		t.Errorf("%d channels, %d in the domain", len(channels), len(experiment.Channels()))
	}
}
