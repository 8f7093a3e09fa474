package page

import (
	"html/template"
	"io"
)

// Shell is a page that holds no results, in the look of those that do: a list, a
// form, an error.
type Shell struct {
	Title, Kicker, Heading string
	Lines                  []string // below the heading
	Frame                  Frame
	Body                   template.HTML
	Foot                   string
}

// Write writes the page.
func (s Shell) Write(w io.Writer) error {
	return templates.ExecuteTemplate(w, "shell", struct {
		Shell
		Style template.CSS
	}{s, style})
}
