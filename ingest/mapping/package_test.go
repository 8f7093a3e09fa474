package mapping_test

import (
	"strings"
	"testing"

	"sheetwash/ingest/issue"
	"sheetwash/ingest/mapping"
)

const descriptorText = `{
  "name": "demo",
  "resources": [
    {
      "name": "Samples",
      "path": ["data/s1.csv", "data/s2.csv"],
      "encoding": "ISO-8859-1",
      "dialect": {"delimiter": ";", "decimalChar": ","},
      "schema": {
        "missingValues": ["", "NA", {"value": "-99", "label": "not read"}],
        "fields": [
          {"name": "run"}, {"name": "plot"}, {"name": "stream"},
          {"name": "end", "unit": "s"},
          {"name": "volume", "unit": "cc", "missingValues": ["lost"]},
          {"name": "colour", "unit": "nm"}
        ]
      }
    },
    {"name": "day", "path": "runs.csv"},
    {"name": "grid", "path": "g.csv", "schema": {"fields": [{"name": "calibration"}, {"name": "duration"}, {"name": "depth", "unit": "in"}]}},
    {"name": "notes", "path": "notes.csv"}
  ]
}`

func TestParsePackage(t *testing.T) {
	m, issues := mapping.ParsePackage([]byte(descriptorText), "datapackage.json")
	if m == nil {
		t.Fatal(issues.All())
	}
	equal(t, "findings", codes(issues), []string{"note package.resource"})
	var got []string
	for _, s := range m.Sources {
		got = append(got, s.Table+" "+s.File+" "+s.Delimiter+s.Decimal+" "+s.Encoding)
	}
	equal(t, "sources", got, []string{"runs runs.csv  ", "samples data/s1.csv ;, windows-1252", "samples data/s2.csv ;, windows-1252", "cans g.csv  "})

	var found issue.List
	bounds, err := m.Open(t.Context(), files{
		"data/s1.csv": "run;plot;stream;end;volume;colour\nA;1;runoff;300;12,5;x\n",
		"data/s2.csv": "run;plot;stream;end;volume\nA;1;runoff;600;lost\n",
		"runs.csv":    "run,rain_duration [min]\nA,30\n",
		"g.csv":       "calibration,duration,depth\nC,10,0.5\n",
	}, &found)
	if err != nil || found.Errors() > 0 {
		t.Fatal(err, found.All())
	}
	equal(t, "bindings", bindings(bounds[1:2]), []string{
		"samples.run <- run", "samples.plot <- plot", "samples.stream <- stream", "samples.end <- end [s > min]", "samples.volume <- volume [mL > mL]",
	})
	equal(t, "cans", bindings(bounds[3:]), []string{"cans.calibration <- calibration", "cans.depth <- depth [[in_i] > mm]", "cans.duration <- duration [min > min]"})
	volume, _ := bounds[2].Binding("volume")
	end, _ := bounds[2].Binding("end")
	if _, ok := volume.Missing["lost"]; !ok || len(volume.Missing) != 3 || len(end.Missing) != 2 {
		t.Errorf("missing words: volume %v, end %v", volume.Missing, end.Missing)
	}
}

func TestParsePackageFaults(t *testing.T) {
	resource := func(s string) string { return "{\"resources\": [\n{\"name\": \"samples\",\n" + s + "}]}" }
	for _, tt := range []struct {
		name, text string
		code       string
		line       int64
	}{
		{"empty", "", "package.syntax", 1},
		{"no JSON", "{\n\"resources\": [\n}", "package.syntax", 3},
		{"cut off", "{\n\"resources\": [", "package.syntax", 2},
		{"text behind", "{\"resources\": [{\"name\": \"runs\", \"path\": \"a.csv\"}]}\nx", "package.syntax", 2},
		{"no resources", "{\n\"name\": \"a\"}", "package.syntax", 1},
		{"resources of another kind", "{\"resources\": {}}", "package.syntax", 1},
		{"a resource that is a word", "{\"resources\": [\n\"a.csv\"]}", "package.syntax", 2},
		{"no path", resource("\"title\": \"x\""), "package.syntax", 2},
		{"a path that is a number", resource("\"path\": 3"), "package.syntax", 3},
		{"a URL", resource("\"path\": \"https://example.org/a.csv\""), "package.value", 3},
		{"a path outside", resource("\"path\": \"../a.csv\""), "package.value", 3},
		{"an unknown encoding", resource("\"path\": \"a.csv\",\n\"encoding\": \"koi8-r\""), "package.value", 4},
		{"a long delimiter", resource("\"path\": \"a.csv\",\n\"dialect\": {\"delimiter\": \"::\"}"), "package.value", 4},
		{"no header", resource("\"path\": \"a.csv\",\n\"dialect\": {\"header\": false}"), "package.value", 4},
		{"two decimal marks", resource("\"path\": \"a.csv\", \"schema\": {\"fields\": [{\"name\": \"end\", \"decimalChar\": \".\"},\n{\"name\": \"volume\", \"decimalChar\": \",\"}]}"), "package.value", 4},
		{"an odd decimal mark", resource("\"path\": \"a.csv\", \"schema\": {\"fields\": [{\"name\": \"end\", \"decimalChar\": \"'\"}]}"), "package.value", 3},
		{"an unknown unit", resource("\"path\": \"a.csv\", \"schema\": {\"fields\": [\n{\"name\": \"volume\", \"unit\": \"furlong\"}]}"), "unit.unknown", 4},
		{"the wrong dimension", resource("\"path\": \"a.csv\", \"schema\": {\"fields\": [\n{\"name\": \"volume\", \"unit\": \"kg\"}]}"), "unit.dimension", 4},
		{"a field without a name", resource("\"path\": \"a.csv\", \"schema\": {\"fields\": [\n{\"unit\": \"kg\"}]}"), "package.syntax", 4},
		{"missing values of another kind", resource("\"path\": \"a.csv\", \"schema\": {\n\"missingValues\": \"NA\"}"), "package.syntax", 4},
		{"deep", strings.Repeat("[", 40), "package.syntax", 1},
	} {
		t.Run(tt.name, func(t *testing.T) {
			m, issues := mapping.ParsePackage([]byte(tt.text), "datapackage.json")
			if m != nil {
				t.Error("a faulty descriptor was accepted")
			}
			for _, i := range issues.All() {
				if string(i.Code) == tt.code && i.Row == tt.line && i.File == "datapackage.json" {
					return
				}
			}
			t.Errorf("want %s at line %d; got %v", tt.code, tt.line, issues.All())
		})
	}
}

func FuzzParsePackage(f *testing.F) {
	f.Add([]byte(descriptorText))
	for _, s := range []string{`{"resources":[{"name":"runs","path":"a"}]}`, `{"resources":[null,[],{}]}`, `{"resources":[{"path":[1],"schema":"x"}]}`, "[[[[", "\ufeff{}"} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		m, issues := mapping.ParsePackage(data, "p")
		if (m == nil) != (issues.Errors() > 0) {
			t.Fatalf("map %v with %d errors", m, issues.Errors())
		}
		for _, i := range issues.All() {
			if i.Row < 0 || i.Row > int64(strings.Count(string(data), "\n"))+1 {
				t.Fatalf("%v is beyond the file", i)
			}
		}
	})
}
