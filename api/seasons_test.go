package api_test

import (
	"net/http"
	"strings"
	"testing"
)

// A season is made, read, changed and deleted; each step wants the present state.
func TestSeasonLife(t *testing.T) {
	s := newService(t)
	made := s.post("/v1/seasons", map[string]any{"name": "Corrin Basin 2031"}).want(201)
	at := made.header.Get("Location")
	if !strings.HasPrefix(at, "/v1/seasons/") || made.json()["time_zone"] != "UTC" || made.json()["units"] != "si" {
		t.Fatalf("made %s at %s", made.body, at)
	}
	got := s.get(at).want(200)
	tag := got.header.Get("ETag")
	if tag != made.header.Get("ETag") || string(got.body) != string(made.body) {
		t.Errorf("read %s %s, made %s %s", tag, got.body, made.header.Get("ETag"), made.body)
	}
	if r := s.get(at, "If-None-Match: "+tag); r.status != http.StatusNotModified || len(r.body) > 0 {
		t.Errorf("If-None-Match gives %d %s", r.status, r.body)
	}
	patch := map[string]any{"name": "Corrin Basin", "published": true}
	s.ask("PATCH", at, patch).want(428).problem("revision_required")
	s.ask("PATCH", at, patch, `If-Match: "other"`).want(412).problem("revision_mismatch")
	changed := s.ask("PATCH", at, patch, "If-Match: "+tag).want(200)
	if changed.json()["published"] != true || changed.json()["revision"] != 2.0 {
		t.Errorf("changed to %s", changed.body)
	}
	s.ask("PATCH", at, patch, "If-Match: "+tag).want(412)
	event := s.post(at+"/events", map[string]any{"name": "Ashlock Mill", "date": "2031-05-14", "crew": "amber"}).want(201)
	s.ask("DELETE", at, nil, "If-Match: "+changed.header.Get("ETag")).want(409).problem("state_conflict")
	place := event.header.Get("Location")
	cleared := s.ask("PATCH", place, map[string]any{"crew": nil, "place": "the mill"}, "If-Match: "+event.header.Get("ETag")).want(200)
	if v := cleared.json(); v["crew"] != nil || v["place"] != "the mill" || v["date"] != "2031-05-14" {
		t.Errorf("cleared to %s", cleared.body)
	}
	if list := s.get(at + "/events?from=2031-05-14&to=2031-05-15").want(200).data(); len(list) != 1 {
		t.Errorf("events are %v", list)
	}
	s.ask("DELETE", place, nil, "If-Match: "+cleared.header.Get("ETag")).want(204)
	s.ask("DELETE", at, nil, "If-Match: "+changed.header.Get("ETag")).want(204)
	s.get(at).want(404).problem("not_found")
}

// What cannot be is refused with a word on what can.
func TestSeasonRefusals(t *testing.T) {
	s := newService(t)
	deep := strings.Repeat(`{"a":`, 40) + "1" + strings.Repeat("}", 40)
	for _, tt := range []struct{ body, media, code string }{
		{`{"name":""}`, "application/json", "malformed_request"},
		{`{"name":"x","time_zone":"Nowhere/Land"}`, "application/json", "malformed_request"},
		{`{"name":"x","units":"metric"}`, "application/json", "malformed_request"},
		{`{"name":"x","colour":"red"}`, "application/json", "unknown_parameter"},
		{`{"name":"x","name":"y"}`, "application/json", "malformed_request"},
		{`{"name":1}`, "application/json", "malformed_request"},
		{`{"name":"x"}{}`, "application/json", "malformed_request"},
		{`{"name":"x"`, "application/json", "malformed_request"},
		{``, "application/json", "malformed_request"},
		{deep, "application/json", "malformed_request"},
		{`{"name":"x"}`, "text/plain", "content_type_not_accepted"},
		{`{"name":"` + strings.Repeat("x", 2<<20) + `"}`, "application/json", "body_too_large"},
	} {
		s.post("/v1/seasons", tt.body, "Content-Type: "+tt.media).problem(tt.code)
	}
	s.get("/v1/seasons?colour=red").want(400).problem("unknown_parameter")
	s.get("/v1/seasons?limit=1001").want(400).problem("limit_out_of_range")
	s.get("/v1/seasons?sort=colour").want(400).problem("malformed_request")
	s.get("/v1/seasons?cursor=x").want(400).problem("bad_cursor")
	s.get("/v1/seasonz").want(404).problem("not_found")
	r := s.ask("PUT", "/v1/seasons", nil).want(405)
	r.problem("method_not_allowed")
	if r.header.Get("Allow") != "GET, HEAD, POST" {
		t.Errorf("Allow is %q", r.header.Get("Allow"))
	}
}
