package api_test

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"sheetwash/api"
	"sheetwash/api/batch"
	"sheetwash/api/blobs"
	"sheetwash/api/engine"
	"sheetwash/api/store"
	"sheetwash/ingest"
)

// service is a server under test, with its records, its log and its keys.
type service struct {
	*httptest.Server
	t      testing.TB
	api    *api.Server
	store  *store.Store
	blobs  blobs.Blobs
	engine *failing
	jobs   *queue
	log    *lockedBuffer
}

// newService starts a server on records and blobs of its own. Without change it is
// open, as on a person's own machine.
func newService(t testing.TB, change ...func(*api.Options)) *service {
	t.Helper()
	dir := t.TempDir()
	st, err := store.Open(context.Background(), database(t))
	if err != nil {
		t.Fatal(err)
	}
	bl, err := blobs.OpenFiles(filepath.Join(dir, "blobs"))
	if err != nil {
		t.Fatal(err)
	}
	s := &service{t: t, store: st, blobs: bl, log: &lockedBuffer{}}
	real, err := engine.New(engine.Config{Store: st, Blobs: bl, Program: batch.Program{Name: "sheetwash", Version: "1.2.3"}, Workers: 1, Temp: dir, Limits: uploadLimits})
	if err != nil {
		t.Fatal(err)
	}
	s.engine = &failing{Engine: real}
	s.jobs = &queue{service: s, hold: make(chan struct{})}
	close(s.jobs.hold)
	o := api.Options{
		Store: st, Blobs: bl, Jobs: s.jobs, Engine: s.engine, Limits: api.DefaultLimits(), Access: api.Access{Open: true},
		Build: api.Build{Version: "1.2.3"}, Temp: dir, Log: slog.New(slog.NewJSONHandler(s.log, &slog.HandlerOptions{Level: slog.LevelDebug})),
	}
	o.Limits.ReadsPerSecond, o.Limits.WritesPerSecond, o.Limits.AnonymousPerSecond = 0, 0, 0
	for _, f := range change {
		f(&o)
	}
	if s.api, err = api.New(o); err != nil {
		t.Fatal(err)
	}
	s.Server = httptest.NewServer(s.api.Handler())
	t.Cleanup(func() {
		s.Close()
		s.jobs.wait.Wait()
		if err := errors.Join(st.Close(), bl.Close()); err != nil {
			t.Error(err)
		}
	})
	return s
}

// uploadLimits are those of uploads, as the command sets them.
var uploadLimits = ingest.Limits{Members: 200, Unpacked: 1 << 30, Ratio: 200, Columns: 256, Cell: 64 << 10, Readings: 10_000_000}

// keyed makes a server ask for keys.
func keyed(o *api.Options) { o.Access = api.Access{} }

// key makes a key and returns its secret.
func (s *service) key(role string, seasons ...string) string {
	s.t.Helper()
	return s.keyFrom(store.Key{Name: role, Role: role, Seasons: seasons})
}

func (s *service) keyFrom(k store.Key) string {
	s.t.Helper()
	secret, hash, err := store.NewSecret()
	if err == nil {
		err = s.store.InTx(context.Background(), func(tx *store.Tx) error {
			_, err := tx.CreateKey(context.Background(), store.Everything, k, hash)
			return err
		})
	}
	if err != nil {
		s.t.Fatal(err)
	}
	return secret
}

// reply is an answer that has been read.
type reply struct {
	t      testing.TB
	status int
	header http.Header
	body   []byte
}

// ask sends a request. Headers are given as "Name: value"; a body that is a string
// is sent as it stands, and everything else as JSON.
func (s *service) ask(method, path string, body any, headers ...string) reply {
	s.t.Helper()
	var content io.Reader
	media := ""
	switch b := body.(type) {
	case nil:
	case string:
		content = strings.NewReader(b)
	case []byte:
		content = bytes.NewReader(b)
	default:
		data, err := json.Marshal(b)
		if err != nil {
			s.t.Fatal(err)
		}
		content, media = bytes.NewReader(data), "application/json"
		if method == http.MethodPatch {
			media = "application/merge-patch+json"
		}
	}
	r, err := http.NewRequestWithContext(context.Background(), method, s.URL+path, content)
	if err != nil {
		s.t.Fatal(err)
	}
	if media != "" {
		r.Header.Set("Content-Type", media)
	}
	for _, h := range headers {
		name, value, _ := strings.Cut(h, ": ")
		if name == "Host" {
			r.Host = value
			continue
		}
		r.Header.Add(name, value)
	}
	res, err := client.Do(r)
	if err != nil {
		s.t.Fatal(err)
	}
	defer res.Body.Close()
	data, err := io.ReadAll(res.Body)
	if err != nil {
		s.t.Fatalf("%s %s: %v", method, path, err)
	}
	got := reply{s.t, res.StatusCode, res.Header, data}
	live.check(s.t, r, got)
	return got
}

