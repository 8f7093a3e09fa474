package api_test

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"math"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"sheetwash/analysis/result"
	"sheetwash/api/batch"
	"sheetwash/api/report/rscript"
	"sheetwash/ingest"
)

// The tree of every table is that of the command line, for the whole of a season.
func TestExplanationIsThatOfTheCommandLine(t *testing.T) {
	days := []string{"01-ashlock-mill", "09-tarn-gate"}
	s := newService(t)
	_, id := s.analysed(days...)
	a := computed(t, days...)
	var q batch.Request
	var paths []string
	for _, d := range days {
		paths = append(paths, filepath.Join("..", "testdata", "demo-season", d))
	}
	season, err := q.ReadSeason(context.Background(), paths, ingest.FindOptions{}, func(int, int) {})
	if err != nil {
		t.Fatal(err)
	}
	keys := []string{
		a.Plots[0].Key(), a.Plots[len(a.Plots)-1].Key(), a.Hydrograph[0].StepKey(&a.Hydrograph[0].Steps[1]), a.Fits[0].Key(),
		a.Treatments[0].Key(), a.Comparisons[0].Key(), a.Calibrations[0].Key(),
	}
	for _, key := range keys {
		want, err := q.Explain(context.Background(), season.Datasets, batch.Program{Name: "sheetwash", Version: "1.2.3"}, key)
		if err != nil {
			t.Fatal(err)
		}
		text, err := json.Marshal(&want)
		if err != nil {
			t.Fatal(err)
		}
		r := s.get("/v1/analyses/" + id + "/explain?key=" + url.QueryEscape(key)).want(200)
		var expected map[string]any
		if err := json.Unmarshal(text, &expected); err != nil {
			t.Fatal(err)
		}
		if got := r.json(); !reflect.DeepEqual(got, expected) {
			t.Errorf("%s: the service says %.300s, the command line %.300s", key, r.body, text)
		}
	}
	si := s.get("/v1/analyses/" + id + "/explain?key=" + url.QueryEscape(keyOf(a, "runoff_depth"))).want(200).json()
	us := s.get("/v1/analyses/" + id + "/explain?units=us&key=" + url.QueryEscape(keyOf(a, "runoff_depth"))).want(200).json()
	if si["unit"] != "mm" || us["unit"] != "in" || us["equation"] != "value * factor" {
		t.Errorf("in SI %v %v, in US %v %v by %v", si["value"], si["unit"], us["value"], us["unit"], us["equation"])
	}
}

// keyOf is the key of the first row of a metric.
func keyOf(a *result.Analysis, m result.Metric) string {
	for i := range a.Plots {
		if a.Plots[i].Metric == m {
			return a.Plots[i].Key()
		}
	}
	return ""
}

func TestExplanationRefusals(t *testing.T) {
	s := newService(t)
	season, id := s.analysed("09-tarn-gate")
	at := "/v1/analyses/" + id + "/explain"
	a := computed(t, "09-tarn-gate")
	key := keyOf(a, "runoff_depth")
	s.get(at).want(400).problem("malformed_request")
	s.get(at + "?key=" + url.QueryEscape(key) + "&unit=us").want(400).problem("unknown_parameter")
	for _, wrong := range []string{strings.Replace(key, "runoff_depth", "runof_depth", 1), "plot_result" + key[len("plot_results"):]} {
		p := s.get(at + "?key=" + url.QueryEscape(wrong)).want(404).problem("not_found")
		if detail := p["detail"].(string); !strings.Contains(detail, key) {
			t.Errorf("the detail does not name %s: %s", key, detail)
		}
	}
	s.get("/v1/analyses/" + id + "/r-script?x=1").want(400)

	// What a finished analysis set aside stays so in its explanations.
	before := s.get(at + "?key=" + url.QueryEscape(a.Treatments[0].Key())).want(200)
	plot := s.get("/v1/plots?season=" + season).want(200).data()[0]
	tag := s.get("/v1/plots/" + plot["id"].(string)).want(200).header.Get("ETag")
	s.ask("PATCH", "/v1/plots/"+plot["id"].(string), map[string]any{"excluded": true, "exclude_reason": "mole"}, "If-Match: "+tag).want(200)
	after := s.get(at + "?key=" + url.QueryEscape(a.Treatments[0].Key())).want(200)
	if string(before.body) != string(after.body) {
		t.Error("a plot that was set aside later changes the explanation")
	}

	dataset := s.get("/v1/datasets?season=" + season).want(200).data()[0]["id"].(string)
	tag = s.get("/v1/datasets/" + dataset).want(200).header.Get("ETag")
	s.ask("DELETE", "/v1/datasets/"+dataset, nil, "If-Match: "+tag).want(204)
	s.get(at + "?key=" + url.QueryEscape(key)).want(410).problem("deleted")
}

