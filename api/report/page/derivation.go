package page

import (
	"html/template"
	"io"
	"slices"
	"strings"

	"sheetwash/analysis/derivation"
	"sheetwash/analysis/result"
)

// Derivation is a page that tells how one number came about.
type Derivation struct {
	Node  *derivation.Node
	Back  string // where the number stands
	Frame Frame
	// Why returns where the page of another row lies; "" or nil: it has none.
	Why func(key string) string
}

// Write writes the page.
func (d Derivation) Write(w io.Writer) error {
	f := &folds{site: &Site{}, kind: RunPage, left: 4 << 20, byRow: map[string]string{}, byBody: map[string]string{}, top: map[string]string{}, why: d.Why, flat: true}
	f.entry(d.Node, true)
	slices.Reverse(f.list) // the value first, then what it is made of
	title := upper(methodWord(d.Node.Name))
	kicker := "How a number came about"
	if _, values, ok := result.ParseKey(d.Node.Key); ok {
		kicker += ": " + strings.Join(values, " · ")
	}
	var made []string
	for _, data := range d.Node.Data {
		made = append(made, "Data "+data.Dataset+", SHA-256 "+data.SHA256+".")
	}
	if d.Node.Program != "" {
		made = append(made, "Computed by "+d.Node.Program+".")
	}
	return templates.ExecuteTemplate(w, "derivation", struct {
		Title, Kicker, Heading, Back, Key string
		Style                             template.CSS
		Frame                             Frame
		Body                              template.HTML
		Folds                             []fold
		Made                              []string
	}{title, kicker, title, d.Back, d.Node.Key, style, d.Frame, f.list[0].Body, f.list[1:], made})
}
