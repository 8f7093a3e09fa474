package page

import (
	_ "embed"
	"html/template"
)

//go:embed style.css
var styleText string

//go:embed document.tmpl
var documentText string

var (
	style     = template.CSS(styleText)
	templates = template.Must(template.New("pages").Parse(documentText))
)
