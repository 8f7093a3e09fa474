package api_test

import (
	"fmt"
	"strings"
	"sync"
	"testing"

	"sheetwash/api"
)

const badSamples = "plot,sample,start,end,volume\n1,1,0,three,10\n1,2,3,6,20\n"

// An upload is stored once, found again by its bytes, and deleted to a tombstone.
func TestDatasetLife(t *testing.T) {
	s := newService(t)
	season := s.season("Corrin Basin 2031")
	event := s.post("/v1/seasons/"+season+"/events", map[string]any{"name": "Ashlock Mill"}).want(201).id()
	made := s.upload(season+"&event="+event, "01-ashlock-mill").want(201)
	d := made.json()
	if d["state"] != "accepted" || d["name"] != "01-ashlock-mill" || len(d["files"].([]any)) != 3 || d["event"] != event {
		t.Errorf("made %s", made.body)
	}
	again := s.upload(season+"&event="+event, "01-ashlock-mill").want(200)
	if again.id() != made.id() {
		t.Errorf("the same bytes made %s and %s", made.id(), again.id())
	}
	if n := len(s.get("/v1/datasets?season=" + season).want(200).data()); n != 1 {
		t.Errorf("%d datasets", n)
	}
	runs := s.get("/v1/runs?dataset=" + made.id()).want(200).data()
	plots := s.get("/v1/plots?season=" + season).want(200).data()
	treatments := s.get("/v1/treatments?season=" + season).want(200).data()
	if len(runs) == 0 || len(plots) == 0 || len(treatments) == 0 {
		t.Errorf("%d runs, %d plots, %d treatments", len(runs), len(plots), len(treatments))
	}
	for _, path := range []string{"/v1/runs/" + runs[0]["id"].(string), "/v1/treatments/" + treatments[0]["id"].(string)} {
		s.get(path).want(200)
	}
	s.get("/v1/calibrations?season=" + season).want(200)
	at := "/v1/datasets/" + made.id()
	tag := s.get(at).want(200).header.Get("ETag")
	s.ask("DELETE", at, nil).want(428)
	s.ask("DELETE", at, nil, "If-Match: "+tag).want(204)
	s.get(at).want(410).problem("deleted")
	s.get(at + "/findings").want(410)
	if n := len(s.get("/v1/plots?season=" + season).want(200).data()); n != 0 {
		t.Errorf("%d plots of a deleted dataset", n)
	}
}

// A plot is set aside with a reason, and not without.
func TestPlotExclusion(t *testing.T) {
	s := newService(t)
	season := s.season("Corrin Basin 2031")
	s.upload(season, "01-ashlock-mill").want(201)
	at := "/v1/plots/" + s.get("/v1/plots?season=" + season).data()[0]["id"].(string)
	tag := "If-Match: " + s.get(at).want(200).header.Get("ETag")
	s.ask("PATCH", at, map[string]any{"excluded": true}, tag).want(400).problem("malformed_request")
	out := s.ask("PATCH", at, map[string]any{"excluded": true, "exclude_reason": "the funnel leaked"}, tag).want(200)
	if v := out.json(); v["excluded"] != true || v["exclude_reason"] != "the funnel leaked" {
		t.Errorf("set aside: %s", out.body)
	}
	in := s.ask("PATCH", at, map[string]any{"excluded": false}, "If-Match: "+out.header.Get("ETag")).want(200)
	if v := in.json(); v["excluded"] != false || v["exclude_reason"] != nil {
		t.Errorf("taken in: %s", in.body)
	}
}

