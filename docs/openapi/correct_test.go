package openapi_test

import (
	"fmt"
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/getkin/kin-openapi/openapi3"

	"sheetwash/api"
	"sheetwash/api/problem"
	"sheetwash/api/wire"
)

// corrected is the document with what swag cannot say: media types of errors and of
// tables, bodies of several types, who may do what, and which members are always
// there.
func corrected(t *testing.T, d *openapi3.T, routes []api.Route) *openapi3.T {
	t.Helper()
	d.OpenAPI = "3.0.3"
	d.Servers = openapi3.Servers{{URL: "/"}}
	key := d.Components.SecuritySchemes["key"].Value
	key.Type, key.Scheme, key.Name, key.In = "http", "bearer", "", ""
	require(t, d)
	addRows(d)
	addDerivation(d)
	for _, name := range []string{"seasons", "events", "datasets", "analyses", "results", "runs", "plots", "samples", "treatments", "calibrations", "reports", "vocabulary", "keys", "pages", "documents", "operation"} {
		d.Tags = append(d.Tags, &openapi3.Tag{Name: name})
	}
	for _, r := range routes {
		item := d.Paths.Find(r.Path)
		if item == nil || item.GetOperation(r.Method) == nil {
			t.Errorf("%s %s has no annotation", r.Method, r.Path)
			continue
		}
		op := item.GetOperation(r.Method)
		op.OperationID = operationID(r)
		secure(op, r)
		answers(op, r)
		switch r.Path {
		case "/v1/datasets", "/v1/analyze":
			if r.Method == "POST" {
				uploads(op)
			}
		}
		tables(op, r)
	}
	return d
}

// operationID names an operation after its method and path.
func operationID(r api.Route) string {
	words := strings.FieldsFunc(strings.TrimPrefix(r.Path, "/v1"), func(c rune) bool { return c == '/' || c == '{' || c == '}' || c == '.' || c == '-' })
	if !strings.HasPrefix(r.Path, "/v1") && !strings.HasPrefix(r.Path, "/docs") && !strings.HasSuffix(r.Path, "z") {
		words = append([]string{"page"}, words...)
	}
	return strings.ToLower(r.Method) + "_" + strings.Join(words, "_")
}

// secure says whose key is needed. A server on the loopback address may run
// without keys.
func secure(op *openapi3.Operation, r api.Route) {
	op.Security = &openapi3.SecurityRequirements{}
	if r.Needs == "nothing" {
		return
	}
	op.Security = openapi3.NewSecurityRequirements().With(openapi3.SecurityRequirement{"key": {}}).With(openapi3.SecurityRequirement{})
	op.Description = strings.TrimSpace(op.Description + " Needs the role " + r.Needs + ".")
}

func ref(name string) *openapi3.SchemaRef {
	return &openapi3.SchemaRef{Ref: "#/components/schemas/" + name}
}

func content(media string, schema *openapi3.SchemaRef) openapi3.Content {
	return openapi3.Content{media: &openapi3.MediaType{Schema: schema}}
}

func binary() *openapi3.SchemaRef {
	return openapi3.NewSchemaRef("", openapi3.NewStringSchema().WithFormat("binary"))
}