// The script that the service gives, run on the tables that it gives, agrees with
// them.
func TestRScriptAgreesWithTheServedTables(t *testing.T) {
	s := newService(t)
	_, id := s.analysed("01-ashlock-mill", "02-dunmarrow")
	r := s.get("/v1/analyses/" + id + "/r-script").want(200)
	if !strings.HasPrefix(r.header.Get("Content-Type"), "text/plain") || !strings.Contains(r.header.Get("Content-Disposition"), "second_opinion.R") {
		t.Errorf("headers are %v", r.header)
	}
	dir := t.TempDir()
	write := func(name string, data []byte) {
		if err := os.WriteFile(filepath.Join(dir, name), data, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	write("second_opinion.R", r.body)
	var script bytes.Buffer
	if err := rscript.Write(&script, computed(t, "01-ashlock-mill", "02-dunmarrow"), 0.95); err != nil || !bytes.Equal(script.Bytes(), r.body) {
		t.Errorf("the script is not that of the command line: %v", err)
	}
	link := regexp.MustCompile(`^<([^>]+)>; rel="related"; title="([a-z_]+\.csv)"$`)
	links := 0
	for _, header := range r.header.Values("Link") {
		m := link.FindStringSubmatch(header)
		if m == nil {
			t.Fatalf("the link is %q", header)
		}
		write(m[2], s.get(m[1]).want(200).body)
		links++
	}
	if links != 3 {
		t.Errorf("%d tables are linked", links)
	}
	program, err := exec.LookPath("Rscript")
	if err != nil {
		if os.Getenv("SHEETWASH_REQUIRE_R") == "1" {
			t.Fatal("Rscript is required here and not installed")
		}
		t.Log("LEFT OUT: the run of the script, since Rscript is not installed")
		return
	}
	c := exec.CommandContext(t.Context(), program, "--vanilla", "second_opinion.R")
	c.Dir = dir
	if said, err := c.CombinedOutput(); err != nil {
		t.Fatalf("R: %v: %s", err, said)
	}
	opinion, err := os.ReadFile(filepath.Join(dir, "second_opinion.csv"))
	if err != nil {
		t.Fatal(err)
	}
	agree(t, opinion)
}

// agree holds the numbers of R against those of the service, to a millionth. Of the
// mixed model over so few events, whose likelihood is flat, only the values: api/report/rscript holds the
// limits together over a season.
func agree(t *testing.T, opinion []byte) {
	t.Helper()
	rows, err := csv.NewReader(bytes.NewReader(opinion)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	at, compared := map[string]int{}, 0
	for i, name := range rows[0] {
		at[name] = i
	}
	for _, row := range rows[1:] {
		for _, column := range []string{"value", "low", "high", "p"} {
			ours, errOurs := strconv.ParseFloat(row[at[column]], 64)
			theirs, errTheirs := strconv.ParseFloat(row[at["r_"+column]], 64)
			if errOurs != nil || errTheirs != nil {
				continue // one of them has none
			}
			if column != "value" && strings.HasPrefix(row[at["method"]], "mixed_reml") {
				continue
			}
			if compared++; math.Abs(ours-theirs) > 1e-6*max(1e-3, math.Abs(ours), math.Abs(theirs)) {
				t.Errorf("%v: %s is %v, R has %v", row[:6], column, ours, theirs)
			}
		}
	}
	if compared < 50 {
		t.Errorf("%d numbers are compared", compared)
	}
}
