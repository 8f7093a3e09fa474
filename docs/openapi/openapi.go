// Package openapi holds the description of the service, made from the annotations
// of the handlers of package api; go test ./docs/openapi -update makes it anew. Package
// api serves it. Nothing is written into it by hand.
package openapi

import _ "embed"

//go:embed openapi.json
var document []byte

// JSON returns the document, OpenAPI 3.
func JSON() []byte { return document }
