package api_test

import (
	"bytes"
	"io"
	"maps"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"testing"
	"time"

	"sheetwash/api"
	"sheetwash/api/store"
)

// fromMemory asks the memory of ready answers alone.
func (s *service) fromMemory(path string, headers ...string) (reply, bool) {
	r := httptest.NewRequest(http.MethodGet, path, nil)
	r.Host = "localhost"
	for _, h := range headers {
		name, value, _ := strings.Cut(h, ": ")
		if name == "Host" {
			r.Host = value
			continue
		}
		r.Header.Add(name, value)
	}
	w := httptest.NewRecorder()
	ok := s.api.SendReady(w, r)
	return reply{s.t, w.Code, w.Header(), w.Body.Bytes()}, ok
}

// same fails unless an answer is another one but for its id.
func (r reply) same(name string, first reply) {
	r.t.Helper()
	a, b := maps.Clone(first.header), maps.Clone(r.header)
	for _, h := range []http.Header{a, b} {
		if h.Get("X-Request-Id") == "" {
			r.t.Errorf("%s: no request id", name)
		}
		delete(h, "X-Request-Id")
		delete(h, "Date")
	}
	if r.status != first.status || !bytes.Equal(r.body, first.body) || !maps.EqualFunc(a, b, slices.Equal) {
		r.t.Errorf("%s: %d %v, %d bytes; first %d %v, %d bytes", name, r.status, b, len(r.body), first.status, a, len(first.body))
	}
}

// What is answered from memory is what the routes answered, whatever the way of
// asking; and other ways of asking are answered by the routes.
func TestReadyAnswersAreThoseOfTheRoutes(t *testing.T) {
	s := newService(t)
	_, id := s.analysed("09-tarn-gate")
	at := "/v1/analyses/" + id + "/"
	for _, path := range []string{at + "plot_results?limit=100", at + "plot_results", at + "fits?units=us&limit=1&count=exact", at + "plot_results?limit=7&shape=rows", at + "findings?limit=3"} {
		for _, headers := range [][]string{{}, {"Accept: application/json"}, {"Accept-Encoding: gzip"}, {"Accept-Encoding: zstd, gzip;q=0.5"}} {
			first := s.get(path, headers...).want(200)
			again, ok := s.fromMemory(path, headers...)
			if !ok {
				t.Fatalf("%s %v is not ready", path, headers)
			}
			again.same(path, first)
			s.get(path, headers...).same(path, first)
			known := append(headers, `If-None-Match: "x", `+first.header.Get("ETag"))
			again, _ = s.fromMemory(path, known...)
			again.same(path, s.get(path, append(known, "Origin: "+s.URL)...).want(304)) // with an origin the routes answer
			s.get(path, known...).same(path, again)
		}
		for _, headers := range [][]string{{"Accept: text/csv"}, {"Accept: application/json;q=0.5"}, {"Accept-Encoding: br"}} {
			if _, ok := s.fromMemory(path, headers...); ok {
				t.Errorf("%s %v is answered with what others asked for", path, headers)
			}
		}
	}
	if _, ok := s.fromMemory(at+"plot_results?limit=100", "Host: evil.example"); ok {
		t.Error("another host is answered")
	}
	s.get(at+"plot_results?limit=100", "Host: evil.example").want(403)
	s.get(at+"plot_results?limit=100", "Accept: image/png").want(406)
	s.get(at + "plot_results?limit=100&unknown=1").want(400)
	head := s.ask("HEAD", at+"plot_results?limit=100", nil).want(200)
	if len(head.body) > 0 || head.header.Get("Content-Length") == "" {
		t.Errorf("HEAD: %v, %d bytes", head.header, len(head.body))
	}
}

