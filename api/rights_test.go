package api_test

import (
	"net/http"
	"strings"
	"testing"

	"sheetwash/api"
)

// needs is who may use each route. A route that is not here fails the test.
var needs = map[string]string{
	"GET /v1/seasons": "reader", "POST /v1/seasons": "manager", "GET /v1/seasons/{id}": "reader",
	"PATCH /v1/seasons/{id}": "manager", "DELETE /v1/seasons/{id}": "manager",
	"GET /v1/seasons/{id}/events": "reader", "POST /v1/seasons/{id}/events": "manager",
	"GET /v1/events/{id}": "reader", "PATCH /v1/events/{id}": "manager", "DELETE /v1/events/{id}": "manager",
	"GET /v1/datasets": "reader", "POST /v1/datasets": "recorder", "GET /v1/datasets/{id}": "reader",
	"DELETE /v1/datasets/{id}": "manager", "GET /v1/datasets/{id}/findings": "reader",
	"GET /v1/analyses": "reader", "POST /v1/analyses": "recorder", "GET /v1/analyses/{id}": "reader",
	"DELETE /v1/analyses/{id}": "recorder", "GET /v1/analyses/{id}/events": "reader", "GET /v1/analyses/{id}/{table}": "reader",
	"GET /v1/results/{table}": "reader", "POST /v1/analyze": "recorder",
	"GET /v1/runs": "reader", "GET /v1/runs/{id}": "reader", "GET /v1/plots": "reader", "GET /v1/plots/{id}": "reader",
	"PATCH /v1/plots/{id}": "manager", "GET /v1/treatments": "reader", "GET /v1/treatments/{id}": "reader",
	"GET /v1/samples": "reader", "GET /v1/samples/{id}": "reader", "GET /v1/analyses/{id}/explain": "reader", "GET /v1/analyses/{id}/r-script": "reader",
	"GET /v1/calibrations": "reader", "GET /v1/calibrations/{id}": "reader",
	"GET /v1/metrics": "nothing", "GET /v1/units": "nothing", "GET /v1/error-codes": "nothing", "GET /v1/schemas/{table}": "nothing",
	"GET /v1/limits": "nothing",
	"GET /v1/keys":   "manager", "POST /v1/keys": "manager", "DELETE /v1/keys/{id}": "manager",
	"GET /v1/openapi.json": "nothing", "GET /docs": "nothing", "GET /docs/errors": "nothing", "GET /docs/assets/{file}": "nothing",
	"GET /v1/reports/{id}": "reader",
	"GET /":                "reader", "POST /seasons": "manager", "GET /seasons/{id}": "reader", "GET /seasons/{id}/event": "reader",
	"GET /seasons/{id}/run": "reader", "GET /seasons/{id}/why": "reader", "GET /seasons/{id}/uploads": "reader",
	"POST /seasons/{id}/uploads": "recorder", "GET /datasets/{id}": "reader", "POST /datasets/{id}": "recorder",
	"GET /sign-in": "nothing", "POST /sign-in": "nothing",
	"GET /healthz": "nothing", "GET /readyz": "nothing",
}

// rank orders the roles by what they may.
var rank = map[string]int{"nothing": 0, "reader": 1, "recorder": 2, "manager": 3}

// things are the ids of one season and what is in it.
type things map[string]string

// thingsIn fills a season with one of everything.
func (s *service) thingsIn(manager, season, dataset string) things {
	s.t.Helper()
	key := "Authorization: Bearer " + manager
	id := func(path string) string {
		rows := s.get(path, key).want(200).data()
		if len(rows) == 0 {
			s.t.Fatalf("%s is empty", path)
		}
		return rows[0]["id"].(string)
	}
	out := things{"seasons": season}
	out["events"] = s.post("/v1/seasons/"+season+"/events", map[string]any{"name": "field day"}, key).want(201).id()
	out["datasets"] = s.upload(season, dataset, key).want(201).id()
	s.upload(season, "03-fenwick-holt", key).want(201) // which has bottles
	out["analyses"] = s.post("/v1/analyses", map[string]any{"season": season}, key, "Prefer: wait=20").want(200).id()
	out["runs"], out["plots"] = id("/v1/runs?season="+season), id("/v1/plots?season="+season)
	out["treatments"], out["calibrations"] = id("/v1/treatments?season="+season), id("/v1/calibrations?season="+season)
	out["samples"] = id("/v1/samples?season=" + season)
	out["keys"] = s.post("/v1/keys", map[string]any{"name": "x", "role": "reader", "seasons": []string{season}}, key).want(201).id()
	return out
}

// at is the address of a route for the things of a season.
func (x things) at(path string) string {
	kind := strings.Split(strings.TrimPrefix(strings.TrimPrefix(path, "/v1"), "/"), "/")[0]
	if kind == "reports" {
		kind = "analyses"
	}
	path = strings.NewReplacer("{id}", x[kind], "{table}", "plot_results", "{file}", "start.js").Replace(path)
	if strings.HasPrefix(path, "/v1/results") {
		path += "?season=" + x["seasons"]
	}
	if strings.HasSuffix(path, "/explain") {
		path += "?key=plot_results/09-tarn-gate/TG-1/1/runoff_depth/readings"
	}
	return path
}

