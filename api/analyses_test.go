package api_test

import (
	"bufio"
	"context"
	"encoding/json"
	"net/http"
	"strings"
	"testing"
	"time"

	"sheetwash/api"
)

// analysed makes a season with datasets of the demo season and an analysis that is
// over, and returns season and analysis.
func (s *service) analysed(datasets ...string) (season, analysis string) {
	s.t.Helper()
	season = s.season("Corrin Basin 2031")
	for _, d := range datasets {
		s.upload(season, d).want(201)
	}
	r := s.post("/v1/analyses", map[string]any{"season": season}, "Prefer: wait=20").want(200)
	if r.header.Get("Preference-Applied") != "wait=20" || r.json()["state"] != "successful" {
		s.t.Fatalf("%v %s", r.header, r.body)
	}
	return season, r.id()
}

func TestAnalysisLife(t *testing.T) {
	s := newService(t)
	s.jobs.hold = make(chan struct{})
	season := s.season("Corrin Basin 2031")
	s.upload(season, "01-ashlock-mill").want(201)
	made := s.post("/v1/analyses", map[string]any{"season": season, "parameters": map[string]any{"level": 0.9}}, "Idempotency-Key: a", "Prefer: respond-async").want(202)
	at := made.header.Get("Location")
	if made.header.Get("Retry-After") == "" || made.json()["state"] != "accepted" || made.header.Get("Preference-Applied") != "respond-async" {
		t.Errorf("made %v %s", made.header, made.body)
	}
	if r := s.post("/v1/analyses", map[string]any{"season": season, "parameters": map[string]any{"level": 0.9}}, "Idempotency-Key: a").want(202); r.id() != made.id() {
		t.Errorf("repeated as %s", r.body)
	}
	s.get(at + "/plot_results").want(409).problem("state_conflict")
	if r := s.post("/v1/analyses", map[string]any{"season": season}, "Prefer: wait=0").want(202); r.id() == made.id() {
		t.Error("without a key the request is another")
	}
	close(s.jobs.hold)
	for end := time.Now().Add(20 * time.Second); ; time.Sleep(20 * time.Millisecond) {
		v := s.get(at).want(200).json()
		if v["state"] == "successful" {
			if p := v["progress"].(map[string]any); p["done"] != 1.0 || p["total"] != 1.0 {
				t.Errorf("progress is %v", p)
			}
			break
		}
		if time.Now().After(end) {
			t.Fatalf("state is %v", v["state"])
		}
	}
	s.get(at + "/plot_results").want(200)
	s.get(at + "/nothing").want(404).problem("not_found")
	s.ask("DELETE", at, nil, `If-Match: "x"`).want(412)
	s.ask("DELETE", at, nil, "If-Match: "+s.get(at).header.Get("ETag")).want(200)
	s.get(at + "/plot_results").want(410).problem("dismissed")
	s.ask("DELETE", at, nil).want(410).problem("dismissed")
	if n := len(s.get("/v1/analyses?state=dismissed").want(200).data()); n != 1 {
		t.Errorf("%d dismissed", n)
	}
}

func TestAnalysisRefusals(t *testing.T) {
	s := newService(t, func(o *api.Options) { o.Limits.AnalysisRuns = 3 })
	season := s.season("Corrin Basin 2031")
	d := s.upload(season, "01-ashlock-mill").want(201).id()
	large := s.season("Large")
	for _, day := range []string{"01-ashlock-mill", "02-dunmarrow", "03-fenwick-holt"} {
		s.upload(large, day).want(201)
	}
	other := s.season("Other")
	for _, tt := range []struct {
		body   map[string]any
		status int
		code   string
	}{
		{map[string]any{}, 400, "malformed_request"},
		{map[string]any{"season": "none"}, 404, "not_found"},
		{map[string]any{"datasets": []string{"none"}}, 404, "not_found"},
		{map[string]any{"season": other, "datasets": []string{d}}, 404, "not_found"},
		{map[string]any{"season": large}, 400, "malformed_request"},
		{map[string]any{"season": other}, 409, "state_conflict"},
		{map[string]any{"datasets": []string{d, d}}, 409, "state_conflict"},
		{map[string]any{"season": season, "parameters": map[string]any{"level": 0.5}}, 400, "malformed_request"},
		{map[string]any{"season": season, "parameters": map[string]any{"levels": 0.9}}, 400, "unknown_parameter"},
	} {
		s.post("/v1/analyses", tt.body).want(tt.status).problem(tt.code)
	}
}

