package mapping

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
)

// jsonNode is a JSON value with the line on which it begins.
type jsonNode struct {
	line   int
	scalar any // string, json.Number, bool or nil
	kind   json.Delim
	keys   []string // of an object, in the order of the file
	values []*jsonNode
}

// Bounds on what a package descriptor may hold.
const (
	maxJSONDepth = 32
	maxJSONNodes = 200_000
)

var errJSON = errors.New("not JSON")

// decodeJSON reads one JSON value with the lines of its parts. The line that comes
// with an error is where reading stopped.
func decodeJSON(data []byte) (*jsonNode, int, error) {
	r := jsonReader{data: data, dec: json.NewDecoder(bytes.NewReader(data)), line: 1}
	r.dec.UseNumber()
	n, err := r.value(0)
	if err == nil {
		if _, more := r.dec.Token(); !errors.Is(more, io.EOF) {
			err = fmt.Errorf("%w: text behind its end", errJSON)
		}
	}
	if err != nil {
		at := int(r.dec.InputOffset())
		var syntax *json.SyntaxError
		if errors.As(err, &syntax) {
			at = int(syntax.Offset)
		}
		return nil, 1 + bytes.Count(data[:min(max(at, 0), len(data))], []byte{'\n'}), err
	}
	return n, 0, nil
}

type jsonReader struct {
	data    []byte
	dec     *json.Decoder
	counted int // bytes whose lines are counted
	line    int
	nodes   int
}

func (r *jsonReader) token() (json.Token, int, error) {
	t, err := r.dec.Token()
	at := min(int(r.dec.InputOffset()), len(r.data))
	if at > r.counted {
		r.line += bytes.Count(r.data[r.counted:at], []byte{'\n'})
		r.counted = at
	}
	if errors.Is(err, io.EOF) {
		err = fmt.Errorf("%w: it ends too early", errJSON)
	}
	return t, r.line, err
}

func (r *jsonReader) value(depth int) (*jsonNode, error) {
	t, line, err := r.token()
	if err != nil {
		return nil, err
	}
	if r.nodes++; r.nodes > maxJSONNodes || depth > maxJSONDepth {
		return nil, fmt.Errorf("%w that a package descriptor would hold: too many or too deep values", errJSON)
	}
	n := &jsonNode{line: line}
	delim, ok := t.(json.Delim)
	if !ok {
		n.scalar = t
		return n, nil
	}
	n.kind = delim
	for r.dec.More() {
		if delim == '{' {
			k, _, err := r.token()
			if err != nil {
				return nil, err
			}
			key, ok := k.(string)
			if !ok {
				return nil, fmt.Errorf("%w: a key that is no string", errJSON)
			}
			n.keys = append(n.keys, key)
		}
		v, err := r.value(depth + 1)
		if err != nil {
			return nil, err
		}
		n.values = append(n.values, v)
	}
	_, _, err = r.token()
	return n, err
}

// get returns the value of a key of an object; nil where there is none.
func (n *jsonNode) get(key string) *jsonNode {
	if n == nil || n.kind != '{' {
		return nil
	}
	for i, k := range n.keys {
		if k == key {
			return n.values[i]
		}
	}
	return nil
}

// text returns a string value.
func (n *jsonNode) text() (string, bool) {
	if n == nil {
		return "", false
	}
	s, ok := n.scalar.(string)
	return s, ok
}
