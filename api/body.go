package api

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"mime"
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"

	"sheetwash/api/problem"
)

// Media types of JSON bodies.
const (
	mediaJSON  = "application/json"
	mediaPatch = "application/merge-patch+json"
)

// readJSON reads the body of a request into a value, and returns its bytes. What
// the value has no member for is refused.
func (s *Server) readJSON(c *gin.Context, media string, into any) ([]byte, error) {
	got, params, err := mime.ParseMediaType(c.GetHeader("Content-Type"))
	if err != nil || got != media || params["charset"] != "" && !strings.EqualFold(params["charset"], "utf-8") {
		return nil, problem.New(problem.ContentTypeNotAccepted, "the body is read as %s", media)
	}
	if e := c.GetHeader("Content-Encoding"); e != "" && e != "identity" {
		return nil, problem.New(problem.ContentTypeNotAccepted, "a body of this kind is not read compressed")
	}
	body, err := io.ReadAll(http.MaxBytesReader(c.Writer, c.Request.Body, s.limits.JSONBytes))
	if err != nil {
		return nil, unread(err)
	}
	if err := wellFormed(body, s.limits.JSONDepth); err != nil {
		return nil, err
	}
	d := json.NewDecoder(bytes.NewReader(body))
	d.DisallowUnknownFields()
	return body, undecoded(d.Decode(into))
}

// unread says why a body could not be read to its end.
func unread(err error) error {
	var large *http.MaxBytesError
	if errors.As(err, &large) || errors.As(err, new(*problem.Error)) {
		return err
	}
	return problem.Because(err, problem.MalformedRequest, "the body broke off or came too slowly")
}

// undecoded says what is wrong with a member of a body.
func undecoded(err error) error {
	var kind *json.UnmarshalTypeError
	switch {
	case err == nil:
		return nil
	case errors.As(err, &kind):
		return problem.New(problem.MalformedRequest, "%s must be a %s, not a %s", kind.Field, kindName(kind.Type.String()), kind.Value)
	case strings.HasPrefix(err.Error(), "json: unknown field "):
		return problem.New(problem.UnknownParameter, "the body has a member %s, which is not known here", clip(strings.TrimPrefix(err.Error(), "json: unknown field ")))
	}
	return problem.New(problem.MalformedRequest, "a member of the body cannot be read")
}

// kindName is what JSON calls a type.
func kindName(t string) string {
	switch t = strings.TrimPrefix(t, "*"); {
	case strings.HasPrefix(t, "float"):
		return "number"
	case strings.HasPrefix(t, "int"):
		return "whole number"
	case strings.HasPrefix(t, "["):
		return "list"
	case t == "bool":
		return "boolean"
	case t == "string":
		return "string"
	}
	return "object"
}

// wellFormed reports what is wrong with a text as JSON: syntax, depth, a member
// that stands twice, something after its end.
func wellFormed(body []byte, depth int) error {
	d := json.NewDecoder(bytes.NewReader(body))
	d.UseNumber()
	var open []frame
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) && len(body) > 0 && len(open) == 0 && d.InputOffset() > 0 {
			return nil
		}
		if err != nil {
			return problem.New(problem.MalformedRequest, "the body is not JSON, at byte %d", d.InputOffset())
		}
		if name, ok := member(open, token); ok {
			top := &open[len(open)-1]
			if top.seen[name] {
				return problem.New(problem.MalformedRequest, "the member %q stands twice", clip(name))
			}
			top.seen[name], top.value = true, true
			continue
		}
		switch token {
		case json.Delim('{'), json.Delim('['):
			if len(open) >= depth {
				return problem.New(problem.MalformedRequest, "the body is nested deeper than %d", depth)
			}
			if len(open) > 0 {
				open[len(open)-1].value = false
			}
			open = append(open, frame{object: token == json.Delim('{'), seen: map[string]bool{}})
		case json.Delim('}'), json.Delim(']'):
			open = open[:len(open)-1]
		default:
			if len(open) > 0 {
				open[len(open)-1].value = false
			}
		}
		if len(open) == 0 {
			return nothingAfter(d, body)
		}
	}
}

// frame is an object or a list that is open while JSON is read.
type frame struct {
	object, value bool // value: a member's name was read, its value comes
	seen          map[string]bool
}

// member reports whether a token is the name of a member.
func member(open []frame, token json.Token) (string, bool) {
	if len(open) == 0 || !open[len(open)-1].object || open[len(open)-1].value {
		return "", false
	}
	name, ok := token.(string)
	return name, ok
}

func nothingAfter(d *json.Decoder, body []byte) error {
	if len(bytes.Trim(body[d.InputOffset():], " \t\r\n")) > 0 {
		return problem.New(problem.MalformedRequest, "something stands after the end of the JSON, at byte %d", d.InputOffset())
	}
	return nil
}
