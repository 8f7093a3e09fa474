package api

import (
	"bytes"
	"container/list"
	"maps"
	"net/http"
	"strconv"
	"time"

	"github.com/gin-gonic/gin"
	"github.com/prometheus/client_golang/prometheus"

	"sheetwash/api/store"
)

// ready is the answer to one way of asking for a page of a table that never
// changes, headers and bytes. It grants nothing: who may have it is asked each time.
type ready struct {
	ask      string        // the request, word for word
	analysis string        // whose table it is
	tag      string        // of the representation
	whole    head          // with the body
	same     head          // to who has it
	body     []byte        // as it is sent, compressed or not
	packed   bool          // the body is not that of the page
	of       *list.Element // the page
	seconds  [2]prometheus.Observer
}

// size is what the answer takes besides the page.
func (r *ready) size() int {
	const headers = 2048 // about
	if r.packed {
		return len(r.body) + headers
	}
	return headers
}

// askFor appends a reading request, word for word, as far as its answer depends on
// it, to a buffer.
func askFor(b []byte, r *http.Request) []byte {
	b = append(b, r.RequestURI...)
	for _, name := range [...]string{"Accept", "Accept-Encoding"} {
		b = append(b, 0)
		for _, v := range r.Header[name] {
			b = append(append(b, v...), ',')
		}
	}
	return b
}

// readyTable is the route that is answered from memory.
const readyTable = "/v1/analyses/:id/:table"

// makeReady keeps a page for those who ask for it in the same words.
func (s *Server) makeReady(r *http.Request, analysis string, k *kept) (*ready, error) {
	tag, packed := k.tag, ""
	if len(k.body) >= smallest {
		packed = encoding(r)
	}
	body, err := compress(k.body, packed)
	if err != nil {
		return nil, err
	}
	if packed != "" {
		tag += "-" + packed
	}
	one := func(v string) []string { return []string{v}[:1:1] } // who adds to it makes a copy
	same := s.always.Clone()
	same["Etag"], same["Cache-Control"] = one(`"`+tag+`"`), one(keepForever)
	if k.links != "" {
		same["Link"] = one(k.links)
	}
	whole := same.Clone()
	whole["Content-Type"], whole["Content-Length"] = one(asJSON.media), one(strconv.Itoa(len(body)))
	if packed != "" {
		whole["Content-Encoding"] = one(packed)
	}
	a := &ready{ask: string(askFor(nil, r)), analysis: analysis, tag: tag, body: body, packed: packed != ""}
	if a.whole, err = headOf(whole); err != nil {
		return nil, err
	}
	if a.same, err = headOf(same); err != nil {
		return nil, err
	}
	for i, status := range []int{http.StatusOK, http.StatusNotModified} {
		a.seconds[i] = s.meters.seconds.WithLabelValues(http.MethodGet, readyTable, strconv.Itoa(status))
	}
	s.pages.remember(k.tag, a)
	return a, nil
}

// head is the header of an answer, as a map and as lines.
type head struct {
	all   http.Header
	lines []byte // but for those of the body, which net/http must know
}

func headOf(h http.Header) (head, error) {
	var lines bytes.Buffer
	err := h.WriteSubset(&lines, map[string]bool{"Content-Type": true, "Content-Length": true})
	return head{h, lines.Bytes()}, err
}

// ServeHTTP answers a request: at once where the answer is ready and all that is
// to be known of the caller is remembered, else by the routes.
func (s *Server) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	if r.Method == http.MethodGet && r.ContentLength == 0 && r.Header["Origin"] == nil {
		var buffer [512]byte
		if a, ok := s.pages.asked(askFor(buffer[:0], r)); ok && s.sendReady(w, r, a) {
			return
		}
	}
	s.http.ServeHTTP(w, r)
}

// sendReady passes a request through what the routes ask of every request, and
// sends what is ready. Whatever is not as it should be, or not known without the
// records, is left to the routes, with nothing counted.
func (s *Server) sendReady(w http.ResponseWriter, r *http.Request, a *ready) bool {
	began := s.now()
	if s.guard(r) != nil {
		return false
	}
	who, ok := s.knownCaller(r)
	if !ok || !who.may(reads) {
		return false
	}
	if _, ok := s.analyses.get(who.scope, a.analysis, began); !ok || s.callers.allow(who, false) != nil {
		return false
	}
	s.meters.inFlight.Inc()
	id := identify(r)
	status, header, body := http.StatusOK, a.whole, a.body
	if tags := r.Header["If-None-Match"]; tags != nil && named(tags[0], a.tag) {
		status, header, body = http.StatusNotModified, a.same, nil
	}
	w.Header()["X-Request-Id"] = []string{id}
	writeWhole(w, r, status, header, body, s.limits.StallTime*time.Duration(1+len(body)/stallBytes))
	s.meters.inFlight.Dec()
	took := s.now().Sub(began)
	seconds := a.seconds[0]
	if status == http.StatusNotModified {
		seconds = a.seconds[1]
	}
	seconds.Observe(took.Seconds())
	s.logRequest(r, seen{id: id, method: http.MethodGet, route: readyTable, status: status, bytes: len(body), took: took, caller: who.id})
	return true
}

// knownCaller is who sent a request, where that is remembered.
func (s *Server) knownCaller(r *http.Request) (*caller, bool) {
	if s.access.Open {
		switch keyed, known := s.callers.keyed.peek(); {
		case !known:
			return nil, false
		case !keyed:
			return theOperator, true
		}
	}
	header := r.Header["Authorization"]
	if len(header) != 1 || s.callers.anyFailed() && s.callers.blocked(address(r)) {
		return nil, false
	}
	secret, ok := bearer(header[0])
	if !ok {
		return nil, false
	}
	return s.callers.key(store.HashSecret(secret))
}

// writeWhole sends a whole answer, which must be taken within a time.
func writeWhole(w http.ResponseWriter, r *http.Request, status int, top head, body []byte, within time.Duration) {
	if c, ours := r.Context().Value(connectionKey{}).(*connection); ours {
		c.boundWrites(within)
		for _, name := range [...]string{"Content-Type", "Content-Length"} {
			if v := top.all[name]; v != nil {
				w.Header()[name] = v
			}
		}
		c.gather(top.lines, len(body) > gathered)
		defer c.release()
	} else {
		_ = http.NewResponseController(w).SetWriteDeadline(time.Now().Add(within)) // without a connection there is nothing to bound
		maps.Copy(w.Header(), top.all)
	}
	w.WriteHeader(status)
	_, _ = w.Write(body) // a caller who has gone needs no answer
}

// giveReady answers with what is ready for a caller whom the routes have let in.
func (s *Server) giveReady(c *gin.Context, a *ready) error {
	status, header := http.StatusOK, a.whole
	if named(c.GetHeader("If-None-Match"), a.tag) {
		status, header = http.StatusNotModified, a.same
	}
	h := c.Writer.Header()
	for name, value := range header.all {
		if h[name] == nil {
			h[name] = value
		}
	}
	if whoIs(c).id == anonymous {
		h["Cache-Control"] = []string{keepPublic}
	}
	c.Status(status)
	if status == http.StatusNotModified {
		c.Writer.WriteHeaderNow()
		return nil
	}
	_, _ = c.Writer.Write(a.body) // a caller who has gone needs no answer
	return nil
}
