package api_test

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"runtime"
	"strings"
	"syscall"
	"testing"
	"time"

	"sheetwash/api"
	"sheetwash/api/problem"
)

// serve runs the server as the command does, and returns its address and how to
// stop it.
func (s *service) serve() (address string, stop func() error) {
	s.t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		s.t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- s.api.Serve(ctx, l) }()
	return "http://" + l.Addr().String(), func() error { cancel(); return <-done }
}

// A server that stops is no longer ready, ends streams, lets requests finish, and
// leaves nothing behind.
func TestDrain(t *testing.T) {
	s := newService(t)
	s.jobs.hold = make(chan struct{})
	season := s.season("Corrin Basin 2031")
	s.upload(season, "01-ashlock-mill").want(201)
	at := s.post("/v1/analyses", map[string]any{"season": season}).want(202).header.Get("Location")
	address, stop := s.serve()
	s.Server.URL = address
	stream, err := client.Get(address + at + "/events")
	if err != nil {
		t.Fatal(err)
	}
	waited := make(chan int, 1)
	go func() {
		waited <- s.post("/v1/analyses", map[string]any{"season": season}, "Prefer: wait=30").status
	}()
	for s.get("/v1/analyses").data(); len(s.get("/v1/analyses").data()) < 2; {
		runtime.Gosched()
	}
	if err := stop(); err != nil {
		t.Error(err)
	}
	if _, err := io.ReadAll(stream.Body); err != nil {
		t.Errorf("the stream was cut: %v", err)
	}
	stream.Body.Close()
	if status := <-waited; status != 202 {
		t.Errorf("the request that waited was answered %d", status)
	}
	close(s.jobs.hold)
	w := httptest.NewRecorder()
	s.api.Handler().ServeHTTP(w, httptest.NewRequest("GET", "http://localhost/readyz", nil))
	if w.Code != 503 {
		t.Errorf("ready while stopping: %d", w.Code)
	}
}

func TestProbes(t *testing.T) {
	broken := errors.New("the queue stands")
	var now error
	s := newService(t, func(o *api.Options) {
		o.Ready = []api.ReadyCheck{{Name: "queue", Check: func(context.Context) error { return now }}}
	})
	s.get("/healthz").want(200)
	s.get("/readyz").want(200)
	now = broken
	r := s.get("/readyz").want(503)
	if p := r.problem("not_ready"); !strings.Contains(p["detail"].(string), "queue") || r.header.Get("Retry-After") == "" {
		t.Errorf("not ready: %v", p)
	}
	s.get("/healthz").want(200)
}

// Counts have no label that grows with what callers send.
func TestMetrics(t *testing.T) {
	s := newService(t)
	season, id := s.analysed("01-ashlock-mill")
	for i := range 50 {
		s.get(fmt.Sprintf("/v1/seasons/%d", i))
		s.get(fmt.Sprintf("/none/%d", i))
		s.ask(fmt.Sprintf("M%d", i), "/v1/seasons", nil)
	}
	w := httptest.NewRecorder()
	s.api.Metrics().ServeHTTP(w, httptest.NewRequest("GET", "/metrics", nil))
	text := w.Body.String()
	for _, want := range []string{`route="/v1/seasons/:id"`, `sheetwash_build_info{revision="",version="1.2.3"} 1`, "sheetwash_uploads_total", "sheetwash_upload_bytes_total"} {
		if !strings.Contains(text, want) {
			t.Errorf("the counts lack %s", want)
		}
	}
	for _, secret := range []string{season, id, "ashlock"} {
		if strings.Contains(text, secret) {
			t.Errorf("the counts hold %s", secret)
		}
	}
	if n := strings.Count(text, "\n"); n > 2000 {
		t.Errorf("%d series", n)
	}
	s.get("/metrics").want(404)
}

