package page

import (
	"fmt"

	"sheetwash/api/report/figure"
)

// Chart is a chart of a page as a figure to be written as a file.
type Chart struct {
	Name   string // of letters of ASCII, digits and hyphens; unique within its page
	Figure *figure.Figure
}

// Charts returns the charts of a page in their order. Errors: ErrNoPage.
func (s *Site) Charts(t Target) ([]Chart, error) {
	d, err := s.document(t)
	if err != nil {
		return nil, err
	}
	var out []Chart
	var walk func([]section)
	walk = func(sections []section) {
		for i := range sections {
			for _, c := range sections[i].Charts {
				out = append(out, Chart{c.ID, c.figure})
			}
			walk(sections[i].Parts)
		}
	}
	walk(d.Sections)
	return out, nil
}

// document makes the page of a target.
func (s *Site) document(t Target) (*document, error) {
	switch t.Kind {
	case EventPage:
		if e, ok := s.findEvent(t); ok {
			return s.eventDocument(e)
		}
	case RunPage:
		if r, ok := s.findRun(t); ok {
			return s.runDocument(r)
		}
	case SeasonPage:
		return s.seasonDocument()
	}
	return nil, fmt.Errorf("%w: %s %q", ErrNoPage, t.Kind, t.Event+t.Run)
}
