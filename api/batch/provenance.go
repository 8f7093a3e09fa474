package batch

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"

	"sheetwash/analysis"
	"sheetwash/analysis/experiment"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
	"sheetwash/api/report"
)

// Provenance is what a set of result tables follows from: enough to cite it and
// to compute it again. It holds no time of day and no number of workers.
type Provenance struct {
	Schema   string            `json:"schema"`
	Program  Program           `json:"program"`
	Units    string            `json:"units"`
	Settings planSettings      `json:"settings"`
	Datasets []DatasetRecord   `json:"datasets"`
	CSVGuard string            `json:"csv_guard"`
	Tables   []tableDescriptor `json:"tables"`
	Season   []seasonRecord    `json:"season_results"`
}

// seasonRecord is what all plots of a scope say together, whatever their treatments.
type seasonRecord struct {
	Scope     string        `json:"scope"`
	Metric    result.Metric `json:"metric"`
	Method    string        `json:"method"`
	Value     *float64      `json:"value"`
	Unit      string        `json:"unit"`
	Low       *float64      `json:"low"`
	High      *float64      `json:"high"`
	Level     float64       `json:"level"`
	NPlots    int           `json:"n_plots"`
	NRuns     int           `json:"n_runs"`
	SDBetween *float64      `json:"sd_between"`
	Flags     string        `json:"flags"`
}

// Program is the build that computed.
type Program struct {
	Name     string `json:"name"`
	Version  string `json:"version"`
	Revision string `json:"revision,omitempty"`
}

// planSettings are the settings of an analysis.
type planSettings struct {
	Level          float64 `json:"level"`
	ThresholdShare float64 `json:"threshold_share"`
	SmoothingS     float64 `json:"smoothing_s"`
	FinalMin       float64 `json:"final_min"`
	LeastPeakS     float64 `json:"least_peak_s"`
	SteadyShare    float64 `json:"steady_share"`
	BareCoverPct   float64 `json:"bare_cover_pct"`
	LowQuarter     string  `json:"low_quarter"`
}

// DatasetRecord says which bytes went in, and with which settings.
type DatasetRecord struct {
	Name     string        `json:"name"`
	SHA256   string        `json:"sha256"`
	State    string        `json:"state"` // analyzed or refused
	Settings *planSettings `json:"settings,omitempty"`
	Errors   *errorRecord  `json:"errors,omitempty"`
	Excluded []Exclusion   `json:"excluded,omitempty"`
}

// errorRecord is an error model in the names of analysis.yaml, in their order.
type errorRecord experiment.ErrorModel

// MarshalJSON writes an object with one number per name.
func (m errorRecord) MarshalJSON() ([]byte, error) {
	var b bytes.Buffer
	model := experiment.ErrorModel(m)
	b.WriteByte('{')
	for i, u := range experiment.Uncertainties() {
		if i > 0 {
			b.WriteByte(',')
		}
		v, err := json.Marshal(*u.Of(&model) / u.Scale)
		if err != nil {
			return nil, err
		}
		fmt.Fprintf(&b, "%q:%s", u.Name, v)
	}
	b.WriteByte('}')
	return b.Bytes(), nil
}

// UnmarshalJSON reads what MarshalJSON writes; a name that is not there keeps its number.
func (m *errorRecord) UnmarshalJSON(data []byte) error {
	var numbers map[string]float64
	if err := json.Unmarshal(data, &numbers); err != nil {
		return err
	}
	for _, u := range experiment.Uncertainties() {
		if v, ok := numbers[u.Name]; ok {
			*u.Of((*experiment.ErrorModel)(m)) = v * u.Scale
		}
	}
	return nil
}

type tableDescriptor struct {
	Name    string             `json:"name"`
	Row     string             `json:"row"`
	Columns []columnDescriptor `json:"columns"`
}

type columnDescriptor struct {
	Name    string `json:"name"`
	Type    string `json:"type"`
	Unit    string `json:"unit,omitempty"`
	ByRow   bool   `json:"unit_in_row,omitempty"`
	Missing bool   `json:"may_be_missing,omitempty"`
	Meaning string `json:"meaning"`
}

// csvGuard tells readers of the CSV tables how to undo the guard.
const csvGuard = "text columns: one apostrophe stands before text that matches ^'*[=+\\-@\\t\\r]; take it away to have the text"

// Record says which bytes of a dataset went in, and with which settings.
func (q Request) Record(d *Dataset) DatasetRecord {
	r := DatasetRecord{Name: d.Name, SHA256: d.Digest, State: "refused"}
	if d.Stands() {
		settings, errors := recordPlan(q.Plan(d)), errorRecord(d.Errors())
		r.State, r.Settings, r.Errors, r.Excluded = "analyzed", &settings, &errors, d.Excluded
	}
	return r
}

// Records are the records of all datasets.
func (q Request) Records(datasets []Dataset) []DatasetRecord {
	var out []DatasetRecord
	for i := range datasets {
		out = append(out, q.Record(&datasets[i]))
	}
	return out
}

// Provenance says what the tables of these datasets follow from.
func (q Request) Provenance(program Program, u report.Units, datasets []DatasetRecord) Provenance {
	p := Provenance{
		Schema: "sheetwash-analysis/1", Program: program,
		Units: u.String(), Settings: recordPlan(q.SeasonPlan()), CSVGuard: csvGuard, Datasets: []DatasetRecord{},
	}
	p.Datasets = append(p.Datasets, datasets...)
	for _, t := range report.Tables(u) {
		d := tableDescriptor{Name: t.Name, Row: t.Per}
		for _, c := range t.Columns {
			d.Columns = append(d.Columns, columnDescriptor{c.Name, c.Kind.String(), c.Unit, c.ByRow, c.Optional, c.Meaning})
		}
		p.Tables = append(p.Tables, d)
	}
	return p
}

func recordPlan(p analysis.Plan) planSettings {
	return planSettings{p.Level, p.Hydrograph.ThresholdShare, p.Hydrograph.SlopeWindowMin * 60, p.Hydrograph.FinalWindowMin, p.Hydrograph.LeastPeakMin * 60, p.Steady.OfRate, p.BareCoverPct, p.Rain.Boundary.String()}
}

// With returns the provenance with what an analysis says of whole seasons.
func (p Provenance) With(a *result.Analysis) Provenance {
	p.Season = make([]seasonRecord, len(a.Season))
	number := func(o quantity.Optional) *float64 {
		if !o.OK {
			return nil
		}
		return &o.V
	}
	for i, r := range a.Season {
		p.Season[i] = seasonRecord{r.Scope, r.Metric, r.Method, number(r.Value), r.Unit, number(r.Low), number(r.High), r.Level,
			r.NPlots, r.NRuns, number(r.SDBetween), r.Flags.String()}
	}
	return p
}

// Write writes it as indented JSON.
func (p Provenance) Write(w io.Writer) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	return e.Encode(p)
}
