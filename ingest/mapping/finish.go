package mapping

import (
	"cmp"
	"slices"
	"strings"

	"sheetwash/ingest/issue"
	"sheetwash/ingest/schema"
	"sheetwash/ingest/units"
)

// finish puts the bindings in order, keeps or reports the columns that are left
// and reports the required ones that are not there.
func (b *binder) finish() {
	b.leftOver()
	for _, bound := range b.bounds {
		b.checkForm(bound)
		b.checkRequired(bound)
		order(bound)
	}
}

// keepsCovariates reports whether unknown columns become covariates.
func (b *binder) keepsCovariates() bool { return b.plots() != nil }

func (b *binder) plots() *Bound {
	for _, bound := range b.bounds {
		if bound.Table.Name == "plots" {
			return bound
		}
	}
	return nil
}

// leftOver makes covariates of the columns that no name claimed, and notes
// those that nothing reads.
func (b *binder) leftOver() {
	plots := b.plots()
	for i, f := range b.fields {
		switch {
		case b.used[i]:
		case plots != nil && strings.TrimSpace(f.Name) != "":
			b.addCovariate(plots, i)
			b.report(issue.Note, ColumnCovariate, "plots", f.Name,
				"the data dictionary has no such column; it is kept as a covariate of the plot%s", didYouMean(bare(f.Name), b.free()))
		case strings.TrimSpace(f.Name) == "": // opening the file said so
		default:
			b.report(issue.Note, ColumnUnused, b.tableName(), f.Name,
				"the data dictionary has no such column; it is not read%s", didYouMean(bare(f.Name), b.free()))
		}
	}
}

func (b *binder) addCovariate(plots *Bound, i int) {
	b.used[i] = true
	name := strings.TrimSpace(b.fields[i].Name)
	plots.Bindings = append(plots.Bindings, Binding{Table: "plots", Name: name, Source: i, Header: b.fields[i].Name})
}

// free returns the names of the dictionary to which nothing is bound.
func (b *binder) free() []string {
	var out []string
	for _, bound := range b.bounds {
		for _, n := range names(bound.Table) {
			if b.byName[bound.Table.Name+"/"+n] == "" {
				out = append(out, n)
			}
		}
	}
	return out
}

func (b *binder) tableName() string {
	if len(b.bounds) == 0 {
		return ""
	}
	return b.bounds[len(b.bounds)-1].Table.Name
}

// checkForm reports readings that are neither long nor wide, or both.
func (b *binder) checkForm(bound *Bound) {
	has := func(name string) bool { return b.byName[bound.Table.Name+"/"+name] != "" }
	switch {
	case bound.Table.Name == "readings" && bound.Wide && (has("channel") || has("value")):
		b.report(issue.Error, ReadingsForm, "readings", "channel",
			"readings stand either one to a row, with channel and value, or in one column per channel; this table has both")
	case bound.Table.Name == "readings" && !bound.Wide:
		for _, n := range []string{"channel", "value"} {
			if !has(n) {
				b.missing(bound, n)
			}
		}
	case bound.Table.Name == "cans" && !has("depth") && !has("volume"):
		b.missing(bound, "depth")
	}
}

func (b *binder) checkRequired(bound *Bound) {
	for _, c := range bound.Table.Columns {
		if c.Required && b.byName[bound.Table.Name+"/"+c.Name] == "" && !bound.spares(c.Name) {
			b.missing(bound, c.Name)
		}
	}
}

// spares reports whether a required column may be absent: blanks have no plot,
// and neither blanks nor remainders have an interval.
func (b *Bound) spares(column string) bool {
	if b.Table.Name != "samples" {
		return false
	}
	stream, ok := b.Binding("stream")
	if !ok || stream.Source >= 0 || stream.Compose != nil {
		return false
	}
	return column == "plot" && stream.Constant == "blank" ||
		column == "end" && (stream.Constant == "blank" || stream.Constant == "remainder")
}

func (b *binder) missing(bound *Bound, name string) {
	var headers []string
	whole := map[string]string{}
	for i, f := range b.fields {
		if !b.boundTo(bound, i) {
			headers = append(headers, bare(f.Name))
			whole[bare(f.Name)] = f.Name
		}
	}
	like := ""
	if c := closest(name, headers); c != "" {
		like = "; the header most like it is \"" + whole[c] + "\""
	}
	b.report(issue.Error, ColumnMissing, bound.Table.Name, name,
		"the table %s needs a column %s%s; add it, rename the column that holds it or name that in mapping.yaml", bound.Table.Name, name, like)
}

// bare returns a header without its unit, in its normal form.
func bare(header string) string {
	h, _ := units.Split(header, func(string) bool { return false })
	return h.Name
}

// boundTo reports whether field i feeds a column of the dictionary.
func (b *binder) boundTo(bound *Bound, i int) bool {
	for _, x := range bound.Bindings {
		if x.Source == i && (x.Column != nil || x.Channel != "") {
			return true
		}
	}
	return false
}

// order puts the columns of the dictionary first, in its order.
func order(bound *Bound) {
	rank := func(x Binding) int {
		if x.Column == nil {
			return len(bound.Table.Columns)
		}
		return slices.IndexFunc(bound.Table.Columns, func(c schema.Column) bool { return c.Name == x.Name })
	}
	slices.SortStableFunc(bound.Bindings, func(a, c Binding) int {
		return cmp.Or(cmp.Compare(rank(a), rank(c)), cmp.Compare(a.Source, c.Source))
	})
}