// Data with errors are kept with all their findings, and refused.
func TestRejectedUpload(t *testing.T) {
	s := newService(t)
	season := s.season("Corrin Basin 2031")
	files := demo(t, "01-ashlock-mill")
	files["samples.csv"] = badSamples
	body, contentType := form(t, files)
	r := s.post("/v1/datasets?season="+season+"&name=bad", body, "Content-Type: "+contentType).want(422)
	p := r.problem("data_rejected")
	if len(p["findings"].([]any)) == 0 || p["findings_total"].(float64) < 1 {
		t.Errorf("findings: %s", r.body)
	}
	links := p["links"].(map[string]any)
	d := s.get(links["dataset"].(string)).want(200).json()
	if d["state"] != "rejected" {
		t.Errorf("state is %v", d["state"])
	}
	findings := s.get(links["findings"].(string) + "?severity=error").want(200)
	if len(findings.data()) == 0 {
		t.Errorf("findings: %s", findings.body)
	}
	csv := s.get(links["findings"].(string) + "?format=csv").want(200)
	if !strings.HasPrefix(string(csv.body), "dataset,code,severity,file,table,row,column,value,message\n") {
		t.Errorf("csv begins %.80s", csv.body)
	}
	if n := len(s.get("/v1/plots?season=" + season).data()); n != 0 {
		t.Errorf("%d plots of rejected data", n)
	}
	s.post("/v1/datasets?season="+season+"&name=bad", body, "Content-Type: "+contentType).want(422)
	if n := len(s.get("/v1/datasets?season=" + season).data()); n != 1 {
		t.Errorf("%d records of one upload", n)
	}
	s.post("/v1/analyses", map[string]any{"season": season}).want(409).problem("state_conflict")
}

// A dry run checks and keeps nothing.
func TestDryRun(t *testing.T) {
	s := newService(t)
	season := s.season("Corrin Basin 2031")
	body, contentType := form(t, demo(t, "01-ashlock-mill"))
	for _, query := range []string{"dry_run=true&season=" + season, "dry_run=true"} {
		r := s.post("/v1/datasets?"+query, body, "Content-Type: "+contentType).want(200).json()
		if r["state"] != "accepted" || r["plots"].(float64) == 0 {
			t.Errorf("dry run: %v", r)
		}
	}
	if n := len(s.get("/v1/datasets").data()); n != 0 {
		t.Errorf("%d datasets kept", n)
	}
}

// Uploads are bounded in size, number and kind while they come.
func TestUploadRefusals(t *testing.T) {
	s := newService(t, func(o *api.Options) { o.Limits.UploadBytes, o.Limits.UploadFiles, o.Limits.Uploads = 100_000, 3, 1 })
	season := s.season("Corrin Basin 2031")
	at := "/v1/datasets?season=" + season
	large, contentType := form(t, map[string]string{"a.csv": strings.Repeat("x", 200_000)})
	s.post(at, large, "Content-Type: "+contentType).want(413).problem("body_too_large")
	s.post(at, strings.Repeat("x", 200_000), "Content-Type: text/csv").want(413).problem("body_too_large")
	many, contentType := form(t, map[string]string{"a": "1", "b": "2", "c": "3", "d": "4"})
	s.post(at, many, "Content-Type: "+contentType).want(413).problem("too_many_files")
	for _, name := range []string{"../a.csv", "/etc/a.csv", "a\x01.csv"} {
		out, contentType := form(t, map[string]string{name: "1"})
		s.post(at, out, "Content-Type: "+contentType).want(400).problem("malformed_request")
	}
	s.post(at, "x", "Content-Type: image/png").want(415).problem("content_type_not_accepted")
	s.post(at, "x", "Content-Type: text/csv", "Content-Encoding: gzip").want(415)
	s.post(at, "--b\r\nContent-Disposition: form-data; name=\"season\"\r\n\r\nx\r\n--b--\r\n", "Content-Type: multipart/form-data; boundary=b").want(400).problem("unknown_parameter")
	s.post(at, "no form", "Content-Type: multipart/form-data; boundary=b").want(400).problem("malformed_request")
	s.post("/v1/datasets", "x", "Content-Type: text/csv").want(400).problem("malformed_request")
	s.post("/v1/datasets?season=other", "x", "Content-Type: text/csv").want(404).problem("not_found")
	s.post(at+"&event=other", "x", "Content-Type: text/csv").want(404).problem("not_found")
	if n := len(s.get("/v1/datasets").data()); n != 0 {
		t.Errorf("%d datasets kept", n)
	}
}