// A fault of a handler is an internal error, told without its text and logged with
// it.
func TestFaultsAreToldWithoutTheirText(t *testing.T) {
	s := newService(t)
	season := s.season("Corrin Basin 2031")
	for _, tt := range []struct {
		fail error
		code string
	}{
		{errors.New("SELECT secret FROM /var/lib"), "internal"},
		{fmt.Errorf("write: %w", syscall.ENOSPC), "storage_full"},
		{fmt.Errorf("read: %w", context.DeadlineExceeded), "not_ready"},
		{problem.New(problem.TooManyRows, "too many"), "too_many_rows"},
		{problem.New(problem.TooManyColumns, "too many"), "too_many_columns"},
		{problem.New(problem.ExpandsTooFar, "too far"), "expands_too_far"},
	} {
		s.engine.fail = tt.fail
		r := s.upload(season, "01-ashlock-mill")
		r.problem(tt.code)
		if strings.Contains(string(r.body), "/var/lib") {
			t.Errorf("told %s", r.body)
		}
	}
	if !strings.Contains(s.log.String(), "SELECT secret") {
		t.Error("the fault is not logged")
	}
	s.engine.fail = nil
	s.upload(season, "01-ashlock-mill").want(201)
	s.jobs.fail = problem.New(problem.QueueFull, "full")
	r := s.post("/v1/analyses", map[string]any{"season": season}).want(503)
	if r.problem("queue_full"); r.header.Get("Retry-After") == "" {
		t.Error("no Retry-After")
	}
}

// Callers have so many analyses waiting and no more.
func TestQueueQuota(t *testing.T) {
	s := newService(t, keyed, func(o *api.Options) { o.Limits.QueuedAnalyses = 1 })
	s.jobs.hold = make(chan struct{})
	defer close(s.jobs.hold)
	auth := "Authorization: Bearer " + s.key("manager")
	season := s.post("/v1/seasons", map[string]any{"name": "x"}, auth).want(201).id()
	s.upload(season, "01-ashlock-mill", auth).want(201)
	s.post("/v1/analyses", map[string]any{"season": season}, auth).want(202)
	s.post("/v1/analyses", map[string]any{"season": season}, auth).want(429).problem("quota_reached")
}

// An upload that stalls is cut, and keeps nobody waiting.
func TestStalledUploadIsCut(t *testing.T) {
	s := newService(t, func(o *api.Options) { o.Limits.StallTime = 100 * time.Millisecond })
	season := s.season("Corrin Basin 2031")
	address, stop := s.serve()
	defer stop()
	conn, err := net.Dial("tcp", strings.TrimPrefix(address, "http://"))
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	fmt.Fprintf(conn, "POST /v1/datasets?season=%s HTTP/1.1\r\nHost: localhost\r\nContent-Type: text/csv\r\nContent-Length: 1000000\r\n\r\nplot,", season)
	res, err := http.ReadResponse(bufio.NewReader(conn), nil)
	if err == nil {
		defer res.Body.Close()
		if res.StatusCode != 400 {
			t.Errorf("a stalled upload is answered %d", res.StatusCode)
		}
	} else if !errors.Is(err, io.ErrUnexpectedEOF) && !errors.Is(err, io.EOF) && !errors.Is(err, syscall.ECONNRESET) {
		t.Error(err)
	}
}

// The pages for people load what this server has and nothing else.
func TestPagesForPeople(t *testing.T) {
	s := newService(t)
	page := string(s.get("/docs").want(200).body)
	for _, part := range strings.Split(page, `"`) {
		if strings.HasPrefix(part, "/docs/assets/") {
			s.get(part).want(200)
		}
		if strings.HasPrefix(part, "http") {
			t.Errorf("the page asks elsewhere: %s", part)
		}
	}
	s.get("/docs/assets/none.js").want(404)
	s.get("/docs/assets/index.html").want(404)
	errorsPage := string(s.get("/docs/errors").want(200).body)
	for _, k := range problem.Kinds() {
		if !strings.Contains(errorsPage, `id="`+string(k.Code)+`"`) {
			t.Errorf("the page lacks %s", k.Code)
		}
	}
}

