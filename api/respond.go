package api

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"net/http"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"
	"github.com/klauspost/compress/gzip"
	"github.com/klauspost/compress/zstd"

	"sheetwash/api/problem"
)

// answer is a whole answer in memory.
type answer struct {
	status int
	header map[string]string
	body   any
}

// How long answers may be kept.
const (
	keepChecking = "private, no-cache"                    // what may change
	keepForever  = "private, max-age=31536000, immutable" // what never does
	keepPublic   = "public, max-age=60"                   // what is published, to callers without a key
	keepNever    = "no-store"
)

// smallest is the size below which an answer is not compressed.
const smallest = 1400

// encode is v as JSON with a line feed at its end.
func encode(v any) ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	err := e.Encode(v)
	return b.Bytes(), err
}

// ok answers a reading request with v: with its ETag, or 304 to who has it.
func (s *Server) ok(c *gin.Context, v any, keep string) error {
	body, err := encode(v)
	if err != nil {
		return err
	}
	return s.send(c, asJSON.media, body, tagOf(body), keep)
}

// send answers a reading request with bytes and their tag.
func (s *Server) send(c *gin.Context, media string, body []byte, tag, keep string) error {
	if whoIs(c).id == anonymous && keep != keepNever {
		keep = keepPublic
	}
	packed := ""
	if len(body) >= smallest {
		packed = encoding(c.Request)
	}
	if s.unchanged(c, tag, packed, keep) {
		return nil
	}
	body, err := compress(body, packed)
	if err != nil {
		return err
	}
	c.Header("Content-Type", media)
	c.Header("Content-Length", strconv.Itoa(len(body)))
	c.Status(http.StatusOK)
	_, _ = c.Writer.Write(body) // a caller who has gone needs no answer
	return nil
}

// unchanged sets the headers of a representation, and answers 304 to a caller
// who has it.
func (s *Server) unchanged(c *gin.Context, tag, packed, keep string) bool {
	if packed != "" {
		c.Header("Content-Encoding", packed)
		tag += "-" + packed
	}
	c.Header("ETag", `"`+tag+`"`)
	c.Header("Cache-Control", keep)
	if !named(c.GetHeader("If-None-Match"), tag) {
		return false
	}
	c.Writer.Header().Del("Content-Encoding")
	c.Status(http.StatusNotModified)
	c.Writer.WriteHeaderNow()
	return true
}

// give answers a request that made or changed something.
func (s *Server) give(c *gin.Context, a answer) error {
	for name, value := range a.header {
		c.Header(name, value)
	}
	c.Header("Cache-Control", keepNever)
	if a.body == nil {
		c.Status(a.status)
		c.Writer.WriteHeaderNow()
		return nil
	}
	body, err := encode(a.body)
	if err != nil {
		return err
	}
	if c.Writer.Header().Get("Content-Type") == "" {
		c.Header("Content-Type", asJSON.media)
	}
	c.Status(a.status)
	_, _ = c.Writer.Write(body) // a caller who has gone needs no answer
	return nil
}

func compress(body []byte, packed string) ([]byte, error) {
	var b bytes.Buffer
	switch packed {
	case "gzip":
		w := gzip.NewWriter(&b)
		if _, err := w.Write(body); err != nil {
			return nil, err
		}
		err := w.Close()
		return b.Bytes(), err
	case "zstd":
		w, err := zstd.NewWriter(&b, zstd.WithEncoderConcurrency(1))
		if err != nil {
			return nil, err
		}
		if _, err := w.Write(body); err != nil {
			return nil, err
		}
		err = w.Close()
		return b.Bytes(), err
	}
	return body, nil
}

// tagOf is the tag of a representation: a digest of its bytes before compression.
func tagOf(body []byte) string {
	sum := sha256.Sum256(body)
	return hex.EncodeToString(sum[:12])
}

// named reports whether a header of tags names one, or any by *.
func named(header, tag string) bool {
	for _, t := range strings.Split(header, ",") {
		t = strings.TrimPrefix(strings.TrimSpace(t), "W/")
		if t == "*" || t == `"`+tag+`"` {
			return true
		}
	}
	return false
}

// mustMatch checks the If-Match of a change against the state v of the thing.
func mustMatch(c *gin.Context, v any) error {
	header := c.GetHeader("If-Match")
	if header == "" {
		return problem.New(problem.RevisionRequired, "send the ETag of %s in If-Match", c.Request.URL.Path)
	}
	body, err := encode(v)
	if err != nil {
		return err
	}
	tag := tagOf(body)
	for _, t := range []string{tag, tag + "-gzip", tag + "-zstd"} {
		if named(header, t) {
			return nil
		}
	}
	return problem.New(problem.RevisionMismatch, "it was changed since it was read")
}
