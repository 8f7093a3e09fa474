package mapping

import (
	"context"
	"time"

	"sheetwash/ingest/schema"
	"sheetwash/ingest/table"
)

// Bound is a table that feeds one table of the data dictionary.
type Bound struct {
	Table    *schema.Table
	Source   table.Table    // what to scan; of a mapping with a join, a filter or an unpivot it is already joined, filtered and unpivoted
	Bindings []Binding      // columns of the dictionary in its order, then covariates, analytes and channels in the order of the file
	Wide     bool           // readings with one column per channel
	Zone     *time.Location // of stamps without an offset, from the mapping; nil: not given
}

// Binding returns the binding of one of our columns.
func (b *Bound) Binding(name string) (*Binding, bool) {
	for i := range b.Bindings {
		if b.Bindings[i].Name == name && b.Bindings[i].Column != nil {
			return &b.Bindings[i], true
		}
	}
	return nil, false
}

// Want returns, per field of the source, whether a binding reads it: the Want of
// table.ScanOptions.
func (b *Bound) Want() []bool {
	want := make([]bool, len(b.Source.Fields()))
	for i := range b.Bindings {
		if s := b.Bindings[i].Source; s >= 0 {
			want[s] = true
		}
		for _, p := range b.Bindings[i].Compose {
			if p.Field >= 0 {
				want[p.Field] = true
			}
		}
	}
	return want
}

// Files opens the tables of one dataset for a mapping.
type Files interface {
	// Names returns the paths of the dataset's files, slash-separated and sorted.
	Names() []string
	// Open opens the table at a location whose File is one of Names. What is
	// wrong with the file is in the table's Issues; the error is for I/O.
	Open(ctx context.Context, at Location) (table.Table, error)
}
