package openapi_test

import (
	"bytes"
	"encoding/json"
	"flag"
	"os"
	"slices"
	"testing"

	"github.com/getkin/kin-openapi/openapi3"

	"sheetwash/api"
	"sheetwash/docs/openapi"
)

var update = flag.Bool("update", false, "write openapi.json anew")

// The document is what the annotations make, and valid.
func TestDocumentIsFresh(t *testing.T) {
	d := corrected(t, annotated(t), api.Routes())
	data, err := d.MarshalJSON()
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := json.Indent(&b, data, "", "  "); err != nil {
		t.Fatal(err)
	}
	b.WriteByte('\n')
	if *update {
		if err := os.WriteFile("openapi.json", b.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	if !bytes.Equal(b.Bytes(), openapi.JSON()) {
		t.Error("openapi.json differs from the annotations; go test ./docs/openapi -update writes it anew")
	}
}

func load(t *testing.T) *openapi3.T {
	t.Helper()
	loader := openapi3.NewLoader()
	d, err := loader.LoadFromData(openapi.JSON())
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func TestDocumentIsValid(t *testing.T) {
	d := load(t)
	if err := d.Validate(t.Context()); err != nil {
		t.Error(err)
	}
}

// Every route is in the document and every route of the document exists, with the
// same parameters.
func TestDocumentIsTheRouter(t *testing.T) {
	d := load(t)
	documented := map[string]*openapi3.Operation{}
	for path, item := range d.Paths.Map() {
		for method, op := range item.Operations() {
			documented[method+" "+path] = op
		}
	}
	for _, r := range api.Routes() {
		name := r.Method + " " + r.Path
		op := documented[name]
		if op == nil {
			t.Errorf("%s is not documented", name)
			continue
		}
		delete(documented, name)
		var query []string
		for _, p := range op.Parameters {
			if p.Value.In == "query" {
				query = append(query, p.Value.Name)
			}
		}
		slices.Sort(query)
		want := slices.Sorted(slices.Values(r.Parameters))
		if !slices.Equal(query, want) {
			t.Errorf("%s documents the parameters %v and takes %v", name, query, want)
		}
		if op.Summary == "" || len(op.Tags) == 0 {
			t.Errorf("%s has no summary or tag", name)
		}
	}
	for name := range documented {
		t.Errorf("%s is documented and not served", name)
	}
}
