package api

import (
	"net/url"
	"strconv"

	"github.com/gin-gonic/gin"

	"sheetwash/api/report"
	"sheetwash/api/report/page"
	"sheetwash/api/store"
)

// menu leads from a page of a season to its others.
func (s *Server) menu(c *gin.Context, season *store.Season, more ...page.Link) []page.Link {
	out := []page.Link{{Text: "All seasons", Href: "/"}}
	if season != nil {
		at := "/seasons/" + season.ID
		uploads := "Uploads"
		if whoIs(c).may(records) {
			uploads = "Upload a field day"
		}
		out = append(out, page.Link{Text: season.Name, Href: at}, page.Link{Text: uploads, Href: at + "/uploads"})
	}
	out = append(out, more...)
	if cookieOf(c.Request) != "" {
		return append(out, page.Link{Text: "Sign out", Href: "/sign-in"})
	}
	if whoIs(c).id == anonymous {
		out = append(out, page.Link{Text: "Sign in", Href: "/sign-in?to=" + url.QueryEscape(c.Request.URL.RequestURI())})
	}
	return out
}

// frameOf is what stands around a page of results: where else to go, and what goes
// on.
func (s *Server) frameOf(c *gin.Context, p *seasonPages, t page.Target, units report.Units, word string) page.Frame {
	other := page.Link{Text: "In US units", Href: p.address(t, "us")}
	if units == report.US {
		other = page.Link{Text: "In SI units", Href: p.address(t, "si")}
	}
	links := []page.Link{other}
	if p.analysis != "" {
		links = append(links, page.Link{Text: "All pages as files (zip)", Href: "/v1/reports/" + p.analysis + "?format=zip&units=" + units.String()})
	}
	if p.some {
		links = append(links, page.Link{Text: "Numbers as a table (CSV)", Href: "/v1/results/plot_results?format=csv&season=" + p.season.ID + "&units=" + units.String()})
	}
	f := page.Frame{Menu: s.menu(c, &p.season, links...)}
	here := p.address(t, word)
	if p.running != nil {
		f.Notices = append(f.Notices, s.progress(c, p.running, here))
	} else if p.waiting > 0 {
		n := page.Notice{Text: things(p.waiting, "upload is", "uploads are") + " not in these results yet.", Share: -1, Links: []page.Link{{Text: "Uploads", Href: "/seasons/" + p.season.ID + "/uploads"}}}
		f.Notices = append(f.Notices, n)
	}
	if p.refused > 0 {
		f.Notices = append(f.Notices, page.Notice{Bad: true, Share: -1, Text: things(p.refused, "upload was", "uploads were") + " refused and is in none of these numbers.",
			Links: []page.Link{{Text: "See why", Href: "/seasons/" + p.season.ID + "/uploads"}}})
	}
	return f
}

// progress tells how far an analysis is, and lets the browser ask again by itself,
// unless the reader wants the page to stand still.
func (s *Server) progress(c *gin.Context, a *store.Analysis, here string) page.Notice {
	n := page.Notice{
		Text:  "Being analysed: " + strconv.Itoa(a.Done) + " of " + things(a.Total, "upload is", "uploads are") + " done.",
		Share: float64(a.Done) / float64(max(1, a.Total)),
	}
	glue := "?"
	if u, err := url.Parse(here); err == nil && u.RawQuery != "" {
		glue = "&"
	}
	if queryOf(c).flag("still") {
		n.Links = []page.Link{{Text: "Keep this page up to date", Href: here}}
		return n
	}
	n.Links = []page.Link{{Text: "Let this page stand still", Href: here + glue + "still=true"}}
	c.Header("Refresh", strconv.Itoa(int(refreshTime.Seconds())))
	return n
}

// things counts.
func things(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return strconv.Itoa(n) + " " + many
}
