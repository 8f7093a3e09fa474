package jobs

import (
	"context"
	"encoding/json"

	"sheetwash/api/store"
)

// Work is what the jobs do. Both functions may be called again for the same
// analysis, at the same time too; only the first answer is recorded.
type Work struct {
	// Dataset analyses the dataset at a position and keeps the part as a blob. A
	// problem instead of a part records the dataset as failed, without another
	// try: the data are bad. An error is tried again, up to 5 times.
	Dataset func(ctx context.Context, analysis store.Analysis, all []store.AnalysisDataset, position int) (partBlob string, problem json.RawMessage, err error)

	// Fold joins the parts, failed ones among them, into tables that it keeps as
	// blobs. A Rejection as the error fails the analysis without another try.
	Fold func(ctx context.Context, analysis store.Analysis, parts []store.AnalysisDataset) (tables []store.ResultTable, provenance json.RawMessage, err error)
}

// Rejection is an error that another try would not mend.
type Rejection struct{ Problem json.RawMessage }

func (Rejection) Error() string { return "the data do not allow an analysis" }
