package engine

import (
	"context"

	"sheetwash/analysis/experiment"
	"sheetwash/analysis/quantity"
	"sheetwash/api"
	"sheetwash/api/problem"
	"sheetwash/api/store"
	"sheetwash/api/wire"
)

// Samples reads the bottles of an accepted dataset from its files, and remembers them
// for a while: what datasets hold never changes. Callers share them and change nothing.
func (e *Engine) Samples(ctx context.Context, d store.Dataset) (api.Samples, error) {
	if out, ok := e.samples.Get(d.ID); ok {
		return out, nil
	}
	got, err, _ := e.reading.Do(d.ID, func() (any, error) {
		season, err := e.Store.Season(ctx, store.Everything, d.SeasonID)
		if err != nil {
			return nil, err
		}
		q, err := e.request(nil, season.TimeZone)
		if err != nil {
			return nil, err
		}
		read, err := e.readRecord(ctx, q, member{d, d.Name})
		if err != nil {
			return nil, err
		}
		if !read.Stands() {
			return nil, problem.New(problem.StateConflict, "the dataset %s was accepted by another version of the program, and this one refuses it", d.ID)
		}
		out := api.Samples{}
		for r := range read.Runs() {
			run := &read.Runs()[r]
			for p := range run.Plots {
				at := api.PlotName{Run: run.ID, Plot: run.Plots[p].ID}
				for i := range run.Plots[p].Samples {
					out[at] = append(out[at], sample(&run.Plots[p].Samples[i]))
				}
			}
		}
		e.samples.Add(d.ID, out)
		return out, nil
	})
	if err != nil {
		return nil, err
	}
	return got.(api.Samples), nil
}

// sample is a bottle as the service tells it.
func sample(m *experiment.Sample) wire.Sample {
	number := func(o quantity.Optional) *float64 {
		if !o.OK {
			return nil
		}
		return &o.V
	}
	out := wire.Sample{
		Stream: m.Stream.String(), Flag: m.Flag.String(), StartMin: m.StartMin, EndMin: m.EndMin,
		VolumeML: number(m.VolumeML), GrossG: number(m.GrossG), TareG: number(m.TareG),
		SedimentG: number(m.SedimentG), SedimentGrossG: number(m.SedimentGrossG), SedimentTareG: number(m.SedimentTareG), SedimentPending: m.SedimentPending,
		ConcentrationGL: number(m.ConcentrationGL), WaterTempC: number(m.WaterTempC), TurbidityNTU: number(m.TurbidityNTU),
		Analytes: []wire.SampleAnalyte{}, Excluded: m.Exclude, ExcludeReason: word(m.ExcludeReason), File: m.Place.File, Row: m.Place.Row,
	}
	for _, a := range m.Analytes {
		out.Analytes = append(out.Analytes, wire.SampleAnalyte{Name: a.Name, Value: a.Value, Unit: a.Unit})
	}
	return out
}