// Fifty callers send the same request with one key: there is one effect, and one
// answer to all who are answered.
func TestIdempotentUploads(t *testing.T) {
	s := newService(t, func(o *api.Options) { o.Limits.Uploads = 0 })
	season := s.season("Corrin Basin 2031")
	body, contentType := form(t, demo(t, "02-dunmarrow"))
	var wg sync.WaitGroup
	var mu sync.Mutex
	ids := map[string]int{}
	for range 50 {
		wg.Go(func() {
			r := s.post("/v1/datasets?season="+season, body, "Content-Type: "+contentType, "Idempotency-Key: one")
			mu.Lock()
			defer mu.Unlock()
			switch r.status {
			case 201:
				ids[r.id()]++
			case 409:
				r.problem("idempotency_in_flight")
			default:
				t.Errorf("status %d: %s", r.status, r.body)
			}
		})
	}
	wg.Wait()
	if len(ids) != 1 || len(s.get("/v1/datasets").data()) != 1 {
		t.Errorf("effects: %v", ids)
	}
	again := s.post("/v1/datasets?season="+season, body, "Content-Type: "+contentType, "Idempotency-Key: one").want(201)
	if again.header.Get("Idempotency-Replayed") != "true" || again.header.Get("Location") == "" {
		t.Errorf("replay: %v", again.header)
	}
	s.post("/v1/datasets?season="+season+"&name=other", body, "Content-Type: "+contentType, "Idempotency-Key: one").want(422).problem("idempotency_key_reused")
	s.post("/v1/seasons", map[string]any{"name": "x"}, "Idempotency-Key: "+strings.Repeat("k", 256)).want(400)
}

// While a request is being answered, its repetition is told to wait.
func TestIdempotencyInFlight(t *testing.T) {
	s := newService(t)
	season := s.season("Corrin Basin 2031")
	body, contentType := form(t, demo(t, "01-ashlock-mill"))
	ask := func() reply {
		return s.post("/v1/datasets?season="+season, body, "Content-Type: "+contentType, "Idempotency-Key: k")
	}
	s.engine.hold = make(chan chan struct{})
	first := make(chan reply)
	go func() { first <- ask() }()
	on := <-s.engine.hold
	ask().want(409).problem("idempotency_in_flight")
	close(on)
	(<-first).want(201)
}

// A request that fails frees its key.
func TestIdempotencyAfterFailure(t *testing.T) {
	s := newService(t)
	season := s.season("Corrin Basin 2031")
	s.engine.fail = fmt.Errorf("disk on fire at /var/lib/secret")
	body, contentType := form(t, demo(t, "01-ashlock-mill"))
	r := s.post("/v1/datasets?season="+season, body, "Content-Type: "+contentType, "Idempotency-Key: k").want(500)
	r.problem("internal")
	if strings.Contains(string(r.body), "secret") {
		t.Errorf("the cause is told: %s", r.body)
	}
	s.engine.fail = nil
	s.post("/v1/datasets?season="+season, body, "Content-Type: "+contentType, "Idempotency-Key: k").want(201)
}

// Result rows name datasets, so that two of a season do not share a name.
func TestDatasetNamesDiffer(t *testing.T) {
	s := newService(t)
	season := s.season("Corrin Basin 2031")
	a, contentType := form(t, demo(t, "01-ashlock-mill"))
	b, otherType := form(t, demo(t, "02-dunmarrow"))
	one := s.post("/v1/datasets?name=day&season="+season, a, "Content-Type: "+contentType).want(201).json()
	two := s.post("/v1/datasets?name=day&season="+season, b, "Content-Type: "+otherType).want(201).json()
	if one["name"] != "day" || !strings.HasPrefix(two["name"].(string), "day-") {
		t.Errorf("names are %v and %v", one["name"], two["name"])
	}
	if n := len(s.get("/v1/datasets?season=Corrin%20Basin%202031&state=accepted").want(200).data()); n != 2 {
		t.Errorf("%d datasets by the name of the season", n)
	}
	s.get("/v1/datasets?season=nowhere").want(404)
}