// The vocabulary is there as data, with methods and sources.
func TestVocabulary(t *testing.T) {
	s := newService(t)
	known := map[string]bool{}
	for _, m := range s.get("/v1/metrics").want(200).data() {
		if m["definition"] == "" || m["unit"] == "" || len(m["methods"].([]any)) == 0 {
			t.Errorf("metric %v", m)
		}
		page, anchor, _ := strings.Cut(m["page"].(string), "#")
		if !hasHeading(t, "../"+page, anchor) {
			t.Errorf("%s explains nothing: %v", m["page"], m["id"])
		}
		for _, method := range m["methods"].([]any) {
			known[m["id"].(string)+" "+method.(map[string]any)["id"].(string)] = true
			if method.(map[string]any)["source"] == "" {
				t.Errorf("no source: %v", method)
			}
		}
	}
	for _, p := range computed(t, "01-ashlock-mill", "02-dunmarrow", "09-tarn-gate").Plots {
		if _, listed := p.Metric.Info(); !listed {
			continue // the name comes from the data
		}
		if name := string(p.Metric) + " " + string(p.Method); !known[name] {
			t.Errorf("results have %q, and the catalogue has not", name)
			known[name] = true
		}
	}
	if n := len(s.get("/v1/units").want(200).data()); n < 8 {
		t.Errorf("%d units", n)
	}
	if n := len(s.get("/v1/error-codes").want(200).data()); n != len(problem.Kinds()) {
		t.Errorf("%d codes", n)
	}
	if n := len(s.get("/v1/limits").want(200).data()); n < 20 {
		t.Errorf("%d limits", n)
	}
	fields := s.get("/v1/schemas/hydrograph?units=us").want(200).json()["fields"].([]any)
	if len(fields) == 0 {
		t.Error("no fields")
	}
	s.get("/v1/schemas/nothing").want(404)
}

// Time limits of a body and of a write end nothing that goes on longer: a check, a
// stream.
func TestLimitsOfStretchesAreNotThoseOfTheWhole(t *testing.T) {
	s := newService(t, func(o *api.Options) {
		o.Limits.StallTime, o.Limits.StreamTime, o.Limits.HeartbeatTime = 50*time.Millisecond, 50*time.Millisecond, 20*time.Millisecond
	})
	season := s.season("Corrin Basin 2031")
	s.engine.slow = 200 * time.Millisecond
	s.upload(season, "01-ashlock-mill").want(201)
	s.jobs.hold = make(chan struct{})
	at := s.post("/v1/analyses", map[string]any{"season": season}).want(202).header.Get("Location") + "/events"
	events, beats := make(chan [2]string, 100), make(chan bool, 1)
	go s.follow(at, "", events, beats)
	for range 10 { // heartbeats, longer than the limit of one write
		<-beats
	}
	close(s.jobs.hold)
	var last [2]string
	for last = range events {
	}
	if !strings.Contains(last[1], "successful") {
		t.Errorf("the stream ended with %v", last)
	}
}

// hasHeading reports whether a page of the documentation has a heading with an
// anchor; "" is the page itself.
func hasHeading(t *testing.T, path, anchor string) bool {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	for _, line := range strings.Split(string(data), "\n") {
		if heading, ok := strings.CutPrefix(strings.TrimLeft(line, "#"), " "); ok && strings.HasPrefix(line, "#") {
			slug := strings.NewReplacer(" ", "-", ",", "").Replace(strings.ToLower(heading))
			if anchor == "" || slug == anchor {
				return true
			}
		}
	}
	return false
}

// Metrics and profiles are on a listener of their own, which answers to the names of
// this machine.
func TestMetricsListener(t *testing.T) {
	s := newService(t)
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- s.api.ServeMetrics(ctx, l) }()
	s.Server.URL = "http://" + l.Addr().String()
	s.get("/metrics").want(200)
	s.get("/debug/pprof/goroutine").want(200)
	s.get("/metrics", "Host: rebound.example").want(403)
	s.get("/none").want(404)
	stop()
	if err := <-done; err != nil {
		t.Error(err)
	}
}
