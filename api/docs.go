package api

import (
	"html/template"
	"io/fs"
	"path"
	"strings"

	"github.com/gin-gonic/gin"
	swaggerFiles "github.com/swaggo/files/v2"

	"sheetwash/api/problem"
	"sheetwash/docs/openapi"
)

// getDocument returns the description of this service.
//
//	@Summary  This document: OpenAPI 3
//	@Tags     documents
//	@Produce  json
//	@Success  200  {object}  object
//	@Router   /v1/openapi.json [get]
func (s *Server) getDocument(c *gin.Context) error {
	return s.send(c, asJSON.media, openapi.JSON(), tagOf(openapi.JSON()), keepChecking)
}

// docsPolicy lets a page load what this server has and nothing else. The page that
// shows the document styles its elements one by one.
const docsPolicy = "default-src 'none'; script-src 'self'; style-src 'self' 'unsafe-inline'; img-src 'self' data:; font-src 'self' data:; connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"

// getDocs shows the document to people.
//
//	@Summary  The document for people
//	@Tags     documents
//	@Produce  html
//	@Success  200  {string}  string
//	@Router   /docs [get]
func (s *Server) getDocs(c *gin.Context) error {
	return s.page(c, "text/html; charset=utf-8", docsPage)
}

// getDocsFile returns a file of the page of documents.
//
//	@Summary  A file of the page of documents
//	@Tags     documents
//	@Produce  text/plain
//	@Param    file  path      string  true  "name of the file"
//	@Success  200   {string}  string
//	@Failure  404   {object}  problem.Details
//	@Router   /docs/assets/{file} [get]
func (s *Server) getDocsFile(c *gin.Context) error {
	name := c.Param("file")
	if name == "start.js" {
		return s.page(c, "text/javascript; charset=utf-8", docsStart)
	}
	media, ok := map[string]string{".js": "text/javascript; charset=utf-8", ".css": "text/css; charset=utf-8", ".png": "image/png"}[path.Ext(name)]
	if !ok {
		return problem.New(problem.NotFound, "there is no such file")
	}
	data, err := fs.ReadFile(swaggerFiles.FS, name)
	if err != nil {
		return problem.Because(err, problem.NotFound, "there is no such file")
	}
	return s.page(c, media, data)
}

func (s *Server) page(c *gin.Context, media string, data []byte) error {
	c.Header("Content-Security-Policy", docsPolicy)
	return s.send(c, media, data, tagOf(data), keepChecking)
}

// getErrorsPage explains the codes of errors to people.
//
//	@Summary  The codes of errors, for people
//	@Tags     documents
//	@Produce  html
//	@Success  200  {string}  string
//	@Router   /docs/errors [get]
func (s *Server) getErrorsPage(c *gin.Context) error {
	var b strings.Builder
	if err := errorsPage.Execute(&b, problem.Kinds()); err != nil {
		return err
	}
	return s.page(c, "text/html; charset=utf-8", []byte(b.String()))
}

var docsPage = []byte(`<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>sheetwash: the service</title>
<link rel="stylesheet" href="/docs/assets/swagger-ui.css">
</head>
<body>
<noscript>This page needs script. The document itself is at <a href="/v1/openapi.json">/v1/openapi.json</a>, the codes of errors at <a href="/docs/errors">/docs/errors</a>.</noscript>
<main id="document"></main>
<script src="/docs/assets/swagger-ui-bundle.js"></script>
<script src="/docs/assets/start.js"></script>
</body>
</html>
`)

var docsStart = []byte(`window.addEventListener("load", function () {
  SwaggerUIBundle({ url: "/v1/openapi.json", dom_id: "#document", deepLinking: true, validatorUrl: null, defaultModelsExpandDepth: 0 });
});
`)

var errorsPage = template.Must(template.New("errors").Parse(`<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>sheetwash: errors of the service</title>
<style>body{font:1rem/1.5 system-ui,sans-serif;max-width:48rem;margin:2rem auto;padding:0 1rem}h2{font-family:ui-monospace,monospace;margin-bottom:0}dt{font-weight:600}</style>
</head>
<body>
<h1>Errors of the service</h1>
<p>Every error is answered as application/problem+json (RFC 9457) with a stable <code>code</code>. The same table as data: <a href="/v1/error-codes">/v1/error-codes</a>.</p>
{{range .}}<section>
<h2 id="{{.Code}}">{{.Code}}</h2>
<p>{{.Title}}. Status {{.Status}}; the same request may succeed later: {{if .Retryable}}yes{{else}}no{{end}}.</p>
<dl><dt>When</dt><dd>{{.Meaning}}.</dd><dt>What to do</dt><dd>{{.Remedy}}.</dd></dl>
</section>
{{end}}</body>
</html>
`))
