package wire

import (
	"encoding/json"
	"time"
)

// NewAnalysis asks for an analysis. Either datasets or season is given; season
// takes every accepted dataset of it.
type NewAnalysis struct {
	Season     string    `json:"season,omitempty"`
	Datasets   []string  `json:"datasets,omitempty"`
	Parameters *Settings `json:"parameters,omitempty"`
} // @name NewAnalysis

// Settings are the settings of an analysis. What is not given takes the
// dataset's analysis.yaml, then the default.
type Settings struct {
	Level          *float64           `json:"level,omitempty" minimum:"0.80" maximum:"0.99"` // of intervals; default 0.95
	ThresholdShare *float64           `json:"threshold_share,omitempty"`                     // of the intensity that the runoff rate passes
	SmoothingS     *float64           `json:"smoothing_s,omitempty"`                         // window of the slope of a logged channel, s
	FinalMin       *float64           `json:"final_min,omitempty"`                           // window of the final runoff rate, min
	Reference      string             `json:"reference,omitempty" maxLength:"200"`           // treatment that the others are compared with
	Models         bool               `json:"models,omitempty"`                              // fit every infiltration model
	Errors         map[string]float64 `json:"errors,omitempty"`                              // measurement errors by the names of analysis.yaml
} // @name Settings

// Analysis is the state of an analysis.
type Analysis struct {
	ID         string          `json:"id"`
	SeasonID   string          `json:"season"`
	State      string          `json:"state" enums:"accepted,running,successful,failed,dismissed"`
	Progress   Progress        `json:"progress"`
	Parameters json.RawMessage `json:"parameters" swaggertype:"object"`
	CreatedBy  *string         `json:"created_by" extensions:"x-nullable"` // id of a key
	CreatedAt  time.Time       `json:"created_at" format:"date-time"`
	StartedAt  *time.Time      `json:"started_at" format:"date-time" extensions:"x-nullable"`
	FinishedAt *time.Time      `json:"finished_at" format:"date-time" extensions:"x-nullable"`
	Datasets   []AnalysisPart  `json:"datasets,omitempty"` // of a single analysis, not in lists
	Provenance json.RawMessage `json:"provenance,omitempty" swaggertype:"object"`
	Problem    json.RawMessage `json:"problem,omitempty" swaggertype:"object"`
	Links      Links           `json:"links"`
} // @name Analysis

// Progress counts the datasets of an analysis.
type Progress struct {
	Done   int `json:"done"`
	Total  int `json:"total"`
	Failed int `json:"failed"`
} // @name Progress

// AnalysisPart is a dataset of an analysis.
type AnalysisPart struct {
	Dataset string          `json:"dataset"`
	State   string          `json:"state" enums:"pending,done,failed"`
	Deleted bool            `json:"deleted,omitempty"` // its bytes are gone meanwhile
	Problem json.RawMessage `json:"problem,omitempty" swaggertype:"object"`
} // @name AnalysisPart

// Row is a row of a result table: a flat object with the columns that
// /v1/schemas/{table} describes. A value that cannot be had is null.
type Row map[string]any // @name Row

// Results are the seven tables of a one-shot analysis.
type Results struct {
	Units            string `json:"units" enums:"si,us"`
	Findings         []Row  `json:"findings"`
	Hydrograph       []Row  `json:"hydrograph"`
	PlotResults      []Row  `json:"plot_results"`
	Fits             []Row  `json:"fits"`
	TreatmentResults []Row  `json:"treatment_results"`
	Comparisons      []Row  `json:"comparisons"`
	Calibrations     []Row  `json:"calibrations"`
} // @name Results
