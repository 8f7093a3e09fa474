package live

import (
	"io"

	"sheetwash/api/report/page"
	"sheetwash/api/wire"
)

// Season is a season in the list of them.
type Season struct {
	Name, Href        string
	Accepted, Refused int // uploads
	Published         bool
}

// Seasons is the first page: every season that the caller may see.
type Seasons struct {
	Frame   page.Frame
	Seasons []Season
	MayMake bool // of seasons
}

// Write writes the page.
func (p Seasons) Write(w io.Writer) error {
	return write(w, page.Shell{
		Title: "Seasons", Kicker: "sheetwash", Heading: "Seasons", Frame: p.Frame,
		Lines: []string{"Rainfall simulator runs in, numbers with intervals out."},
	}, "seasons", p)
}

// Upload is a dataset in the list of a season.
type Upload struct {
	Name, Href, Received, State string
	Counts                      wire.Counts
}

// Uploads is the page of the uploads of a season, and the form for another.
type Uploads struct {
	Frame   page.Frame
	Season  string
	Form    *Form // nil: the caller may not upload
	Uploads []Upload
}

// Form is what the form of an upload says.
type Form struct {
	Action string
	Limit  string // size of an upload, in words
}

// Write writes the page.
func (p Uploads) Write(w io.Writer) error {
	return write(w, page.Shell{Title: "Uploads of " + p.Season, Kicker: p.Season, Heading: "Uploads", Frame: p.Frame}, "uploads", p)
}

// Dataset is the page of one upload: what was found in it, and what becomes of it.
type Dataset struct {
	Frame    page.Frame
	Season   string
	Name     string
	Lines    []string
	Findings []wire.Finding // errors first
	Total    int            // of findings
	All      string         // where all of them are
	Refused  bool
	Form     *Form // to send it again; nil: no
}

// Write writes the page.
func (p Dataset) Write(w io.Writer) error {
	return write(w, page.Shell{Title: p.Name + ": upload", Kicker: "Upload to " + p.Season, Heading: p.Name, Lines: p.Lines, Frame: p.Frame}, "dataset", p)
}

// Message is a page that says one thing: an error, or that there is nothing yet.
type Message struct {
	Frame         page.Frame
	Title, Kicker string
	Text          string
	Findings      []wire.Finding
	Small         string // for whoever looks into it, such as the id of the request
	Links         []page.Link
	SignIn        *SignIn // the form to sign in with; nil: none
	SignOut       bool    // and a way out
}

// SignIn is what the form to sign in says.
type SignIn struct {
	To string // where the caller wanted to go
}

// Write writes the page.
func (p Message) Write(w io.Writer) error {
	return write(w, page.Shell{Title: p.Title, Kicker: p.Kicker, Heading: p.Title, Frame: p.Frame}, "message", p)
}