// A reader that comes late or comes back gets what it has not seen, and the stream
// ends with the analysis.
func TestProgressStream(t *testing.T) {
	s := newService(t, func(o *api.Options) { o.Limits.HeartbeatTime = 50 * time.Millisecond })
	s.jobs.hold = make(chan struct{})
	season := s.season("Corrin Basin 2031")
	s.upload(season, "01-ashlock-mill").want(201)
	at := s.post("/v1/analyses", map[string]any{"season": season}).want(202).header.Get("Location") + "/events"
	events, beats := make(chan [2]string, 100), make(chan bool, 100)
	go s.follow(at, "", events, beats)
	<-beats
	close(s.jobs.hold)
	var all [][2]string
	for e := range events {
		all = append(all, e)
	}
	if len(all) < 2 {
		t.Fatalf("events are %v", all)
	}
	var last struct{ State string }
	if err := json.Unmarshal([]byte(all[len(all)-1][1]), &last); err != nil || last.State != "successful" {
		t.Errorf("last is %v", all[len(all)-1])
	}
	again, none := make(chan [2]string, 100), make(chan bool, 100)
	go s.follow(at, all[0][0], again, none)
	n := 0
	for e := range again {
		if n++; n >= len(all) || e != all[n] {
			t.Errorf("resumed with %v, want %v", e, all[n])
		}
	}
	if n != len(all)-1 {
		t.Errorf("resumed with %d events of %d", n, len(all)-1)
	}
	s.get(at, "Last-Event-ID: x").want(400).problem("malformed_request")
	s.get(at, "Accept: application/json").want(406).problem("format_not_offered")
	s.get("/v1/analyses/none/events").want(404)
}

// follow reads a stream of events to its end.
func (s *service) follow(at, after string, events chan<- [2]string, beats chan<- bool) {
	defer close(events)
	r, err := http.NewRequestWithContext(context.Background(), http.MethodGet, s.URL+at, nil)
	if err != nil {
		s.t.Error(err)
		return
	}
	if after != "" {
		r.Header.Set("Last-Event-ID", after)
	}
	res, err := client.Do(r)
	if err != nil {
		s.t.Error(err)
		return
	}
	defer res.Body.Close()
	id := ""
	for lines := bufio.NewScanner(res.Body); lines.Scan(); {
		switch line := lines.Text(); {
		case strings.HasPrefix(line, "id: "):
			id = line[4:]
		case strings.HasPrefix(line, "data: "):
			events <- [2]string{id, line[6:]}
		case strings.HasPrefix(line, ":"):
			select {
			case beats <- true:
			default:
			}
		}
	}
}

// Callers have so many streams at once and no more.
func TestStreamQuota(t *testing.T) {
	s := newService(t, func(o *api.Options) { o.Limits.Streams, o.Limits.HeartbeatTime = 1, 20*time.Millisecond })
	s.jobs.hold = make(chan struct{})
	defer close(s.jobs.hold)
	season := s.season("Corrin Basin 2031")
	s.upload(season, "01-ashlock-mill").want(201)
	at := s.post("/v1/analyses", map[string]any{"season": season}).want(202).header.Get("Location") + "/events"
	ctx, stop := context.WithCancel(t.Context())
	r, err := http.NewRequestWithContext(ctx, http.MethodGet, s.URL+at, nil)
	if err != nil {
		t.Fatal(err)
	}
	res, err := client.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	refused := s.get(at).want(429)
	refused.problem("quota_reached")
	if refused.header.Get("Retry-After") == "" {
		t.Error("no Retry-After")
	}
	stop()
	res.Body.Close()
}
