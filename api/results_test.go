package api_test

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"net/url"
	"strconv"
	"strings"
	"testing"

	"sheetwash/api"
	"sheetwash/api/report"
)

// Every table in JSON, flat rows and CSV holds what report writes, to the byte.
func TestTablesAreThoseOfReport(t *testing.T) {
	s := newService(t)
	days := []string{"09-tarn-gate"}
	_, id := s.analysed(days...)
	a := computed(t, days...)
	for _, u := range []report.Units{report.SI, report.US} {
		for _, table := range report.Tables(u) {
			at := "/v1/analyses/" + id + "/" + table.Name + "?units=" + u.String()
			write := func(f report.Format) []byte {
				var b bytes.Buffer
				if err := report.Write(&b, a, table.Name, report.Options{Format: f, Units: u}); err != nil {
					t.Fatal(err)
				}
				return b.Bytes()
			}
			for query, want := range map[string][]byte{
				"&format=csv": write(report.CSV), "&shape=rows": write(report.JSON), "&format=parquet": write(report.Parquet),
				"&format=csv&bom=1": append([]byte("\uFEFF"), write(report.CSV)...),
			} {
				r := s.get(at + query).want(200)
				if !bytes.Equal(r.body, want) {
					t.Errorf("%s%s differs from report: %d and %d bytes", at, query, len(r.body), len(want))
				}
				if r.header.Get("Content-Length") != strconv.Itoa(len(want)) || r.header.Get("Row-Count") == "" {
					t.Errorf("%s%s: %v", at, query, r.header)
				}
			}
			if arrow := s.get(at + "&format=arrow").want(200); len(arrow.body) == 0 {
				t.Errorf("%s: no arrow stream", at)
			}
			if u == report.US {
				continue
			}
			s.walk(at, bytes.Count(write(report.CSV), []byte("\n"))-1)
		}
	}
}

// walk pages through a table and checks that it has n rows, the last page complete.
func (s *service) walk(at string, n int) {
	s.t.Helper()
	rows, next := 0, at+"&limit=500"
	for next != "" {
		r := s.get(next).want(200)
		var v struct {
			Data []json.RawMessage
			Page struct {
				Returned   int
				Complete   bool
				NextCursor *string `json:"next_cursor"`
			}
			Links map[string]string
		}
		if err := json.Unmarshal(r.body, &v); err != nil {
			s.t.Fatal(err)
		}
		rows += len(v.Data)
		if v.Page.Complete != (v.Page.NextCursor == nil) || v.Page.Returned != len(v.Data) {
			s.t.Fatalf("page is %+v", v.Page)
		}
		if next = v.Links["next"]; (next == "") != v.Page.Complete {
			s.t.Fatalf("links are %v", v.Links)
		}
	}
	if rows != n {
		s.t.Errorf("%s: %d rows in pages, want %d", at, rows, n)
	}
}

// Filters choose rows, and one for a column that is not there is refused.
func TestTableFilters(t *testing.T) {
	s := newService(t)
	season, id := s.analysed("01-ashlock-mill", "02-dunmarrow")
	for _, at := range []string{"/v1/analyses/" + id + "/plot_results?", "/v1/results/plot_results?season=" + season + "&"} {
		rows := s.get(at + "metric=runoff_coefficient&metric=rain_depth&dataset=01-ashlock-mill&headline=true&limit=1000").want(200).data()
		if len(rows) == 0 {
			t.Fatalf("%s: no rows", at)
		}
		for _, r := range rows {
			if m := r["metric"]; m != "runoff_coefficient" && m != "rain_depth" || r["dataset"] != "01-ashlock-mill" || r["headline"] != true {
				t.Errorf("row %v", r)
			}
		}
		exact := s.get(at + "metric=rain_depth&count=exact&limit=1").want(200).json()["page"].(map[string]any)["count"]
		csvRows := s.get(at + "metric=rain_depth&format=csv").want(200)
		if fmt.Sprint(exact) != csvRows.header.Get("Row-Count") {
			t.Errorf("count is %v, Row-Count %s", exact, csvRows.header.Get("Row-Count"))
		}
		s.get(at + "stream=runoff").want(400).problem("unknown_parameter")
		s.get(at + "metric=").want(400).problem("malformed_request")
		s.get(at + "flag=no_runoff").want(200)
		s.get(at + "format=csv&limit=5").want(400).problem("malformed_request")
		s.get(at + "format=xlsx").want(406).problem("format_not_offered")
		s.get(at + "units=metric").want(400)
		s.get(at+"limit=1", "Accept: image/png").want(406).problem("format_not_offered")
	}
	s.get("/v1/results/plot_results").want(400)
	s.get("/v1/results/nothing?season=" + season).want(404)
	s.get("/v1/results/plot_results?season=none").want(404)
}

