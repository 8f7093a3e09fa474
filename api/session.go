package api

import (
	"net/http"
	"net/url"
	"strings"

	"github.com/gin-gonic/gin"

	"sheetwash/api/live"
	"sheetwash/api/problem"
	"sheetwash/api/store"
)

// cookieName is the cookie in which a browser keeps its key until it is closed.
// Changes that come with it are checked for the origin of their page, see guard.
const cookieName = "sheetwash_key"

// credential is how a caller says who they are: the Authorization header, else the
// cookie of a browser that signed in.
func credential(r *http.Request) string {
	if h := r.Header.Get("Authorization"); h != "" {
		return h
	}
	if key := cookieOf(r); key != "" {
		return "Bearer " + key
	}
	return ""
}

func cookieOf(r *http.Request) string {
	if len(r.Header["Cookie"]) == 0 {
		return ""
	}
	c, err := r.Cookie(cookieName)
	if err != nil {
		return ""
	}
	return c.Value
}

// keepKey lets the browser keep a key; "" lets it forget. Over TLS the browser must
// not send it otherwise; the origin of the form tells, also behind a proxy.
func keepKey(c *gin.Context, key string) {
	cookie := &http.Cookie{Name: cookieName, Value: key, Path: "/", HttpOnly: true, SameSite: http.SameSiteLaxMode,
		Secure: c.Request.TLS != nil || strings.HasPrefix(c.GetHeader("Origin"), "https://")}
	if key == "" {
		cookie.MaxAge = -1
	}
	http.SetCookie(c.Writer, cookie)
}

// getSignIn shows the form to sign in with.
//
//	@Summary  The form to sign in with, or out
//	@Tags     pages
//	@Produce  html
//	@Param    to  query  string  false  "the page to go to then"
//	@Success  200  {string}  string
//	@Router   /sign-in [get]
func (s *Server) getSignIn(c *gin.Context) error {
	q := queryOf(c)
	to := local(q.word("to"))
	if q.err != nil {
		return q.err
	}
	m := live.Message{Title: "Sign in", Kicker: "sheetwash", Text: "With the key that you were given, this browser reads and uploads what the key allows.", SignIn: &live.SignIn{To: to}}
	if cookieOf(c.Request) != "" {
		m.SignOut, m.Text = true, "This browser is signed in. Signing in again puts another key in the place of its key."
	}
	return s.showPage(c, keepNever, m.Write)
}

// takeSignIn takes the form to sign in with.
//
//	@Summary      Sign a browser in
//	@Description  The key goes into a cookie that ends with the browser, and stands for the Authorization header. Without a key the browser is signed out.
//	@Tags         pages
//	@Accept       x-www-form-urlencoded
//	@Produce      html
//	@Param        key  formData  string  false  "the key; empty: sign out"
//	@Param        to   formData  string  false  "the page to go to then"
//	@Success      303
//	@Failure      401  {object}  problem.Details
//	@Router       /sign-in [post]
func (s *Server) takeSignIn(c *gin.Context) error {
	form, err := s.form(c)
	if err != nil {
		return err
	}
	key, to := strings.TrimSpace(form.Get("key")), local(form.Get("to"))
	if to == "" {
		to = "/"
	}
	if key == "" {
		keepKey(c, "")
		return s.seeOther(c, to)
	}
	from := address(c.Request)
	if s.callers.blocked(from) {
		e := problem.New(problem.RateLimited, "too many sign-ins from this address failed")
		e.RetryAfter = 60e9 / 10
		return e
	}
	if _, err := s.keyHolder(c.Request, "Bearer "+key); err != nil {
		if problem.From(err).Code != problem.NotFound {
			return err
		}
		s.callers.failed(from)
		return problem.New(problem.NotSignedIn, "the key is unknown, expired or revoked")
	}
	keepKey(c, key)
	return s.seeOther(c, to)
}

// form reads the body of a form without files.
func (s *Server) form(c *gin.Context) (url.Values, error) {
	const most = 16 << 10
	if media, _, _ := strings.Cut(c.GetHeader("Content-Type"), ";"); strings.TrimSpace(media) != "application/x-www-form-urlencoded" {
		return nil, problem.New(problem.ContentTypeNotAccepted, "a form is sent as application/x-www-form-urlencoded")
	}
	c.Request.Body = http.MaxBytesReader(c.Writer, c.Request.Body, most)
	if err := c.Request.ParseForm(); err != nil {
		return nil, problem.Because(err, problem.MalformedRequest, "the form cannot be read")
	}
	return c.Request.PostForm, nil
}

// takeSeason takes the form of a new season.
//
//	@Summary  Make a season from a form
//	@Tags     pages
//	@Accept   x-www-form-urlencoded
//	@Produce  html
//	@Param    name       formData  string  true   "name of the season"
//	@Param    time_zone  formData  string  false  "IANA name"
//	@Param    units      formData  string  false  "si or us"  Enums(si, us)
//	@Success  303
//	@Failure  400  {object}  problem.Details
//	@Router   /seasons [post]
func (s *Server) takeSeason(c *gin.Context) error {
	form, err := s.form(c)
	if err != nil {
		return err
	}
	r, err := properSeason(store.Season{Name: strings.TrimSpace(form.Get("name")), TimeZone: strings.TrimSpace(form.Get("time_zone")), Units: form.Get("units")})
	if err == nil && !whoIs(c).scope.All {
		err = problem.New(problem.NotAllowed, "a key for single seasons cannot make another")
	}
	if err != nil {
		return err
	}
	err = s.store.InTx(c.Request.Context(), func(tx *store.Tx) error {
		if r, err = tx.CreateSeason(c.Request.Context(), r); err != nil {
			return err
		}
		return s.note(c, tx, audit{"season.create", r.ID, r.ID, r.Name})
	})
	if err != nil {
		return err
	}
	return s.seeOther(c, "/seasons/"+r.ID+"/uploads")
}