// answers gives every error the media type of problems, a default for those that
// any request may meet, and 304 and headers to what is read.
func answers(op *openapi3.Operation, r api.Route) {
	for status, answer := range op.Responses.Map() {
		if status >= "400" {
			answer.Value.Content = content(problem.MediaType, ref("Problem"))
		}
	}
	any := openapi3.NewResponse().WithDescription("a problem: see " + problem.Page)
	any.Content = content(problem.MediaType, ref("Problem"))
	if slices.Contains(op.Tags, "pages") { // a browser is told on a page
		for status, answer := range op.Responses.Map() {
			if status >= "400" {
				answer.Value.Content["text/html"] = &openapi3.MediaType{Schema: openapi3.NewSchemaRef("", openapi3.NewStringSchema())}
			}
		}
		any.Content["text/html"] = &openapi3.MediaType{Schema: openapi3.NewSchemaRef("", openapi3.NewStringSchema())}
	}
	op.Responses.Set("default", &openapi3.ResponseRef{Value: any})
	if r.Method == "GET" && !strings.HasSuffix(r.Path, "z") && !strings.HasSuffix(r.Path, "/events") || r.Path == "/v1/seasons/{id}/events" {
		same := openapi3.NewResponse().WithDescription("as If-None-Match names it")
		op.Responses.Set("304", &openapi3.ResponseRef{Value: same})
	}
	switch r.Method + " " + r.Path {
	case "POST /v1/datasets":
		first := openapi3.NewResponse().WithDescription("the dataset that the same bytes made before, or what a dry run found")
		first.Content = content("application/json", openapi3.NewSchemaRef("", &openapi3.Schema{AnyOf: openapi3.SchemaRefs{ref("Dataset"), ref("Check")}}))
		op.Responses.Set("200", &openapi3.ResponseRef{Value: first})
	case "POST /v1/analyses":
		over := openapi3.NewResponse().WithDescription("over within the time of Prefer: wait")
		over.Content = content("application/json", ref("Analysis"))
		op.Responses.Set("200", &openapi3.ResponseRef{Value: over})
	case "GET /v1/analyses/{id}/explain":
		op.Responses.Value("200").Value.Content = content("application/json", ref("Derivation"))
	case "GET /v1/reports/{id}":
		op.Responses.Value("200").Value.Content["application/zip"] = &openapi3.MediaType{Schema: binary()}
	case "GET /docs/assets/{file}":
		page := op.Responses.Value("200").Value
		page.Content = content("text/javascript", binary())
		page.Content["text/css"], page.Content["image/png"] = page.Content["text/javascript"], page.Content["text/javascript"]
	}
}

// uploads lists the types of a body that is a dataset.
func uploads(op *openapi3.Operation) {
	files := openapi3.NewArraySchema().WithItems(binary().Value)
	form := openapi3.NewObjectSchema().WithProperty("file", files).WithRequired([]string{"file"})
	body := openapi3.NewRequestBody().WithRequired(true).WithDescription("the files as a form, or one file")
	body.Content = content("multipart/form-data", openapi3.NewSchemaRef("", form))
	for _, media := range api.UploadTypes() {
		body.Content[media] = &openapi3.MediaType{Schema: binary()}
	}
	op.RequestBody = &openapi3.RequestBodyRef{Value: body}
}

// tables gives answers that are tables their formats, and the parameters that
// choose and shape rows.
func tables(op *openapi3.Operation, r api.Route) {
	list := map[string]string{"/v1/datasets/{id}/findings": "FindingList", "/v1/analyses/{id}/{table}": "RowList", "/v1/results/{table}": "RowList"}[r.Path]
	one := r.Path == "/v1/analyze"
	if list == "" && !one {
		return
	}
	answer := op.Responses.Value("200").Value
	if one {
		rows := openapi3.NewArraySchema()
		rows.Items = ref("Row")
		answer.Content = content("application/json", openapi3.NewSchemaRef("", &openapi3.Schema{AnyOf: openapi3.SchemaRefs{ref("Results"), openapi3.NewSchemaRef("", rows)}}))
	} else {
		rows := openapi3.NewArraySchema()
		rows.Items = ref(strings.TrimSuffix(list, "List"))
		answer.Content = content("application/json", openapi3.NewSchemaRef("", &openapi3.Schema{AnyOf: openapi3.SchemaRefs{ref(list), openapi3.NewSchemaRef("", rows)}}))
	}
	for _, media := range []string{"text/csv", "application/vnd.apache.arrow.stream", "application/vnd.apache.parquet"} {
		answer.Content[media] = &openapi3.MediaType{Schema: binary()}
	}
	count := &openapi3.Header{Parameter: openapi3.Parameter{Description: "rows, where all come at once", Schema: openapi3.NewSchemaRef("", openapi3.NewInt64Schema())}}
	answer.Headers = openapi3.Headers{"Row-Count": &openapi3.HeaderRef{Value: count}}
	for _, name := range r.Parameters {
		if op.Parameters.GetByInAndName("query", name) == nil {
			op.Parameters = append(op.Parameters, &openapi3.ParameterRef{Value: parameter(name)})
		}
	}
}

