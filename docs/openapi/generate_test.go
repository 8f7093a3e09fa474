package openapi_test

import (
	"encoding/json"
	"io"
	"log"
	"regexp"
	"strings"
	"testing"

	"github.com/getkin/kin-openapi/openapi2"
	"github.com/getkin/kin-openapi/openapi2conv"
	"github.com/getkin/kin-openapi/openapi3"
	"github.com/swaggo/swag"
)

// annotated reads the annotations of the handlers: Swagger 2.0, as swag makes it,
// converted to OpenAPI 3.
func annotated(t *testing.T) *openapi3.T {
	t.Helper()
	p := swag.New(swag.SetDebugger(log.New(io.Discard, "", 0)))
	p.ParseInternal = true
	if err := p.ParseAPIMultiSearchDir([]string{"../../api", "../../api/wire", "../../api/problem"}, "doc.go", 1); err != nil {
		t.Fatal(err)
	}
	data, err := json.Marshal(p.GetSwagger())
	if err != nil {
		t.Fatal(err)
	}
	var two openapi2.T
	if err := json.Unmarshal([]byte(renamed(string(data))), &two); err != nil {
		t.Fatal(err)
	}
	three, err := openapi2conv.ToV3(&two)
	if err != nil {
		t.Fatal(err)
	}
	return three
}

// listName finds the schemas that swag names after package and type.
var listName = regexp.MustCompile(`wire\.List-(\w+)`)

// renamed gives the schemas that swag names after packages a name for readers.
func renamed(document string) string {
	document = listName.ReplaceAllString(document, "${1}List")
	return strings.NewReplacer("wire.Links", "Links", "problem.Code", "ProblemCode").Replace(document)
}
