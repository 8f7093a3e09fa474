package engine

import (
	"context"

	"sheetwash/api"
	"sheetwash/api/problem"
	"sheetwash/api/store"
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
				out[api.PlotName{Run: run.ID, Plot: run.Plots[p].ID}] = run.Plots[p].Samples
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
