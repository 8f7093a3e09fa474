package engine

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"runtime"
	"time"

	lru "github.com/hashicorp/golang-lru/v2"
	"golang.org/x/sync/singleflight"

	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
	"sheetwash/api"
	"sheetwash/api/batch"
	"sheetwash/api/blobs"
	"sheetwash/api/problem"
	"sheetwash/api/report/page"
	"sheetwash/api/store"
	"sheetwash/api/wire"
	"sheetwash/ingest"
)

// Config says what an Engine works with.
type Config struct {
	Store   *store.Store
	Blobs   blobs.Blobs
	Program batch.Program // for the provenance of results
	Workers int           // plots that one request or job works on at once; below 1: one per processor
	MaxRows int64         // of one table of an upload; 0: the default of ingest
	Limits  ingest.Limits // of archives in uploads
	Temp    string        // folder for files while they are read; "": that of the system
}

// Engine computes for the service. Its methods may be called at the same time.
type Engine struct {
	Config
	indexes    *lru.Cache[string, []byte]      // by digest
	casts      *lru.Cache[string, *cast]       // by analysis
	inputs     *lru.Cache[string, *page.Input] // of pages, by digest
	samples    *lru.Cache[string, api.Samples] // by dataset
	reading    singleflight.Group              // of samples, by dataset
	explaining chan struct{}                   // has room for those that go on
	thrift     thrift
}

// New returns an Engine.
func New(c Config) (*Engine, error) {
	if c.Workers < 1 {
		c.Workers = runtime.GOMAXPROCS(0)
	}
	const indexes, casts, inputs, samples = 512, 16, 4, 64
	e := &Engine{Config: c, explaining: make(chan struct{}, 1)}
	var err error
	if e.indexes, err = lru.New[string, []byte](indexes); err != nil {
		return nil, err
	}
	if e.casts, err = lru.New[string, *cast](casts); err != nil {
		return nil, err
	}
	if e.samples, err = lru.New[string, api.Samples](samples); err != nil {
		return nil, err
	}
	e.inputs, err = lru.New[string, *page.Input](inputs)
	return e, err
}

// settings are the parameters of an analysis, in the names of analysis.yaml.
type settings struct {
	Level          *float64           `json:"level"`
	ThresholdShare *float64           `json:"threshold_share"`
	SmoothingS     *float64           `json:"smoothing_s"`
	FinalMin       *float64           `json:"final_min"`
	Reference      string             `json:"reference"`
	Models         bool               `json:"models"`
	Errors         map[string]float64 `json:"errors"`
}

// Valid reports what is wrong with the parameters of an analysis, as a
// malformed_request. Nothing at all is right.
func (e *Engine) Valid(parameters json.RawMessage) error {
	_, err := e.request(parameters, "")
	return err
}

// request is the parameters of an analysis as a request to package batch.
func (e *Engine) request(parameters json.RawMessage, zone string) (batch.Request, error) {
	q := batch.Request{Workers: e.Workers, MaxRows: e.MaxRows, Limits: e.Limits}
	bad := func(format string, args ...any) (batch.Request, error) {
		return q, problem.New(problem.MalformedRequest, format, args...)
	}
	var s settings
	if len(parameters) > 0 && !bytes.Equal(parameters, []byte("null")) {
		d := json.NewDecoder(bytes.NewReader(parameters))
		d.DisallowUnknownFields()
		if err := d.Decode(&s); err != nil {
			return bad("the parameters of the analysis: %v", err)
		}
	}
	for _, p := range []struct {
		name      string
		given     *float64
		low, high float64
		set       func(v float64)
	}{
		{"level", s.Level, 0.80, 0.99, func(v float64) { q.Level = v }},
		{"threshold_share", s.ThresholdShare, 0.001, 0.5, func(v float64) { q.ThresholdShare = quantity.Some(v) }},
		{"smoothing_s", s.SmoothingS, 1, 3600, func(v float64) { q.SmoothingMin = quantity.Some(v / 60) }},
		{"final_min", s.FinalMin, 0.5, 600, func(v float64) { q.FinalMin = quantity.Some(v) }},
	} {
		switch {
		case p.given == nil:
		case *p.given < p.low || *p.given > p.high:
			return bad("%s = %v is not from %v to %v", p.name, *p.given, p.low, p.high)
		default:
			p.set(*p.given)
		}
	}
	q.Reference, q.Models = s.Reference, s.Models
	for _, name := range batch.UncertaintyNames() { // in a fixed order
		if v, ok := s.Errors[name]; ok {
			u, err := batch.NewUncertainty(name, v)
			if err != nil {
				return bad("errors: %v", err)
			}
			q.Errors = append(q.Errors, u)
		}
	}
	if len(q.Errors) < len(s.Errors) {
		return bad("errors: the names are %v", batch.UncertaintyNames())
	}
	if zone != "" {
		var err error
		if q.Zone, err = time.LoadLocation(zone); err != nil {
			return bad("the time zone %q is not known", zone)
		}
	}
	return q, nil
}

// keep puts what write writes as a blob.
func (e *Engine) keep(ctx context.Context, write func(io.Writer) error) (blobs.Blob, error) {
	r, w := io.Pipe()
	go func() { w.CloseWithError(write(w)) }()
	b, err := e.Blobs.Put(ctx, r)
	r.CloseWithError(err) // frees the writer where Put stopped before the end
	return b, err
}

// read returns the whole of a blob.
func (e *Engine) read(ctx context.Context, digest string) ([]byte, error) {
	r, err := e.Blobs.Open(ctx, digest)
	if err != nil {
		return nil, fmt.Errorf("open blob: %w", err)
	}
	defer r.Close()
	return io.ReadAll(r)
}

// findings are rows of the findings table as the service tells them.
func findings(rows []result.Finding) []wire.Finding {
	out := make([]wire.Finding, len(rows))
	for i, f := range rows {
		out[i] = wire.Finding{
			Dataset: f.Dataset, Code: f.Code, Severity: f.Severity, File: word(f.File), Table: word(f.Table),
			Column: word(f.Column), Value: word(cut(f.Value)), Message: f.Message,
		}
		if f.Row > 0 {
			out[i].Row = &f.Row
		}
	}
	return out
}

func word(w string) *string {
	if w == "" {
		return nil
	}
	return &w
}

// cut shortens a cell to 64 characters.
func cut(w string) string {
	const most = 64
	if r := []rune(w); len(r) > most {
		return string(r[:most-1]) + "…"
	}
	return w
}