// parameter describes a parameter that chooses or shapes rows.
func parameter(name string) *openapi3.Parameter {
	text := openapi3.NewStringSchema
	p := openapi3.NewQueryParameter(name)
	switch name {
	case "limit":
		return p.WithDescription("rows of a page of JSON, default 100").WithSchema(openapi3.NewIntegerSchema().WithMin(1).WithMax(1000))
	case "cursor":
		return p.WithDescription("from next_cursor").WithSchema(text())
	case "count":
		return p.WithDescription("exact: count all rows").WithSchema(text().WithEnum("exact"))
	case "format":
		return p.WithDescription("goes before Accept").WithSchema(text().WithEnum("json", "csv", "arrow", "parquet"))
	case "shape":
		return p.WithDescription("rows: a bare array of flat objects, whole without limit").WithSchema(text().WithEnum("envelope", "rows"))
	case "bom":
		return p.WithDescription("csv with a byte order mark, for spreadsheets").WithSchema(openapi3.NewBoolSchema())
	case "units":
		return p.WithDescription("changes value, unit and column names together").WithSchema(text().WithEnum("si", "us"))
	case "flag":
		p.Description = "rows with this flag word; repeats for alternatives"
	default:
		p.Description = fmt.Sprintf("rows with this %s, where the table has the column; repeats for alternatives", name)
	}
	list := openapi3.NewArraySchema().WithItems(text())
	explode := true
	p.Explode, p.Style = &explode, "form"
	return p.WithSchema(list)
}

// addRows adds the schema of pages of result rows.
func addRows(d *openapi3.T) {
	cell := openapi3.NewSchema().WithNullable()
	row := openapi3.NewObjectSchema().WithAdditionalProperties(cell)
	row.Description = "a row of a result table: a flat object with the columns that /v1/schemas/{table} describes; null where there is no value"
	d.Components.Schemas["Row"] = openapi3.NewSchemaRef("", row)
	rows := openapi3.NewArraySchema()
	rows.Items = ref("Row")
	list := openapi3.NewObjectSchema().WithPropertyRef("data", openapi3.NewSchemaRef("", rows)).
		WithPropertyRef("page", ref("Page")).WithPropertyRef("links", ref("Links")).WithRequired([]string{"data", "links", "page"})
	d.Components.Schemas["RowList"] = openapi3.NewSchemaRef("", list)
}

// addDerivation adds the schema of the tree that explains a value.
func addDerivation(d *openapi3.T) {
	nodes := openapi3.NewArraySchema()
	nodes.Items = ref("Derivation")
	object := func(names ...string) *openapi3.Schema {
		s := openapi3.NewObjectSchema()
		for _, name := range names {
			kind := openapi3.NewStringSchema()
			if name == "row" {
				kind = openapi3.NewInt64Schema()
			}
			s.WithProperty(name, kind)
		}
		return s
	}
	place := object("dataset", "file", "row", "column", "header")
	n := openapi3.NewObjectSchema()
	n.Description = "a value, and the equation and the inputs that it follows from: docs/explain.md"
	n.WithProperty("value", openapi3.NewFloat64Schema().WithNullable()).WithProperty("seed", openapi3.NewInt64Schema()).WithProperty("from", place)
	for _, name := range []string{"name", "key", "unit", "censored", "method", "equation", "operation", "see", "note", "source", "program"} {
		n.WithProperty(name, openapi3.NewStringSchema())
	}
	for _, name := range []string{"u", "low", "high", "level"} {
		n.WithProperty(name, openapi3.NewFloat64Schema())
	}
	n.WithPropertyRef("inputs", openapi3.NewSchemaRef("", nodes)).WithPropertyRef("beside", openapi3.NewSchemaRef("", nodes))
	n.WithProperty("flags", openapi3.NewArraySchema().WithItems(object("word", "meaning")))
	n.WithProperty("left_out", openapi3.NewArraySchema().WithItems(object("what", "why").WithProperty("from", place)))
	n.WithProperty("data", openapi3.NewArraySchema().WithItems(object("dataset", "sha256")))
	n.WithProperty("fit", openapi3.NewObjectSchema().WithAnyAdditionalProperties())
	n.Required = []string{"name", "value"}
	d.Components.Schemas["Derivation"] = openapi3.NewSchemaRef("", n)
}

