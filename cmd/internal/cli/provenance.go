package cli

import (
	"encoding/json"
	"io"

	"sheetwash/analysis"
	"sheetwash/analysis/experiment"
	"sheetwash/api/report"
)

// provenance is what a set of result tables follows from: enough to cite it and
// to compute it again. It holds no time of day and no number of workers.
type provenance struct {
	Schema   string            `json:"schema"`
	Program  program           `json:"program"`
	Units    string            `json:"units"`
	Settings planSettings      `json:"settings"`
	Datasets []datasetRecord   `json:"datasets"`
	CSVGuard string            `json:"csv_guard"`
	Tables   []tableDescriptor `json:"tables"`
}

type program struct {
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

// datasetRecord says which bytes went in, and with which settings.
type datasetRecord struct {
	Name     string        `json:"name"`
	SHA256   string        `json:"sha256"`
	State    string        `json:"state"` // analyzed or refused
	Settings *planSettings `json:"settings,omitempty"`
	Errors   *errorRecord  `json:"errors,omitempty"`
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

func (j *job) provenance(all *season) provenance {
	b := thisBuild()
	p := provenance{
		Schema: "sheetwash-analysis/1", Program: program{"sheetwash", b.Version, b.Revision},
		Units: j.units.String(), Settings: recordPlan(j.seasonPlan()), CSVGuard: csvGuard, Datasets: []datasetRecord{},
	}
	for _, r := range all.datasets {
		d := datasetRecord{Name: r.name, SHA256: r.digest, State: "refused"}
		if r.Dataset != nil {
			settings, errors := recordPlan(j.plan(r)), recordErrors(r.Dataset.Errors())
			d.State, d.Settings, d.Errors = "analyzed", &settings, &errors
		}
		p.Datasets = append(p.Datasets, d)
	}
	for _, t := range report.Tables(j.units) {
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

func (p provenance) write(w io.Writer) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	return e.Encode(p)
}
