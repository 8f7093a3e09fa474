package store

import (
	"encoding/json"
	"time"
)

// Season is a programme of field days with a time zone and a unit preference.
type Season struct {
	ID, Name  string
	TimeZone  string // IANA name
	Units     string // "si" or "us"
	Published bool   // readable without a key, where the operator allows it
	Revision  int64  // starts at 1, grows with each change
	CreatedAt time.Time
	UpdatedAt time.Time
}

// Event is one field day or trial date of a season.
type Event struct {
	ID, SeasonID, Name string
	Date               string // 2006-01-02, or empty
	Place, Crew        string
	Simulator          string
	Revision           int64
	CreatedAt          time.Time
	UpdatedAt          time.Time
}

// States of a dataset. Deleted is a tombstone: the name and digest of what was
// there, without rows or bytes.
const (
	DatasetAccepted = "accepted"
	DatasetRejected = "rejected"
	DatasetDeleted  = "deleted"
)

// File is one file of a dataset; its bytes are the blob of the same digest.
type File struct {
	Name   string `json:"name"`
	SHA256 string `json:"sha256"` // lower-case hexadecimal
	Bytes  int64  `json:"bytes"`
}

// Dataset is an upload as it was received. SHA256 is a digest over the names and
// digests of its files; the same digest into the same season and event is the
// same dataset.
type Dataset struct {
	ID, SeasonID            string
	EventID                 string // empty: of no event
	Name, SHA256            string
	Bytes                   int64
	Files                   []File
	State                   string
	Errors, Warnings, Notes int    // findings by severity
	FindingsBlob            string // digest of the blob with all findings
	CalibrationsBlob        string // digest of the blob with its catch cans, for analyses of other datasets
	CreatedBy               string // id of a key, or empty
	CreatedAt               time.Time
	UpdatedAt               time.Time
	DeletedAt               *time.Time
	Revision                int64
}

// DatasetRows are the rows that an accepted dataset brings with it.
type DatasetRows struct {
	Runs         []RunRow
	Plots        []PlotRow
	Calibrations []CalibrationRow
}

// RunRow is one run of a dataset. Event and Run are the words of the files.
type RunRow struct {
	ID, SeasonID, EventID, DatasetID string // EventID is the dataset's, set by InsertDataset
	Event, Run, Simulator            string
	Started                          string // RFC 3339, a date, or empty; sorts and filters as an instant
	Plots                            int
	UpdatedAt                        time.Time
}

// PlotRow is one plot under one run.
type PlotRow struct {
	ID, SeasonID, EventID, DatasetID, RunID string
	Event, Run, Plot, Treatment, Block      string
	TreatmentID                             string // TreatmentID(SeasonID, Treatment), set by InsertDataset
	Excluded                                bool
	ExcludeReason                           string
	Revision                                int64
	UpdatedAt                               time.Time
}

// CalibrationRow is one calibration of a simulator, found in a dataset.
type CalibrationRow struct {
	ID, SeasonID, EventID, DatasetID string
	Calibration, Simulator           string
	Date                             string // 2006-01-02, or empty
	Cans                             int
	UpdatedAt                        time.Time
}

// Treatment is a management compared in a season: the distinct names among the
// plots of its accepted datasets. ID is a UUIDv5 of season and name.
type Treatment struct {
	ID, SeasonID, Name string
	Plots, Excluded    int // plots, and those among them that are excluded
	Runs, Datasets     int
}

// States of an analysis. Accepted and running lead to one of the others, which
// are final, except that a final one can still be dismissed.
const (
	AnalysisAccepted   = "accepted"
	AnalysisRunning    = "running"
	AnalysisSuccessful = "successful"
	AnalysisFailed     = "failed"
	AnalysisDismissed  = "dismissed"
)

// Analysis is a request to compute over datasets. Done counts the datasets that
// are through, Failed those among them without a result: at the end Done is Total.
type Analysis struct {
	ID, SeasonID, State   string
	Parameters            json.RawMessage
	Provenance            json.RawMessage // nil until successful
	Done, Total, Failed   int
	CreatedBy             string
	CreatedAt             time.Time
	UpdatedAt             time.Time
	StartedAt, FinishedAt *time.Time
	Problem               json.RawMessage // why it failed, or nil
	Revision              int64
}

// Over reports whether the analysis changes no more by itself.
func (a Analysis) Over() bool { return a.State != AnalysisAccepted && a.State != AnalysisRunning }

// States of a dataset within an analysis.
const (
	PartPending = "pending"
	PartDone    = "done"
	PartFailed  = "failed"
)

// AnalysisDataset is one dataset of an analysis. Position counts from 0 in the
// order of the request, which is the order of the results.
type AnalysisDataset struct {
	AnalysisID, DatasetID string
	Position              int
	State                 string
	PartBlob              string          // digest of the analysed part, when done
	Problem               json.RawMessage // why there is no part, when failed
	DatasetState          string          // state of the dataset today; "deleted" when its bytes are gone
}

// ResultTable says where one encoding of one table of an analysis lies.
type ResultTable struct {
	AnalysisID, Table string
	Encoding          string // "json-si", "index-json-si", ...
	Blob              string // digest
	Bytes, Rows       int64
}

// LatestResult names the newest successful analysis that has a part of a dataset.
type LatestResult struct{ SeasonID, DatasetID, AnalysisID string }

// Roles of a key, each with the rights of the one before it.
const (
	RoleReader   = "reader"
	RoleRecorder = "recorder"
	RoleManager  = "manager"
)

// Key is a caller's key without its secret, of which only the SHA-256 is kept.
type Key struct {
	ID, Name, Role                   string
	Seasons                          []string // empty: all seasons
	Origins                          []string // CORS origins that may use it
	CreatedBy                        string   // id of a key; empty: the operator
	CreatedAt                        time.Time
	ExpiresAt, LastUsedAt, RevokedAt *time.Time
}

// Scope is what the key may read and write: its seasons, or all.
func (k Key) Scope() Scope { return Scope{All: len(k.Seasons) == 0, Seasons: k.Seasons} }

// ProgressEvent is one change of an analysis. Seq counts from 1 within it. Data
// is {"state":…,"done":…,"total":…,"failed":…}.
type ProgressEvent struct {
	AnalysisID string
	Seq        int64
	At         time.Time
	Data       json.RawMessage
}

// AuditEntry says who did what to what. The log only grows.
type AuditEntry struct {
	Seq      int64 // given by the store
	At       time.Time
	SeasonID string // empty: of no season
	Caller   string // id of a key, "operator" or "anonymous"
	Action   string // such as "dataset.delete"
	Object   string // id
	Detail   string
}
