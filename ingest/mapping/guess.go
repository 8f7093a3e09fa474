package mapping

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"sheetwash/analysis/quantity"
	"sheetwash/ingest/schema"
	"sheetwash/ingest/table"
	"sheetwash/ingest/units"
)

// sampled is a field with what its header and some of its cells tell.
type sampled struct {
	field    table.Field
	name     string   // header in small letters without its unit, words separated by blanks
	unitCode string   // as spelled in the header or the metadata; "": none
	values   []string // cells that are not empty, trimmed
	words    []string // of the values, those that stand for missing ones
	comma    bool
}

// sample takes a header apart and collects the cells of one field.
func sample(f table.Field, i int, rows [][]string, comma bool) sampled {
	s := sampled{field: f, comma: comma}
	h, _ := units.Split(f.Name, func(string) bool { return false })
	s.name, s.unitCode = strings.ReplaceAll(h.Name, "_", " "), h.Unit
	if s.unitCode == "" {
		s.cutSuffix(f.Name)
	} else if _, err := units.Resolve(s.unitCode); err != nil {
		s.unitCode = ""
	}
	if f.Unit != "" {
		s.unitCode = f.Unit
	}
	for _, row := range rows {
		if i >= len(row) {
			continue
		}
		v := strings.TrimSpace(row[i])
		switch {
		case v == "":
		case slices.Contains(missingWords, v):
			if !slices.Contains(s.words, v) {
				s.words = append(s.words, v)
			}
		default:
			s.values = append(s.values, v)
		}
	}
	return s
}

// cutSuffix takes the longest suffix of the header that is a unit.
func (s *sampled) cutSuffix(header string) {
	for at := 1; at < len(header)-1; at++ {
		if strings.IndexByte("_. -", header[at]) < 0 {
			continue
		}
		suffix := header[at+1:]
		if strings.Trim(suffix, "0123456789") == "" {
			continue
		}
		if _, err := units.Resolve(suffix); err == nil {
			s.name, s.unitCode = strings.ReplaceAll(units.Normalise(header[:at]), "_", " "), suffix
			return
		}
	}
}

// unitFor returns the unit as the target takes it.
func (s *sampled) unitFor(c target) (quantity.Unit, bool) {
	r, err := units.Resolve(s.unitCode, c.dimensions()...)
	return r.Unit, err == nil
}

// fit says how well a field suits a column, from 0 to 1, and why.
func fit(c target, s *sampled) (float64, string) {
	score, called := likeness(c, s.name)
	if score == 0 {
		return 0, ""
	}
	why := []string{called}
	unit, note := s.unitFits(c)
	if unit == 0 {
		return 0, ""
	}
	if note != "" {
		why = append(why, note)
	}
	values, note := s.valuesFit(c)
	if note != "" {
		why = append(why, note)
	}
	return min(1, score*unit*values), strings.Join(why, ", ")
}

// likeness compares the words of a header with a column's name and its synonyms.
func likeness(c target, header string) (float64, string) {
	own := strings.ReplaceAll(c.name, "_", " ")
	best, by := dice(header, own), own
	for _, w := range synonyms[c.table.Name][c.name] {
		if d := 0.95 * dice(header, w); d > best {
			best, by = d, w
		}
	}
	switch {
	case best < 0.5, best < 0.9 && isName(header):
		return 0, ""
	case header == own:
		return best, "the name"
	case best >= 0.9:
		return best, fmt.Sprintf("called %q", by)
	}
	return best, fmt.Sprintf("called much like %q", by)
}

// isName reports whether a header is the name of a column of the dictionary, so
// that it is not taken for one that is merely called much like it.
func isName(header string) bool {
	name := strings.ReplaceAll(header, " ", "_")
	return slices.ContainsFunc(schema.Tables(), func(t schema.Table) bool { return slices.Contains(names(&t), name) })
}

// telling are words that tell one weighing from another.
var telling = []string{"water", "wet", "dry", "gross", "tare", "full", "empty", "sediment"}

