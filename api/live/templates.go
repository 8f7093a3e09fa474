package live

import (
	_ "embed"
	"html/template"
	"io"
	"strings"

	"sheetwash/api/report/page"
)

//go:embed live.tmpl
var text string

var templates = template.Must(template.New("live").Parse(text))

// foot stands below every page.
const foot = "Results are for teaching and research, not for engineering design."

// write writes a page whose body is a template of this package.
func write(w io.Writer, s page.Shell, name string, data any) error {
	var b strings.Builder
	if err := templates.ExecuteTemplate(&b, name, data); err != nil {
		return err
	}
	s.Body, s.Foot = template.HTML(b.String()), foot // the template escaped every text
	return s.Write(w)
}