// Each route lets in the roles of the table and no other, for the seasons of the
// key and no other.
func TestRights(t *testing.T) {
	s := newService(t, keyed)
	operator := s.key("manager")
	season := func(name string) string {
		return s.post("/v1/seasons", map[string]any{"name": name}, "Authorization: Bearer "+operator).want(201).id()
	}
	own, other := season("own"), season("other")
	mine, theirs := s.thingsIn(operator, own, "09-tarn-gate"), s.thingsIn(operator, other, "09-tarn-gate")
	keys := map[string]string{"nothing": ""}
	for _, role := range []string{"reader", "recorder", "manager"} {
		keys[role] = "Authorization: Bearer " + s.key(role, own)
	}
	for _, r := range api.Routes() {
		name := r.Method + " " + r.Path
		want, listed := needs[name]
		if !listed || want != r.Needs {
			t.Errorf("%s needs %q, and the table says %q", name, r.Needs, want)
			continue
		}
		if r.Method == "DELETE" && r.Path != "/v1/seasons/{id}" {
			s.checkCells(r, theirs, theirs, keys) // what is deleted is not there for the next
			continue
		}
		s.checkCells(r, mine, theirs, keys)
	}
}

func (s *service) checkCells(r api.Route, mine, theirs things, keys map[string]string) {
	s.t.Helper()
	for role, key := range keys {
		var headers []string
		if key != "" {
			headers = []string{key}
		}
		if strings.HasSuffix(r.Path, "/events") && r.Method == "GET" {
			headers = append(headers, "Last-Event-ID: 0")
		}
		name := role + ": " + r.Method + " " + r.Path
		got := s.ask(r.Method, mine.at(r.Path), nil, headers...)
		switch {
		case rank[role] >= rank[r.Needs]:
			if got.status == 401 || got.status == 403 || got.status == 404 && mine["seasons"] != theirs["seasons"] || got.status >= 500 {
				s.t.Errorf("%s: %d %s", name, got.status, got.body)
			}
		case role == "nothing":
			got.want(http.StatusUnauthorized).problem("not_signed_in")
			if got.header.Get("WWW-Authenticate") == "" {
				s.t.Errorf("%s: no WWW-Authenticate", name)
			}
		default:
			got.want(http.StatusForbidden).problem("not_allowed")
		}
		if rank[role] < rank[r.Needs] || r.Needs == "nothing" || mine.at(r.Path) == theirs.at(r.Path) && mine["seasons"] != theirs["seasons"] {
			continue
		}
		body := any(nil)
		if r.Method == "PATCH" || r.Method == "POST" {
			body = map[string]any{}
			if r.Method == "POST" {
				body = map[string]any{"name": "x"}
			}
		}
		s.ask(r.Method, theirs.at(r.Path), body, headers...).want(http.StatusNotFound).problem("not_found")
	}
}

// Lists show the seasons of the key alone, and bodies reach no further.
func TestListsKeepToTheSeasonsOfTheKey(t *testing.T) {
	s := newService(t, keyed)
	operator := s.key("manager")
	auth := "Authorization: Bearer " + operator
	own := s.post("/v1/seasons", map[string]any{"name": "own"}, auth).want(201).id()
	other := s.post("/v1/seasons", map[string]any{"name": "other"}, auth).want(201).id()
	theirs := s.thingsIn(operator, other, "09-tarn-gate")
	key := "Authorization: Bearer " + s.key("manager", own)
	for _, list := range []string{"datasets", "analyses", "runs", "plots", "treatments", "calibrations", "keys"} {
		for _, row := range s.get("/v1/"+list, key).want(200).data() {
			if list != "keys" || row["seasons"].([]any)[0] != own {
				t.Errorf("%s shows %v", list, row)
			}
		}
	}
	if rows := s.get("/v1/seasons", key).want(200).data(); len(rows) != 1 || rows[0]["id"] != own {
		t.Errorf("seasons are %v", rows)
	}
	s.post("/v1/analyses", map[string]any{"season": other}, key).want(404)
	s.post("/v1/analyses", map[string]any{"datasets": []string{theirs["datasets"]}}, key).want(404)
	s.post("/v1/datasets?season="+other, "x", key, "Content-Type: text/csv").want(404)
	s.post("/v1/seasons", map[string]any{"name": "x"}, key).want(403)
	for _, k := range []map[string]any{
		{"name": "k", "role": "manager"}, {"name": "k", "role": "reader", "seasons": []string{other}},
	} {
		s.post("/v1/keys", k, key).want(403).problem("not_allowed")
	}
	for _, k := range []map[string]any{
		{"name": "k", "role": "operator"}, {"name": "k", "role": "reader", "origins": []string{"*"}},
		{"name": "k", "role": "manager", "origins": []string{"https://a.example"}}, {"name": "", "role": "reader"},
		{"name": "k", "role": "reader", "expires_at": "2001-01-01T00:00:00Z"},
	} {
		s.post("/v1/keys", k, auth).want(400).problem("malformed_request")
	}
}

// A published season is readable without a key where the operator allows it; the
// others, and changes, are not.
func TestPublishedSeasons(t *testing.T) {
	s := newService(t, keyed, func(o *api.Options) { o.Access.Published = true })
	auth := "Authorization: Bearer " + s.key("manager")
	shown := s.post("/v1/seasons", map[string]any{"name": "shown"}, auth).want(201)
	hidden := s.post("/v1/seasons", map[string]any{"name": "hidden"}, auth).want(201).id()
	s.get("/v1/seasons/" + shown.id()).want(404)
	s.ask("PATCH", "/v1/seasons/"+shown.id(), map[string]any{"published": true}, auth, "If-Match: "+shown.header.Get("ETag")).want(200)
	r := s.get("/v1/seasons/" + shown.id()).want(200)
	if r.header.Get("Cache-Control") != "public, max-age=60" {
		t.Errorf("kept %q", r.header.Get("Cache-Control"))
	}
	s.get("/v1/seasons/" + hidden).want(404)
	if n := len(s.get("/v1/seasons").want(200).data()); n != 1 {
		t.Errorf("%d seasons without a key", n)
	}
	s.post("/v1/seasons", map[string]any{"name": "x"}).want(401)
	s.get("/v1/keys").want(401)
}