// dice is the share of words that two names have in common (Dice 1945): twice
// the common ones over all. Words of five and more letters may differ in one.
func dice(a, b string) float64 {
	x, y := strings.Fields(a), strings.Fields(b)
	if len(x) == 0 || len(y) == 0 {
		return 0
	}
	for _, w := range telling {
		if slices.Contains(x, w) != slices.Contains(y, w) && (slices.Contains(x, "mass") || slices.Contains(x, "weight")) {
			return 0
		}
	}
	common := 0
	taken := make([]bool, len(y))
	for _, w := range x {
		for k, v := range y {
			if !taken[k] && (w == v || min(len(w), len(v)) >= 5 && distance(w, v) <= 1) {
				taken[k] = true
				common++
				break
			}
		}
	}
	return 2 * float64(common) / float64(len(x)+len(y))
}

// unitFits returns a factor: above 1 for a unit of the right dimension, 0 for a
// wrong one, less than 1 where a number has none.
func (s *sampled) unitFits(c target) (float64, string) {
	switch {
	case c.numeric() && s.unitCode == "" && c.defaultUnit() == "":
		return 1, ""
	case c.numeric() && s.unitCode == "":
		return 0.8, fmt.Sprintf("no unit, %s assumed", c.defaultUnit())
	case !c.numeric() && s.unitCode != "":
		return 0.5, ""
	case !c.numeric():
		return 1, ""
	}
	u, ok := s.unitFor(c)
	if !ok {
		return 0, ""
	}
	return 1.15, "unit " + u.Code
}

// valuesFit returns the share of the cells that the column could take.
func (s *sampled) valuesFit(c target) (float64, string) {
	kind := schema.Number
	if c.column != nil {
		kind = c.column.Kind
	}
	if len(s.values) == 0 {
		return 0.8, "no values to look at"
	}
	good := 0
	for _, v := range s.values {
		if s.takes(c, kind, v) {
			good++
		}
	}
	share := float64(good) / float64(len(s.values))
	switch {
	case kind == schema.Text:
		return 1, ""
	case share == 1:
		return 1, ""
	}
	return share, fmt.Sprintf("%d of %d cells fit", good, len(s.values))
}

func (s *sampled) takes(c target, kind schema.Kind, v string) bool {
	switch kind {
	case schema.Number:
		_, err := units.Number(strings.TrimRight(v, "% "), s.comma)
		return err == nil || c.name == "slope" && strings.ContainsAny(v, "-–")
	case schema.Time:
		_, err := units.Time(v, units.TimeRule{Unit: quantity.MustParse("min"), Start: time.Unix(0, 0), Started: true, DecimalComma: s.comma})
		return err == nil || v == "none"
	case schema.Stamp:
		_, err := units.Stamp(v, nil)
		return err == nil
	case schema.Word:
		return slices.Contains(c.column.Words, strings.ToLower(v)) || c.name == "stream" && streamWords[strings.ToLower(v)] != ""
	case schema.Bool:
		return slices.Contains([]string{"true", "false", "yes", "no", "1", "0", "y", "n"}, strings.ToLower(v))
	}
	return true
}

// translation returns the words of a column that are not ours, with ours.
func (s *sampled) translation(c target) map[string]string {
	if c.column == nil || c.column.Kind != schema.Word {
		return nil
	}
	out := map[string]string{}
	for _, v := range s.values {
		ours := strings.ToLower(v)
		if slices.Contains(c.column.Words, v) {
			continue
		}
		if c.name == "stream" && streamWords[ours] != "" {
			ours = streamWords[ours]
		}
		if slices.Contains(c.column.Words, ours) {
			out[v] = ours
		}
	}
	if len(out) == 0 {
		return nil
	}
	return out
}

// missingIn returns the missing-value words that stand in columns which otherwise hold numbers.
func missingIn(columns []sampled) map[string]Meaning {
	out := map[string]Meaning{}
	for _, s := range columns {
		for _, w := range s.words {
			out[w] = NotMeasured
		}
	}
	if len(out) == 0 {
		return nil
	}
	return out
}
