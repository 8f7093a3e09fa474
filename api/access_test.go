package api_test

import (
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"sheetwash/api"
	"sheetwash/api/store"
)

// clock is a time that tests move.
type clock struct{ offset atomic.Int64 }

func (c *clock) now() time.Time { return time.Now().Add(time.Duration(c.offset.Load())) }

func (c *clock) pass(d time.Duration) { c.offset.Add(int64(d)) }

// A key that is revoked elsewhere ends within 5 s here.
func TestRevokedKeyEnds(t *testing.T) {
	var c clock
	s := newService(t, keyed, func(o *api.Options) { o.Clock = c.now })
	manager := "Authorization: Bearer " + s.key("manager")
	made := s.post("/v1/keys", map[string]any{"name": "reader", "role": "reader"}, manager).want(201)
	secret := made.json()["secret"].(string)
	key := "Authorization: Bearer " + secret
	s.get("/v1/seasons", key).want(200)
	if list := s.get("/v1/keys", manager).want(200); strings.Contains(string(list.body), secret) {
		t.Error("the list shows a secret")
	}
	err := s.store.InTx(t.Context(), func(tx *store.Tx) error { // as another node would
		_, err := tx.RevokeKey(t.Context(), store.Everything, made.id())
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	c.pass(5 * time.Second)
	s.get("/v1/seasons", key).want(401).problem("not_signed_in")
	s.ask("DELETE", "/v1/keys/"+made.id(), nil, manager).want(200)
	s.post("/v1/keys", map[string]any{"name": "k", "role": "reader"}, manager, "Idempotency-Key: k").want(400)
}

// A key that is revoked here ends at once.
func TestRevokedKeyEndsAtOnce(t *testing.T) {
	s := newService(t, keyed)
	manager := "Authorization: Bearer " + s.key("manager")
	made := s.post("/v1/keys", map[string]any{"name": "reader", "role": "reader"}, manager).want(201)
	key := "Authorization: Bearer " + made.json()["secret"].(string)
	s.get("/v1/seasons", key).want(200)
	s.ask("DELETE", "/v1/keys/"+made.id(), nil, manager).want(200)
	s.get("/v1/seasons", key).want(401)
}

// Ten failed sign-ins of an address in a minute, and the next waits, good key or not.
func TestSignInFailuresAreBounded(t *testing.T) {
	var c clock
	s := newService(t, keyed, func(o *api.Options) { o.Clock = c.now })
	good := "Authorization: Bearer " + s.key("reader")
	for range 10 {
		s.get("/v1/seasons", "Authorization: Bearer swk_wrong").want(401).problem("not_signed_in")
	}
	for _, key := range []string{"Authorization: Bearer swk_wrong", good} {
		r := s.get("/v1/seasons", key).want(429)
		r.problem("rate_limited")
		if r.header.Get("Retry-After") == "" {
			t.Error("no Retry-After")
		}
	}
	c.pass(time.Minute)
	s.get("/v1/seasons", good).want(200)
	s.get("/v1/seasons", "Authorization: Basic "+strings.TrimPrefix(good, "Authorization: Bearer ")).want(401)
}

func TestRatesAreBounded(t *testing.T) {
	s := newService(t, keyed, func(o *api.Options) {
		o.Limits.ReadsPerSecond, o.Limits.ReadBurst, o.Limits.WritesPerSecond, o.Limits.WriteBurst = 0.001, 3, 0.001, 1
		o.Limits.AnonymousPerSecond, o.Limits.AnonymousBurst = 0.001, 1
	})
	key, other := "Authorization: Bearer "+s.key("manager"), "Authorization: Bearer "+s.key("manager")
	for range 3 {
		s.get("/v1/seasons", key).want(200)
	}
	s.get("/v1/seasons", key).want(429).problem("rate_limited")
	s.get("/v1/seasons", other).want(200)
	s.post("/v1/seasons", map[string]any{"name": "x"}, key).want(201)
	s.post("/v1/seasons", map[string]any{"name": "x"}, key).want(429)
	s.get("/v1/metrics").want(200)
	s.get("/v1/metrics").want(429)
	s.get("/healthz").want(200)
}

// An open server answers to its own names alone, and changes nothing for a page of
// another site.
func TestOpenServerKeepsOtherSitesOut(t *testing.T) {
	s := newService(t)
	s.get("/v1/seasons", "Host: rebound.example").want(403).problem("not_allowed")
	s.get("/v1/seasons", "Host: localhost:8080").want(200)
	s.get("/v1/seasons", "Host: [::1]:8080").want(200)
	body := map[string]any{"name": "x"}
	s.post("/v1/seasons", body, "Sec-Fetch-Site: cross-site", "Origin: https://evil.example").want(403).problem("not_allowed")
	s.post("/v1/seasons", body, "Origin: https://evil.example").want(403)
	s.post("/v1/seasons", body, "Origin: https://evil.example", "Authorization: Bearer x").want(403)
	s.post("/v1/seasons", body, "Sec-Fetch-Site: same-origin", "Origin: "+s.URL).want(201)
	if r := s.get("/v1/seasons", "Origin: https://evil.example").want(200); r.header.Get("Access-Control-Allow-Origin") != "" {
		t.Error("shared with another site")
	}
}

// Pages may call from origins that the operator or the key names.
func TestCrossOriginSharing(t *testing.T) {
	s := newService(t, keyed, func(o *api.Options) { o.Access.Origins = []string{"https://ours.example"} })
	key := "Authorization: Bearer " + s.key("reader")
	dashboard := "Authorization: Bearer " + s.keyFrom(store.Key{Name: "d", Role: "reader", Origins: []string{"https://board.example"}})
	for _, tt := range []struct {
		origin, key string
		status      int
		shared      bool
	}{
		{"https://ours.example", key, 200, true},
		{"https://ours.example", dashboard, 200, true},
		{"https://board.example", dashboard, 200, true},
		{"https://board.example", key, 403, false},
		{"https://evil.example", dashboard, 403, false},
	} {
		r := s.get("/v1/seasons", "Origin: "+tt.origin, tt.key).want(tt.status)
		if got := r.header.Get("Access-Control-Allow-Origin"); (got == tt.origin) != tt.shared || got == "*" {
			t.Errorf("%s: shared with %q", tt.origin, got)
		}
		if r.header.Get("Access-Control-Allow-Credentials") != "" {
			t.Error("credentials are shared")
		}
	}
	for origin, known := range map[string]bool{"https://ours.example": true, "https://board.example": true, "https://evil.example": false} {
		r := s.ask("OPTIONS", "/v1/seasons", nil, "Origin: "+origin, "Access-Control-Request-Method: GET").want(204)
		if (r.header.Get("Access-Control-Allow-Origin") == origin) != known {
			t.Errorf("preflight of %s: %v", origin, r.header)
		}
	}
}

// No secret, and nothing else that a caller writes, reaches the log.
func TestLogHoldsNoSecret(t *testing.T) {
	s := newService(t, keyed)
	good, wrong := s.key("manager"), "swk_MARKwrongsecret"
	auth := "Authorization: Bearer " + good
	season := s.post("/v1/seasons", map[string]any{"name": "MARKname"}, auth).want(201).id()
	made := s.post("/v1/keys", map[string]any{"name": "MARKkey", "role": "reader"}, auth).want(201).json()["secret"].(string)
	s.get("/v1/seasons", "Authorization: Bearer "+wrong).want(401)
	s.get("/v1/seasons?key="+wrong, auth).want(400)
	s.get("/v1/"+wrong, auth).want(404)
	s.get("/v1/seasons/"+wrong, "Cookie: "+wrong, "X-Request-Id: "+wrong+"!", auth).want(404)
	s.post("/v1/seasons", `{"name":"`+wrong, auth, "Content-Type: application/json").want(400)
	s.upload(season, "01-ashlock-mill", auth).want(201)
	text := s.log.String()
	for _, secret := range []string{good, made, wrong, "MARK", "samples.csv"} {
		if strings.Contains(text, secret) {
			t.Errorf("the log holds %q", secret)
		}
	}
	if !strings.Contains(text, `"route":"/v1/seasons/:id"`) || !strings.Contains(text, `"request_id"`) {
		t.Errorf("the log lacks routes: %.500s", text)
	}
}

// Every answer has the headers that keep browsers from guessing and framing.
func TestHeadersOfEveryAnswer(t *testing.T) {
	s := newService(t)
	for _, path := range []string{"/v1/seasons", "/v1/none", "/docs", "/healthz"} {
		h := s.get(path).header
		if h.Get("X-Content-Type-Options") != "nosniff" || h.Get("X-Frame-Options") != "DENY" || !strings.Contains(h.Get("Content-Security-Policy"), "default-src 'none'") ||
			h.Get("X-Request-Id") == "" || !strings.Contains(h.Get("Vary"), "Authorization") {
			t.Errorf("%s: %v", path, h)
		}
	}
	if r := s.get("/v1/seasons", "X-Request-Id: caller-0001"); r.header.Get("X-Request-Id") != "caller-0001" {
		t.Errorf("request id is %q", r.header.Get("X-Request-Id"))
	}
	if r := s.get("/v1/seasons", "Traceparent: 00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01"); r.header.Get("X-Request-Id") != "4bf92f3577b34da6a3ce929d0e0e4736" {
		t.Errorf("request id is %q", r.header.Get("X-Request-Id"))
	}
	s.get("/v1/seasons?season=" + strings.Repeat("x", 9000)).want(400).problem("malformed_request")
}

// An open server asks for keys as soon as there is one.
func TestFirstKeyClosesAnOpenServer(t *testing.T) {
	s := newService(t)
	s.get("/v1/seasons").want(200)
	made := s.post("/v1/keys", map[string]any{"name": "first", "role": "manager"}).want(201)
	s.get("/v1/seasons").want(401)
	key := "Authorization: Bearer " + made.json()["secret"].(string)
	s.get("/v1/seasons", key).want(200)
	s.ask("DELETE", "/v1/keys/"+made.id(), nil, key).want(200)
	s.get("/v1/seasons").want(200)
}
