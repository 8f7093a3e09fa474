package api

import (
	"mime"
	"net/http"
	"strconv"
	"strings"

	"sheetwash/api/problem"
)

// format is a representation that is offered, by the word of ?format=.
type format struct {
	name, media string
}

// The formats of tables.
var (
	asJSON    = format{"json", "application/json"}
	asCSV     = format{"csv", "text/csv; charset=utf-8; header=present"}
	asArrow   = format{"arrow", "application/vnd.apache.arrow.stream"}
	asParquet = format{"parquet", "application/vnd.apache.parquet"}
)

var tableFormats = []format{asJSON, asCSV, asArrow, asParquet}

// negotiate picks the format of an answer: ?format= before Accept before the
// first that is offered.
func negotiate(r *http.Request, q *query, offered []format) (format, error) {
	if _, given := q.values["format"]; given {
		word := q.word("format")
		for _, f := range offered {
			if f.name == word {
				return f, nil
			}
		}
		return format{}, problem.New(problem.FormatNotOffered, "format=%q is not offered here; there is %s", clip(word), names(offered))
	}
	accept := strings.Join(r.Header.Values("Accept"), ",")
	if strings.TrimSpace(accept) == "" {
		return offered[0], nil
	}
	best, found := 0.0, -1
	for i, f := range offered {
		if q := preference(accept, f.media); q > best {
			best, found = q, i
		}
	}
	if found < 0 {
		return format{}, problem.New(problem.FormatNotOffered, "none of the media types in Accept is offered here; there is %s", names(offered))
	}
	return offered[found], nil
}

func names(offered []format) string {
	var out []string
	for _, f := range offered {
		out = append(out, f.name+" ("+f.media+")")
	}
	return strings.Join(out, ", ")
}

// preference returns how much an Accept header wants a media type: the q of the
// most specific range that fits it, 0 for none (RFC 9110, section 12.5.1).
func preference(accept, media string) float64 {
	want, _, _ := strings.Cut(media, ";")
	kind, _, _ := strings.Cut(want, "/")
	specific, q := -1, 0.0
	for _, part := range strings.Split(accept, ",") {
		name, params, err := mime.ParseMediaType(part)
		if err != nil {
			continue
		}
		level := -1
		switch name {
		case want:
			level = 2
		case kind + "/*":
			level = 1
		case "*/*":
			level = 0
		}
		if level <= specific {
			continue
		}
		specific, q = level, 1
		if text, ok := params["q"]; ok {
			if q, err = strconv.ParseFloat(text, 64); err != nil || q < 0 || q > 1 {
				q = 0
			}
		}
	}
	return q
}

// encoding picks gzip or zstd for an answer by Accept-Encoding; "" for none.
func encoding(r *http.Request) string {
	accept := strings.Join(r.Header.Values("Accept-Encoding"), ",")
	best, found := 0.0, ""
	for _, name := range []string{"zstd", "gzip"} {
		for _, part := range strings.Split(accept, ",") {
			word, rest, _ := strings.Cut(strings.TrimSpace(part), ";")
			if !strings.EqualFold(strings.TrimSpace(word), name) {
				continue
			}
			q := 1.0
			if text, ok := strings.CutPrefix(strings.TrimSpace(rest), "q="); ok {
				q, _ = strconv.ParseFloat(text, 64) // not a number: 0, not wanted
			}
			if q > best {
				best, found = q, name
			}
		}
	}
	return found
}
