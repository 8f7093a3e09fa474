package api

import (
	"context"
	"encoding/json"

	"sheetwash/analysis/derivation"
	"sheetwash/analysis/result"
	"sheetwash/api/report"
	"sheetwash/api/report/page"
	"sheetwash/api/store"
	"sheetwash/api/wire"
)

// Jobs is the queue of analyses.
type Jobs interface {
	// Submit enqueues an analysis in the transaction that writes it.
	Submit(ctx context.Context, tx *store.Tx, a store.Analysis) error
}

// Samples are the bottles of a dataset, of each plot by stream and time. What they
// have in common with their plot is left out.
type Samples map[PlotName][]wire.Sample

// PlotName names a plot within a dataset.
type PlotName struct{ Run, Plot string }

// Upload is a dataset as it lies on this machine while a request lasts.
type Upload struct {
	Name  string
	Files []UploadFile
	Zone  string // IANA name, of clock times without an offset; "": UTC
}

// UploadFile is a file of an upload. Name is what the caller calls it, a local
// path with slashes; Path is where it lies, under a name of our own.
type UploadFile struct {
	Name, Path, SHA256 string
	Bytes              int64
}

// Checked is what the checks say of an upload.
type Checked struct {
	Findings     []wire.Finding
	Counts       wire.Counts
	Rows         store.DatasetRows // ids are set, those of dataset and season are not
	Calibrations []byte            // for analyses of other datasets; nil: none
}

// Engine reads data and computes.
type Engine interface {
	// Valid reports what is wrong with the settings of an analysis, as a
	// *problem.Error.
	Valid(settings json.RawMessage) error
	// Check reads an upload and says what is wrong with it. A limit that the files
	// break is a *problem.Error.
	Check(ctx context.Context, u Upload) (*Checked, error)
	// Analyse computes the results of one upload. Where the checks find errors
	// there is no analysis.
	Analyse(ctx context.Context, u Upload, settings json.RawMessage) (*Checked, *result.Analysis, error)
	// Table opens a table of a successful analysis.
	Table(ctx context.Context, a store.Analysis, table string, units report.Units) (Table, error)
	// Explain returns the derivation of a row of a successful analysis, its value in the
	// units. A key that no row has is a *problem.Error that names the nearest.
	Explain(ctx context.Context, a store.Analysis, key string, units report.Units) (derivation.Node, error)
	// RScript returns a script of R that computes the treatments of a successful
	// analysis again.
	RScript(ctx context.Context, a store.Analysis) ([]byte, error)
	// Samples reads the bottles of an accepted dataset.
	Samples(ctx context.Context, d store.Dataset) (Samples, error)
	// Pages returns what the pages of a successful analysis are made of, which nobody
	// changes.
	Pages(ctx context.Context, a store.Analysis) (*page.Input, error)
	// Explainer returns what explains the rows of a successful analysis; nil where
	// that cannot be had any more.
	Explainer(ctx context.Context, a store.Analysis) (func(key string) *derivation.Node, error)
}

// Table is a stored result table. Rows are in the order of the results contract.
type Table interface {
	// Rows is how many rows there are.
	Rows() int64
	// JSON returns rows from first up to end, each a flat object, encoded as in
	// the JSON files of the command line, without what separates them.
	JSON(ctx context.Context, first, end int64) ([][]byte, error)
	Close() error
}
