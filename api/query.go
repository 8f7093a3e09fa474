package api

import (
	"net/url"
	"strconv"
	"time"
	"unicode/utf8"

	"github.com/gin-gonic/gin"

	"sheetwash/api/problem"
	"sheetwash/api/store"
)

// parseQuery reads the parameters of an address.
func parseQuery(raw string) (url.Values, error) {
	values, err := url.ParseQuery(raw)
	if err != nil {
		return nil, problem.New(problem.MalformedRequest, "the parameters of the address cannot be read; percent-encode what is not a letter or a digit")
	}
	for name, list := range values {
		for _, v := range append(list, name) {
			if !utf8.ValidString(v) {
				return nil, problem.New(problem.MalformedRequest, "a parameter of the address is not UTF-8")
			}
		}
	}
	return values, nil
}

// query reads the parameters of a request and keeps the first error.
type query struct {
	values url.Values
	err    error
}

func queryOf(c *gin.Context) *query {
	v, err := parseQuery(c.Request.URL.RawQuery)
	return &query{v, err}
}

func (q *query) fail(code problem.Code, format string, args ...any) {
	if q.err == nil {
		q.err = problem.New(code, format, args...)
	}
}

// word returns the value of a parameter that is given at most once.
func (q *query) word(name string) string {
	list := q.values[name]
	if len(list) > 1 {
		q.fail(problem.MalformedRequest, "%s is given %d times", name, len(list))
	}
	if len(list) == 0 {
		return ""
	}
	return list[0]
}

// list returns the values of a parameter that may repeat; empty ones are refused.
func (q *query) list(name string) []string {
	list := q.values[name]
	if len(list) > 200 {
		q.fail(problem.MalformedRequest, "%s is given %d times; 200 are allowed", name, len(list))
	}
	for _, v := range list {
		if v == "" {
			q.fail(problem.MalformedRequest, "%s is empty; leave it out to have all", name)
		}
	}
	return list
}

// choice returns one of the words, the first if none is given.
func (q *query) choice(name string, words ...string) string {
	got := q.word(name)
	if _, given := q.values[name]; !given {
		return words[0]
	}
	for _, w := range words {
		if got == w {
			return w
		}
	}
	q.fail(problem.MalformedRequest, "%s=%q is none of %s", name, clip(got), listed(words))
	return words[0]
}

// flag returns whether a parameter is true or 1.
func (q *query) flag(name string) bool {
	switch q.choice(name, "false", "true", "0", "1") {
	case "true", "1":
		return true
	}
	return false
}

// limit is how many rows are wanted. More than allowed is refused, never clamped.
func (q *query) limit() int {
	text := q.word("limit")
	if text == "" && len(q.values["limit"]) == 0 {
		return 100
	}
	n, err := strconv.Atoi(text)
	if err != nil || n < 1 || n > 1000 {
		q.fail(problem.LimitOutOfRange, "limit=%q is not a whole number from 1 to 1000", clip(text))
		return 1
	}
	return n
}

// moment returns a date or an RFC 3339 time; the zero time if it is not given.
func (q *query) moment(name string) time.Time {
	text := q.word(name)
	if text == "" && len(q.values[name]) == 0 {
		return time.Time{}
	}
	for _, layout := range []string{time.RFC3339Nano, time.DateOnly} {
		if t, err := time.Parse(layout, text); err == nil {
			return t
		}
	}
	q.fail(problem.MalformedRequest, "%s=%q is neither a date such as 2026-05-14 nor a time such as 2026-05-14T09:30:00Z", name, clip(text))
	return time.Time{}
}

// filter reads the filters of a list of records.
func (q *query) filter() store.Filter {
	return store.Filter{
		Seasons: q.list("season"), Events: q.list("event"), Datasets: q.list("dataset"), Runs: q.list("run"),
		Plots: q.list("plot"), Treatments: q.list("treatment"), States: q.list("state"),
		From: q.moment("from"), To: q.moment("to"), ChangedSince: q.moment("changed_since"),
	}
}
