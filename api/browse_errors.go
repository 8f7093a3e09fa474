package api

import (
	"bytes"
	"encoding/json"
	"math"
	"net/http"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"sheetwash/api/live"
	"sheetwash/api/problem"
	"sheetwash/api/report/page"
)

// wantsPage reports whether a browser asked for a page, so that an error is told as
// one. What is below /v1 is for programs and tells problems as they are.
func wantsPage(r *http.Request) bool {
	if strings.HasPrefix(r.URL.Path, "/v1/") || r.URL.Path == "/healthz" || r.URL.Path == "/readyz" {
		return false
	}
	return strings.Contains(r.Header.Get("Accept"), "text/html")
}

// failPage tells an error as a page. Who is not signed in is asked for a key.
func (s *Server) failPage(c *gin.Context, e *problem.Error, d problem.Details) {
	m := live.Message{
		Title: d.Title, Kicker: "sheetwash", Text: upperFirst(d.Detail) + ".", Small: "Request " + d.RequestID + ", " + string(d.Code) + ".",
		Findings: d.Findings, Links: []page.Link{{Text: "All seasons", Href: "/"}},
	}
	if wait := e.Wait(); wait > 0 {
		c.Header("Retry-After", strconv.Itoa(int(math.Ceil(wait.Seconds()))))
	}
	if e.Allow != "" {
		c.Header("Allow", e.Allow)
	}
	switch {
	case d.Code == problem.NotSignedIn:
		to := ""
		if c.Request.Method == http.MethodGet {
			to = local(c.Request.URL.RequestURI())
		}
		if c.Request.URL.Path == "/sign-in" {
			to = local(c.Request.PostForm.Get("to"))
		} else {
			m.Text = "This needs a key."
		}
		if cookieOf(c.Request) != "" {
			keepKey(c, "")
			m.Text = "The key of this browser is unknown, expired or revoked."
		}
		m.Title, m.SignIn, m.Links = "Sign in", &live.SignIn{To: to}, nil
		c.Header("WWW-Authenticate", `Bearer realm="sheetwash"`)
	case d.Code == problem.NotFound && whoIs(c).id == anonymous && !s.access.Open:
		m.Links = append(m.Links, page.Link{Text: "Sign in", Href: "/sign-in"})
	}
	var b bytes.Buffer
	if err := m.Write(&b); err != nil {
		panic(http.ErrAbortHandler)
	}
	pageHeaders(c)
	c.Header("Content-Type", mediaPage)
	c.Header("Cache-Control", keepNever)
	c.Abort()
	c.Status(d.Status)
	_, _ = c.Writer.Write(b.Bytes()) // a caller who has gone needs no answer
}

func upperFirst(text string) string {
	if text == "" {
		return ""
	}
	return strings.ToUpper(text[:1]) + text[1:]
}

// detailOf is the sentence of a problem that was kept.
func detailOf(raw json.RawMessage) string {
	var d problem.Details
	if json.Unmarshal(raw, &d) != nil {
		return ""
	}
	return upperFirst(d.Detail) + "."
}
