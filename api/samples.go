package api

import (
	"context"
	"errors"
	"slices"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"sheetwash/api/problem"
	"sheetwash/api/store"
	"sheetwash/api/wire"
)

// sampleStreams are the streams that bottles of plots have.
var sampleStreams = []string{"runoff", "drainage", "splash", "remainder"}

// listSamples lists the bottles of accepted datasets, plot by plot.
//
//	@Summary      List samples: the bottles and timed catches of the plots
//	@Description  As they were read, in the order of the plots and of each plot's stream and time. They are read from the files of their dataset, so that nothing stands between. Blanks of a run belong to no plot and are not listed.
//	@Tags         samples
//	@Produce      json
//	@Param        season     query  []string  false  "ids or names of seasons"  collectionFormat(multi)
//	@Param        event      query  []string  false  "ids or names of events"  collectionFormat(multi)
//	@Param        dataset    query  []string  false  "ids of datasets"  collectionFormat(multi)
//	@Param        run        query  []string  false  "ids or names of runs"  collectionFormat(multi)
//	@Param        plot       query  []string  false  "ids or names of plots"  collectionFormat(multi)
//	@Param        treatment  query  []string  false  "ids or names of treatments"  collectionFormat(multi)
//	@Param        stream     query  []string  false  "runoff, drainage, splash, remainder"  collectionFormat(multi)
//	@Param        limit      query  int       false  "1 to 1000, default 100"
//	@Param        cursor     query  string    false  "from next_cursor"
//	@Success      200  {object}  wire.List[wire.Sample]
//	@Failure      400  {object}  problem.Details
//	@Router       /v1/samples [get]
func (s *Server) listSamples(c *gin.Context) error {
	q := queryOf(c)
	f, p, streams := q.filter(), q.page(c.Request.URL.Path), q.list("stream")
	for _, stream := range streams {
		if !slices.Contains(sampleStreams, stream) {
			q.fail(problem.MalformedRequest, "stream=%q is none of %s", clip(stream), listed(sampleStreams))
		}
	}
	if q.err != nil {
		return q.err
	}
	from, err := samplePlace(p.After)
	if err != nil {
		return err
	}
	ctx, scope := c.Request.Context(), whoIs(c).scope
	if f.Seasons, err = s.seasonIDs(ctx, scope, f.Seasons); err != nil {
		return err
	}
	l, err := s.samplesFrom(ctx, scope, f, streams, from, p.Limit)
	if err != nil {
		return err
	}
	return listOf(s, c, q, p, l, showSample)
}

// bottle is a sample with its plot.
type bottle struct {
	plot   store.PlotRow
	number int // from 1
	sample *wire.Sample
}

// samplePlace reads where a page begins: a plot, and how many of its bottles come
// before.
func samplePlace(after []string) (from place, err error) {
	if after == nil {
		return place{}, nil
	}
	if len(after) != 2 {
		return place{}, problem.New(problem.BadCursor, "the cursor cannot be read")
	}
	n, err := strconv.ParseInt(after[1], 10, 64)
	if err != nil || n < 0 || after[0] == "" {
		return place{}, problem.New(problem.BadCursor, "the cursor cannot be read")
	}
	return place{after[0], n}, nil
}

// samplesFrom reads a page of bottles.
func (s *Server) samplesFrom(ctx context.Context, scope store.Scope, f store.Filter, streams []string, from place, limit int) (store.List[bottle], error) {
	out := store.List[bottle]{}
	add := func(p store.PlotRow, first int64) error {
		list, err := s.samplesOf(ctx, p)
		for i := int(first); err == nil && i < len(list); i++ {
			if len(streams) > 0 && !slices.Contains(streams, list[i].Stream) {
				continue
			}
			if len(out.Rows) == limit {
				out.More, out.Next = true, []string{p.ID, strconv.Itoa(i)}
				return nil
			}
			out.Rows = append(out.Rows, bottle{p, i + 1, &list[i]})
		}
		return err
	}
	plots := store.Page{Limit: 200}
	if from.part != "" {
		p, err := s.store.Plot(ctx, scope, from.part)
		if err == nil {
			err = add(p, from.row)
		}
		if err != nil && !errors.Is(err, store.ErrNotFound) || out.More {
			return out, err
		}
		plots.After = []string{from.part, from.part}
	}
	for {
		l, err := s.store.Plots(ctx, scope, f, plots)
		if err != nil {
			return out, err
		}
		for _, p := range l.Rows {
			if err := add(p, 0); err != nil && !errors.Is(err, store.ErrNotFound) || out.More {
				return out, err
			}
		}
		if plots.After = l.Next; !l.More {
			return out, nil
		}
	}
}

// samplesOf reads the bottles of a plot; store.ErrNotFound where its dataset went
// away meanwhile.
func (s *Server) samplesOf(ctx context.Context, p store.PlotRow) ([]wire.Sample, error) {
	d, err := s.store.Dataset(ctx, store.Everything, p.DatasetID)
	if err != nil {
		return nil, err
	}
	if d.State != store.DatasetAccepted {
		return nil, store.ErrNotFound
	}
	all, err := s.engine.Samples(ctx, d)
	return all[PlotName{p.Run, p.Plot}], err
}

// getSample returns one bottle.
//
//	@Summary  One sample
//	@Tags     samples
//	@Produce  json
//	@Param    id   path      string  true  "id of the sample"
//	@Success  200  {object}  wire.Sample
//	@Failure  404  {object}  problem.Details
//	@Router   /v1/samples/{id} [get]
func (s *Server) getSample(c *gin.Context) error {
	plot, number, _ := strings.Cut(c.Param("id"), ".")
	n, err := strconv.Atoi(number)
	if err != nil || n < 1 || strconv.Itoa(n) != number {
		return store.ErrNotFound
	}
	p, err := s.store.Plot(c.Request.Context(), whoIs(c).scope, plot)
	if err != nil {
		return err
	}
	list, err := s.samplesOf(c.Request.Context(), p)
	if err != nil {
		return err
	}
	if n > len(list) {
		return store.ErrNotFound
	}
	return s.ok(c, showSample(bottle{p, n, &list[n-1]}), keepChecking)
}

// showSample is a bottle with what it has from its plot.
func showSample(b bottle) wire.Sample {
	p, out := b.plot, *b.sample
	out.ID, out.SeasonID, out.EventID, out.DatasetID, out.RunID, out.PlotID = p.ID+"."+strconv.Itoa(b.number), p.SeasonID, maybe(p.EventID), p.DatasetID, p.RunID, p.ID
	out.Event, out.Run, out.Plot, out.Treatment = p.Event, p.Run, p.Plot, p.Treatment
	out.Links = wire.Links{"self": "/v1/samples/" + out.ID, "plot": "/v1/plots/" + p.ID, "dataset": "/v1/datasets/" + p.DatasetID}
	return out
}
