package api

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"net/url"

	"sheetwash/api/problem"
)

// A cursor is opaque to callers: the keys of the last row, behind a digest that
// binds them to the list, its filter and its sort. It grants nothing: what a page
// may hold is decided anew for each request.

// bound is the digest over the list that a cursor belongs to: its address and its
// parameters but for the cursor itself and the size of the page.
func bound(path string, values url.Values) []byte {
	h := sha256.New()
	h.Write([]byte(path))
	rest := url.Values{}
	for name, list := range values {
		switch name {
		case "cursor", "limit", "count", "format", "shape", "bom":
		default:
			rest[name] = list
		}
	}
	h.Write([]byte{0})
	h.Write([]byte(rest.Encode())) // sorted by name
	return h.Sum(nil)[:12]
}

// makeCursor encodes the keys of the last row.
func makeCursor(path string, values url.Values, after []string) (string, error) {
	keys, err := json.Marshal(after)
	if err != nil {
		return "", err
	}
	return base64.RawURLEncoding.EncodeToString(append(bound(path, values), keys...)), nil
}

// readCursor returns the keys; nil without a cursor.
func readCursor(path string, values url.Values) ([]string, error) {
	list, given := values["cursor"]
	if !given {
		return nil, nil
	}
	raw, err := base64.RawURLEncoding.DecodeString(list[0])
	b := bound(path, values)
	if err != nil || len(list) != 1 || len(raw) < len(b) || len(raw) > 4096 {
		return nil, problem.New(problem.BadCursor, "the cursor cannot be read")
	}
	if !bytes.Equal(raw[:len(b)], b) {
		return nil, problem.New(problem.BadCursor, "the cursor belongs to another list, another filter or another sort")
	}
	var after []string
	if err := json.Unmarshal(raw[len(b):], &after); err != nil || len(after) == 0 {
		return nil, problem.New(problem.BadCursor, "the cursor cannot be read")
	}
	return after, nil
}
