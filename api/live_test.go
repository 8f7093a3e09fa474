package api_test

import (
	"encoding/json"
	"mime"
	"net/http"
	"strconv"
	"strings"
	"sync"
	"testing"

	"github.com/getkin/kin-openapi/openapi3"

	"sheetwash/docs/openapi"
)

// live checks every answer that a test receives against the document.
var live = &liveCheck{}

// mostChecked bounds the answers that are checked to the last cell: one row of a
// table is like the next.
const mostChecked = 64 << 10

type liveCheck struct {
	once sync.Once
	doc  *openapi3.T
	err  error
}

func (l *liveCheck) load() {
	l.doc, l.err = openapi3.NewLoader().LoadFromData(openapi.JSON())
}

func (l *liveCheck) check(t testing.TB, r *http.Request, got reply) {
	t.Helper()
	l.once.Do(l.load)
	if l.err != nil {
		t.Fatal(l.err)
	}
	item := l.find(r.URL.Path)
	if item == nil || item.GetOperation(r.Method) == nil {
		return
	}
	name := r.Method + " " + r.URL.Path + " " + strconv.Itoa(got.status)
	answers := item.GetOperation(r.Method).Responses
	answer := answers.Status(got.status)
	if answer == nil && got.status >= 400 {
		answer = answers.Default()
	}
	if answer == nil {
		t.Errorf("%s: the document has no such status", name)
		return
	}
	if len(got.body) == 0 {
		return
	}
	media, _, err := mime.ParseMediaType(got.header.Get("Content-Type"))
	if err != nil {
		t.Errorf("%s: %v", name, err)
		return
	}
	content := answer.Value.Content.Get(media)
	if content == nil {
		t.Errorf("%s: the document has no %s", name, media)
		return
	}
	if len(got.body) > mostChecked || !strings.HasSuffix(media, "json") || got.header.Get("Content-Encoding") != "" {
		return
	}
	var v any
	if err := json.Unmarshal(got.body, &v); err != nil {
		t.Errorf("%s: %v", name, err)
		return
	}
	if err := content.Schema.Value.VisitJSON(v, openapi3.VisitAsResponse(), openapi3.EnableFormatValidation()); err != nil {
		t.Errorf("%s does not fit the document: %v", name, err)
	}
}

// find returns the path of the document that an address fits, one without names
// first.
func (l *liveCheck) find(path string) *openapi3.PathItem {
	var found *openapi3.PathItem
	best := -1
	for template, item := range l.doc.Paths.Map() {
		if n := fits(template, path); n > best {
			best, found = n, item
		}
	}
	return found
}

// fits counts the parts of a path that a template has as they stand; -1 if it does
// not fit.
func fits(template, path string) int {
	t, p := strings.Split(template, "/"), strings.Split(path, "/")
	if len(t) != len(p) {
		return -1
	}
	n := 0
	for i := range t {
		switch {
		case t[i] == p[i]:
			n++
		case !strings.HasPrefix(t[i], "{"):
			return -1
		}
	}
	return n
}