// An answer that is ready goes to those alone who may have it at that moment.
func TestReadyAnswersAreForThoseWhoMay(t *testing.T) {
	var c clock
	s := newService(t, keyed, func(o *api.Options) { o.Clock, o.Access.Published = c.now, true })
	manager := s.key("manager")
	auth := "Authorization: Bearer " + manager
	own := s.post("/v1/seasons", map[string]any{"name": "own"}, auth).want(201).id()
	other := s.post("/v1/seasons", map[string]any{"name": "other"}, auth).want(201).id()
	mine := s.thingsIn(manager, own, "09-tarn-gate")
	path := "/v1/analyses/" + mine["analyses"] + "/plot_results?limit=10"
	made := s.post("/v1/keys", map[string]any{"name": "own", "role": "reader", "seasons": []string{own}}, auth).want(201)
	reader := "Authorization: Bearer " + made.json()["secret"].(string)
	stranger := "Authorization: Bearer " + s.key("manager", other)
	ready := func(who string, want bool) {
		t.Helper()
		var headers []string
		if who != "" {
			headers = []string{who}
		}
		if _, ok := s.fromMemory(path, headers...); ok != want {
			t.Errorf("answered from memory: %v, want %v", ok, want)
		}
	}
	s.get(path, reader).want(200)
	ready(reader, true)
	s.get("/v1/seasons", stranger).want(200) // so that the key is remembered
	ready(stranger, false)
	s.get(path, stranger).want(404).problem("not_found")
	ready("", false)
	s.get(path).want(404)
	ready("Authorization: Bearer swk_wrong", false)
	s.get(path, "Authorization: Bearer swk_wrong").want(401).problem("not_signed_in")
	ready(reader, true)
	ready("Authorization: Basic "+strings.TrimPrefix(reader, "Authorization: Bearer "), false)

	// Published: who has no key gets what others may keep.
	season := s.get("/v1/seasons/"+own, auth).want(200)
	s.ask("PATCH", "/v1/seasons/"+own, map[string]any{"published": true}, auth, "If-Match: "+season.header.Get("ETag")).want(200)
	for range 2 {
		if r := s.get(path).want(200); r.header.Get("Cache-Control") != "public, max-age=60" {
			t.Errorf("published: %v", r.header)
		}
	}
	if r := s.get(path, reader).want(200); !strings.HasPrefix(r.header.Get("Cache-Control"), "private") {
		t.Errorf("with a key: %v", r.header)
	}
	season = s.get("/v1/seasons/"+own, auth).want(200)
	s.ask("PATCH", "/v1/seasons/"+own, map[string]any{"published": false}, auth, "If-Match: "+season.header.Get("ETag")).want(200)
	s.get(path).want(404)

	// Revoked by another process: it ends when what is remembered of it does.
	err := s.store.InTx(t.Context(), func(tx *store.Tx) error {
		_, err := tx.RevokeKey(t.Context(), store.Everything, made.id())
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	c.pass(5 * time.Second)
	ready(reader, false)
	s.get(path, reader).want(401)
}

// A key that is revoked here, and an analysis that is dismissed here or elsewhere,
// are not outlived by what is ready.
func TestReadyAnswersEnd(t *testing.T) {
	var c clock
	s := newService(t, keyed, func(o *api.Options) { o.Clock = c.now })
	manager := s.key("manager")
	auth := "Authorization: Bearer " + manager
	season := s.post("/v1/seasons", map[string]any{"name": "own"}, auth).want(201).id()
	dataset := s.upload(season, "09-tarn-gate", auth).want(201).id()
	analyse := func() (id, path string) {
		id = s.post("/v1/analyses", map[string]any{"season": season}, auth, "Prefer: wait=20").want(200).id()
		return id, "/v1/analyses/" + id + "/plot_results?limit=10"
	}
	here, path := analyse()
	elsewhere, second := analyse()
	newest := "/v1/results/plot_results?season=" + season + "&limit=10"
	warm := func(path, key string, want bool) reply {
		t.Helper()
		r := s.get(path, key).want(200)
		if _, ok := s.fromMemory(path, key); ok != want {
			t.Errorf("%s from memory: %v, want %v", path, ok, want)
		}
		return r
	}
	made := s.post("/v1/keys", map[string]any{"name": "x", "role": "reader"}, auth).want(201)
	reader := "Authorization: Bearer " + made.json()["secret"].(string)
	warm(path, reader, true)
	s.ask("DELETE", "/v1/keys/"+made.id(), nil, auth).want(200)
	if _, ok := s.fromMemory(path, reader); ok {
		t.Error("a revoked key is answered")
	}
	s.get(path, reader).want(401)

	// Only tables of one analysis never change: those of the season follow the newest.
	before := warm(newest, auth, false)
	third, _ := analyse()
	if after := warm(newest, auth, false); after.header.Get("ETag") == before.header.Get("ETag") {
		t.Errorf("the season's rows are not those of the analysis %s", third)
	}

	warm(path, auth, true)
	s.ask("DELETE", "/v1/analyses/"+here, nil, auth).want(200)
	if _, ok := s.fromMemory(path, auth); ok {
		t.Error("a dismissed analysis is answered")
	}
	s.get(path, auth).want(410).problem("dismissed")

	warm(second, auth, true)
	err := s.store.InTx(t.Context(), func(tx *store.Tx) error {
		a, err := tx.Analysis(t.Context(), store.Everything, elsewhere)
		if err == nil {
			_, err = tx.DismissAnalysis(t.Context(), store.Everything, elsewhere, a.Revision)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	c.pass(time.Second)
	if _, ok := s.fromMemory(second, auth); ok {
		t.Error("an analysis that was dismissed elsewhere is answered")
	}
	s.get(second, auth).want(410)

	// The results of a dataset stay when it is deleted, and its season's do not show it.
	tag := s.get("/v1/datasets/"+dataset, auth).want(200).header.Get("ETag")
	s.ask("DELETE", "/v1/datasets/"+dataset, nil, auth, "If-Match: "+tag).want(204)
	if r := s.get(newest, auth).want(200); len(r.data()) > 0 {
		t.Errorf("the season shows %d rows of a deleted dataset", len(r.data()))
	}
}

// Rates, the log and the meters count what is answered from memory as all else.
func TestReadyAnswersAreCounted(t *testing.T) {
	var c clock
	s := newService(t, keyed, func(o *api.Options) {
		o.Clock = c.now
		o.Limits.ReadsPerSecond, o.Limits.ReadBurst = 0.001, 13
	})
	manager := s.key("manager")
	auth := "Authorization: Bearer " + manager
	season := s.post("/v1/seasons", map[string]any{"name": "own"}, auth).want(201).id()
	id := s.thingsIn(manager, season, "09-tarn-gate")["analyses"] // 5 reads
	path := "/v1/analyses/" + id + "/plot_results?limit=10"
	tag := s.get(path, auth).want(200).header.Get("ETag")
	for i := range 6 {
		s.get(path, auth, "X-Request-Id: mine-number-"+string(rune('0'+i))).want(200)
	}
	s.get(path, auth, "If-None-Match: "+tag, "Traceparent: 00-0123456789abcdef0123456789abcdef-0123456789abcdef-01").want(304)
	if _, ok := s.fromMemory(path, auth); ok {
		t.Error("a caller who is too fast is answered")
	}
	s.get(path, auth).want(429).problem("rate_limited")
	for i := range 6 {
		if line := s.line("mine-number-" + string(rune('0'+i))); !strings.Contains(line, `"route":"/v1/analyses/:id/:table"`) || !strings.Contains(line, `"status":200`) || !strings.Contains(line, `"caller":"0`) {
			t.Errorf("the log says %q", line)
		}
	}
	if line := s.line("0123456789abcdef0123456789abcdef"); !strings.Contains(line, `"status":304`) {
		t.Errorf("the log says %q", line)
	}
	w := httptest.NewRecorder()
	s.api.Metrics().ServeHTTP(w, httptest.NewRequest("GET", "/metrics", nil))
	for _, want := range []string{
		`sheetwash_request_seconds_count{method="GET",route="/v1/analyses/:id/:table",status="200"} 7`,
		`sheetwash_request_seconds_count{method="GET",route="/v1/analyses/:id/:table",status="304"} 1`,
		`sheetwash_requests_in_flight 0`,
	} {
		if !strings.Contains(w.Body.String(), want+"\n") {
			t.Errorf("the meters lack %s", want)
		}
	}
}

// line is the line of the log with a request id.
func (s *service) line(id string) string {
	for line := range strings.Lines(s.log.String()) {
		if strings.Contains(line, `"msg":"request"`) && strings.Contains(line, `"request_id":"`+id+`"`) {
			return line
		}
	}
	return ""
}

// Over a connection of a real listener heads and bodies arrive whole and in order,
// whatever their sizes.
func TestReadyAnswersOverAConnection(t *testing.T) {
	s := newService(t)
	_, id := s.analysed("09-tarn-gate")
	address, stop := s.serve()
	one := &http.Client{Transport: &http.Transport{DisableCompression: true, MaxConnsPerHost: 1}}
	for range 3 {
		for _, ask := range []string{"plot_results?limit=1", "plot_results?limit=9", "plot_results?limit=10", "plot_results?limit=100", "plot_results?limit=1000", "findings?limit=1", "healthz"} {
			path := "/v1/analyses/" + id + "/" + ask
			if ask == "healthz" {
				path = "/healthz"
			}
			want := s.get(path, "Accept-Encoding: identity").want(200)
			r, err := one.Get(address + path)
			if err != nil {
				t.Fatal(err)
			}
			r.Header.Del("Date")
			want.header.Del("Date")
			r.Header.Del("X-Request-Id")
			want.header.Del("X-Request-Id")
			if ask != "healthz" && !maps.EqualFunc(r.Header, want.header, slices.Equal) {
				t.Errorf("%s: %v, want %v", path, r.Header, want.header)
			}
			body, err := io.ReadAll(r.Body)
			if err != nil || r.Body.Close() != nil || !bytes.Equal(body, want.body) || r.ContentLength != int64(len(body)) {
				t.Fatalf("%s: %d bytes, want %d: %v", path, len(body), len(want.body), err)
			}
		}
	}
	path := "/v1/analyses/" + id + "/plot_results?limit=100"
	want := s.get(path, "If-None-Match: "+s.get(path).header.Get("ETag")).want(304)
	for range 3 {
		r, err := http.NewRequest("GET", address+path, nil)
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("If-None-Match", want.header.Get("ETag"))
		r.Header.Set("Accept-Encoding", "identity")
		got, err := one.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		for _, h := range []http.Header{got.Header, want.header} {
			h.Del("Date")
			h.Del("X-Request-Id")
		}
		if got.StatusCode != 304 || !maps.EqualFunc(got.Header, want.header, slices.Equal) {
			t.Errorf("unchanged: %d %v, want %v", got.StatusCode, got.Header, want.header)
		}
		if err := got.Body.Close(); err != nil {
			t.Error(err)
		}
	}
	if err := stop(); err != nil {
		t.Fatal(err)
	}
}