// client neither compresses nor follows.
var client = &http.Client{
	Transport:     &http.Transport{DisableCompression: true},
	CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
}

func (s *service) get(path string, headers ...string) reply {
	s.t.Helper()
	return s.ask(http.MethodGet, path, nil, headers...)
}

func (s *service) post(path string, body any, headers ...string) reply {
	s.t.Helper()
	return s.ask(http.MethodPost, path, body, headers...)
}

// want fails unless the answer has a status; it returns the answer.
func (r reply) want(status int) reply {
	r.t.Helper()
	if r.status != status {
		r.t.Fatalf("status is %d, want %d: %s", r.status, status, r.body)
	}
	return r
}

// problem fails unless the answer is a problem with a code.
func (r reply) problem(code string) map[string]any {
	r.t.Helper()
	var p map[string]any
	if err := json.Unmarshal(r.body, &p); err != nil || r.header.Get("Content-Type") != "application/problem+json" {
		r.t.Fatalf("no problem but %d %s: %s", r.status, r.header.Get("Content-Type"), r.body)
	}
	if p["code"] != code {
		r.t.Fatalf("code is %v, want %s: %s", p["code"], code, r.body)
	}
	provoked.note(code)
	return p
}

// json decodes the answer.
func (r reply) json() map[string]any {
	r.t.Helper()
	var v map[string]any
	if err := json.Unmarshal(r.body, &v); err != nil {
		r.t.Fatalf("%v: %s", err, r.body)
	}
	return v
}

func (r reply) id() string {
	r.t.Helper()
	id, _ := r.json()["id"].(string)
	if id == "" {
		r.t.Fatalf("no id: %s", r.body)
	}
	return id
}

// data returns the rows of a list.
func (r reply) data() []map[string]any {
	r.t.Helper()
	var v struct{ Data []map[string]any }
	if err := json.Unmarshal(r.body, &v); err != nil {
		r.t.Fatalf("%v: %s", err, r.body)
	}
	return v.Data
}

// failing is the engine, which fails its checks where a test wants it.
type failing struct {
	*engine.Engine
	fail error
	slow time.Duration      // how long checks take
	hold chan chan struct{} // a check says that it has begun, and waits for the close of what it sends; nil: it does not
}

func (e *failing) Check(ctx context.Context, u api.Upload) (*api.Checked, error) {
	if e.fail != nil {
		return nil, e.fail
	}
	if e.hold != nil {
		on := make(chan struct{})
		e.hold <- on
		<-on
	}
	time.Sleep(e.slow)
	return e.Engine.Check(ctx, u)
}

// queue works on an analysis as soon as it is committed and the hold is closed.
type queue struct {
	service *service
	hold    chan struct{}
	wait    sync.WaitGroup
	fail    error
}

func (q *queue) Submit(_ context.Context, _ *store.Tx, a store.Analysis) error {
	if q.fail != nil {
		return q.fail
	}
	q.wait.Go(func() {
		<-q.hold
		if err := q.work(context.Background(), a.ID); err != nil {
			q.service.t.Errorf("work: %v", err)
		}
	})
	return nil
}

// work does what the jobs of an analysis do, one after the other.
func (q *queue) work(ctx context.Context, id string) error {
	st, work := q.service.store, q.service.engine.Work()
	for { // until it is committed
		if _, err := st.Analysis(ctx, store.Everything, id); err == nil {
			break
		}
		time.Sleep(time.Millisecond)
	}
	var a store.Analysis
	err := st.InTx(ctx, func(tx *store.Tx) (err error) { a, err = tx.StartAnalysis(ctx, id); return err })
	if err != nil {
		return err
	}
	all, err := st.AnalysisDatasets(ctx, store.Everything, id)
	if err != nil {
		return err
	}
	for _, d := range all {
		part, refusal, err := work.Dataset(ctx, a, all, d.Position)
		if err != nil {
			return err
		}
		if err := st.InTx(ctx, func(tx *store.Tx) error {
			_, err := tx.FinishDataset(ctx, id, d.Position, part, refusal)
			return err
		}); err != nil {
			return err
		}
	}
	if all, err = st.AnalysisDatasets(ctx, store.Everything, id); err != nil {
		return err
	}
	tables, provenance, err := work.Fold(ctx, a, all)
	if err != nil {
		return err
	}
	return st.InTx(ctx, func(tx *store.Tx) error {
		_, err := tx.FinishAnalysis(ctx, id, tables, provenance)
		return err
	})
}

// lockedBuffer is a log that many write to.
type lockedBuffer struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (l *lockedBuffer) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.Write(p)
}

func (l *lockedBuffer) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.String()
}