// A cursor belongs to its list, its filter and its units.
func TestCursorsAreBound(t *testing.T) {
	s := newService(t)
	_, id := s.analysed("01-ashlock-mill")
	at := "/v1/analyses/" + id + "/plot_results?limit=5"
	cursor := s.get(at).want(200).json()["page"].(map[string]any)["next_cursor"].(string)
	s.get(at + "&cursor=" + cursor).want(200)
	for _, other := range []string{at + "&metric=rain_depth", at + "&units=us", "/v1/analyses/" + id + "/hydrograph?limit=5", "/v1/seasons?limit=5"} {
		s.get(other + "&cursor=" + cursor).want(400).problem("bad_cursor")
	}
	s.get(at + "&cursor=" + cursor[1:]).want(400).problem("bad_cursor")
}

// The newest successful analysis of each dataset tells its rows.
func TestSeasonResultsAreTheNewest(t *testing.T) {
	s := newService(t)
	season, _ := s.analysed("01-ashlock-mill", "02-dunmarrow")
	var id any
	for _, d := range s.get("/v1/datasets").data() {
		if d["name"] == "02-dunmarrow" {
			id = d["id"]
		}
	}
	s.post("/v1/analyses", map[string]any{"datasets": []any{id}, "parameters": map[string]any{"level": 0.8}}, "Prefer: wait=20").want(200)
	at := "/v1/results/plot_results?season=" + url.QueryEscape("Corrin Basin 2031") + "&shape=rows"
	var rows []map[string]any
	if err := json.Unmarshal(s.get(at).want(200).body, &rows); err != nil {
		t.Fatal(err)
	}
	byDataset := map[string]int{}
	for _, r := range rows {
		byDataset[r["dataset"].(string)]++
		if r["level"] != nil && (r["level"] == 0.8) != (r["dataset"] == "02-dunmarrow") {
			t.Fatalf("row %v", r)
		}
	}
	if want := len(computed(t, "01-ashlock-mill", "02-dunmarrow").Plots); len(rows) != want || len(byDataset) != 2 {
		t.Errorf("%d rows of %v, want %d", len(rows), byDataset, want)
	}
	s.walk("/v1/results/plot_results?season="+season, len(rows))
}

// Who has an answer is told so, in each encoding.
func TestTableCaching(t *testing.T) {
	s := newService(t)
	_, id := s.analysed("01-ashlock-mill")
	tags := map[string]bool{}
	for _, path := range []string{"/plot_results", "/plot_results?format=csv", "/plot_results?units=us"} {
		for _, packed := range []string{"", "gzip", "zstd"} {
			at := "/v1/analyses/" + id + path
			r := s.get(at, "Accept-Encoding: "+packed).want(200)
			tag := r.header.Get("ETag")
			if r.header.Get("Content-Encoding") != packed || tags[tag] || !strings.Contains(r.header.Get("Cache-Control"), "immutable") {
				t.Errorf("%s %s: %v", path, packed, r.header)
			}
			tags[tag] = true
			s.get(at, "Accept-Encoding: "+packed, "If-None-Match: "+tag).want(304)
		}
	}
	head := s.ask("HEAD", "/v1/analyses/"+id+"/plot_results?format=csv", nil).want(200)
	if head.header.Get("Row-Count") == "" || len(head.body) > 0 {
		t.Errorf("HEAD: %v", head.header)
	}
}

func TestExportTooLarge(t *testing.T) {
	s := newService(t, func(o *api.Options) { o.Limits.ExportRows = 10 })
	_, id := s.analysed("01-ashlock-mill")
	s.get("/v1/analyses/" + id + "/plot_results?format=csv").want(422).problem("export_too_large")
	s.get("/v1/analyses/" + id + "/plot_results?limit=100").want(200)
}

// One call answers with results and keeps nothing.
func TestOneShot(t *testing.T) {
	s := newService(t)
	body, contentType := form(t, demo(t, "01-ashlock-mill"))
	all := s.post("/v1/analyze?name=mill", body, "Content-Type: "+contentType).want(200).json()
	plots := all["plot_results"].([]any)
	if len(plots) == 0 || all["units"] != "si" || plots[0].(map[string]any)["dataset"] != "mill" {
		t.Errorf("%d rows", len(plots))
	}
	for format, media := range map[string]string{"csv": "text/csv; charset=utf-8; header=present", "arrow": "application/vnd.apache.arrow.stream", "parquet": "application/vnd.apache.parquet", "json": "application/json"} {
		r := s.post("/v1/analyze?table=plot_results&units=us&format="+format, body, "Content-Type: "+contentType).want(200)
		if r.header.Get("Content-Type") != media || len(r.body) == 0 {
			t.Errorf("%s: %v", format, r.header)
		}
		if format == "csv" {
			lines, err := csv.NewReader(bytes.NewReader(r.body)).ReadAll()
			if err != nil || len(lines) != len(plots)+1 {
				t.Errorf("csv has %d lines, %v", len(lines), err)
			}
		}
	}
	s.post("/v1/analyze?table=nothing", body, "Content-Type: "+contentType).want(404)
	s.post("/v1/analyze?format=csv", body, "Content-Type: "+contentType).want(406)
	s.post("/v1/analyze?level=2", body, "Content-Type: "+contentType).want(400)
	s.post("/v1/analyze", badSamples, "Content-Type: text/csv").want(422).problem("data_rejected")
	if n := len(s.get("/v1/datasets").data()); n != 0 {
		t.Errorf("%d datasets kept", n)
	}
}