// answered are the types that the service answers with, by the name of their schema.
var answered = map[string]any{
	"Analysis": wire.Analysis{}, "AnalysisPart": wire.AnalysisPart{}, "Calibration": wire.Calibration{}, "Check": wire.Check{},
	"Constraints": wire.Constraints{}, "Counts": wire.Counts{}, "Dataset": wire.Dataset{}, "ErrorCode": wire.ErrorCode{},
	"Event": wire.Event{}, "File": wire.File{}, "Finding": wire.Finding{}, "Health": wire.Health{}, "Key": wire.Key{},
	"Limit": wire.Limit{}, "MadeKey": wire.MadeKey{}, "Method": wire.Method{}, "Metric": wire.Metric{}, "Page": wire.Page{},
	"Plot": wire.Plot{}, "Problem": problem.Details{}, "Progress": wire.Progress{}, "Results": wire.Results{}, "Run": wire.Run{}, "Sample": wire.Sample{}, "SampleAnalyte": wire.SampleAnalyte{},
	"SchemaField": wire.SchemaField{}, "Season": wire.Season{}, "TableSchema": wire.TableSchema{}, "Treatment": wire.Treatment{},
	"Unit": wire.Unit{},
}

// read are the types that the service reads.
var read = []string{"NewSeason", "SeasonPatch", "NewEvent", "EventPatch", "NewAnalysis", "Settings", "PlotPatch", "NewKey"}

// require marks the members that are always there, and closes what is read: a
// member that is not known is refused.
func require(t *testing.T, d *openapi3.T) {
	for name, schema := range d.Components.Schemas {
		v, ok := answered[name]
		switch {
		case ok:
			for _, member := range members(reflect.TypeOf(v)) {
				if schema.Value.Properties[member] == nil {
					t.Errorf("schema %s lacks %s", name, member)
				}
				schema.Value.Required = append(schema.Value.Required, member)
			}
			slices.Sort(schema.Value.Required)
		case strings.HasSuffix(name, "List"):
			schema.Value.Required = []string{"data", "links", "page"}
		case slices.Contains(read, name):
			no := false
			schema.Value.AdditionalProperties = openapi3.AdditionalProperties{Has: &no}
		case name != "Links" && name != "ProblemCode" && name != "Row" && name != "Derivation":
			t.Errorf("schema %s is neither read nor answered", name)
		}
	}
	d.Components.Schemas["NewSeason"].Value.Required = []string{"name"}
	d.Components.Schemas["NewEvent"].Value.Required = []string{"name"}
	d.Components.Schemas["NewKey"].Value.Required = []string{"name", "role"}
}

// members lists the members of a type that are never left out.
func members(t reflect.Type) []string {
	var out []string
	for i := range t.NumField() {
		f := t.Field(i)
		if f.Anonymous {
			out = append(out, members(f.Type)...)
			continue
		}
		name, options, _ := strings.Cut(f.Tag.Get("json"), ",")
		if options != "omitempty" {
			out = append(out, name)
		}
	}
	return out
}
