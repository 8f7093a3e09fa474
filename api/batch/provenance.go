package batch

import (
	"encoding/json"
	"io"

	"sheetwash/analysis"
	"sheetwash/analysis/experiment"
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

// errorRecord is an error model in the names of analysis.yaml.
type errorRecord struct {
	VolumeRel     float64 `json:"volume_rel"`
	VolumeML      float64 `json:"volume_ml"`
	MassG         float64 `json:"mass_g"`
	SedimentG     float64 `json:"sediment_g"`
	BottleChangeS float64 `json:"bottle_change_s"`
	OnsetS        float64 `json:"onset_s"`
	AreaRel       float64 `json:"area_rel"`
	IntensityRel  float64 `json:"intensity_rel"`
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
		settings, errors := recordPlan(q.Plan(d)), recordErrors(d.Errors())
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
	return planSettings{p.Level, p.Hydrograph.ThresholdShare, p.Hydrograph.SlopeWindowMin * 60, p.Hydrograph.FinalWindowMin}
}

func recordErrors(m experiment.ErrorModel) errorRecord {
	return errorRecord{m.VolumeRel, m.VolumeML, m.MassG, m.SedimentG, m.BottleChange * 60, m.OnsetMin * 60, m.AreaRel, m.IntensityRel}
}

// Write writes it as indented JSON.
func (p Provenance) Write(w io.Writer) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	return e.Encode(p)
}
