package api

import (
	"encoding/json"
	"errors"
	"net/url"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"sheetwash/api/problem"
)

// FuzzCursor: no cursor makes it panic, and what is refused is refused as a problem.
func FuzzCursor(f *testing.F) {
	good, err := makeCursor("/v1/runs", url.Values{"season": {"x"}}, []string{"a", "b"})
	if err != nil {
		f.Fatal(err)
	}
	for _, text := range []string{good, good[1:], "", "AAAA", "%"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		after, err := readCursor("/v1/runs", url.Values{"season": {"x"}, "cursor": {text}})
		var p *problem.Error
		if err != nil && (!errors.As(err, &p) || p.Code != problem.BadCursor) {
			t.Fatal(err)
		}
		if err == nil && len(after) == 0 {
			t.Fatal("a cursor of nothing")
		}
	})
}

// FuzzBody: what is taken for JSON is JSON, and what is JSON is taken unless it is
// deep or names a member twice.
func FuzzBody(f *testing.F) {
	for _, text := range []string{`{"a":[1,{"b":"c"}],"d":null}`, `[]`, `"x"`, `{"a":1,"a":2}`, `{"a":`, `1 2`, "\xff", `{"a":{"a":1}}`, "0\f", "1\u00a0"} {
		f.Add([]byte(text))
	}
	f.Fuzz(func(t *testing.T, body []byte) {
		err := wellFormed(body, 8)
		if err == nil && !json.Valid(body) {
			t.Fatalf("taken: %q", body)
		}
		var p *problem.Error
		if err != nil && (!errors.As(err, &p) || p.Code != problem.MalformedRequest) {
			t.Fatal(err)
		}
	})
}

// FuzzAccept: no header makes it panic, and a preference is from 0 to 1.
func FuzzAccept(f *testing.F) {
	for _, text := range []string{"*/*", "text/csv;q=0.5, application/json;q=0.1", "text/*;q=1.5", "a/b;;", ",,;q="} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		if q := preference(text, asCSV.media); !(q >= 0 && q <= 1) {
			t.Fatalf("%q gives %v", text, q)
		}
	})
}

// Cursors give back what went in, to the same list alone.
func TestCursorsGiveBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		words := rapid.SliceOfN(rapid.String(), 1, 3)
		values := url.Values{"season": words.Draw(t, "season"), "limit": {"5"}}
		after := words.Draw(t, "after")
		cursor, err := makeCursor("/v1/runs", values, after)
		if err != nil {
			t.Fatal(err)
		}
		values.Set("cursor", cursor)
		values.Set("limit", "7")
		got, err := readCursor("/v1/runs", values)
		want := make([]string, len(after))
		for i, w := range after { // JSON has no broken letters
			want[i] = string([]rune(w))
		}
		if len(cursor) < 5000 && (err != nil || !slices.Equal(got, want)) {
			t.Fatalf("%q gives %q, %v", after, got, err)
		}
		values.Add("season", "another")
		if _, err := readCursor("/v1/runs", values); err == nil {
			t.Fatal("the cursor fits another filter")
		}
	})
}

func TestPreference(t *testing.T) {
	for _, tt := range []struct {
		accept string
		want   float64
	}{
		{"text/csv", 1}, {"text/*", 1}, {"*/*", 1}, {"application/json", 0}, {"text/csv;q=0.3, text/*;q=0.9", 0.3},
		{"*/*;q=0.1, text/*;q=0.5", 0.5}, {"text/csv;q=0", 0}, {"text/csv;q=0, */*", 0}, {"text/csv; header=present; q=0.2", 0.2},
		{"nonsense", 0}, {"text/csv;q=x", 0},
	} {
		if got := preference(tt.accept, asCSV.media); got != tt.want {
			t.Errorf("%q gives %v, want %v", tt.accept, got, tt.want)
		}
	}
}

func TestEveryRouteHasARight(t *testing.T) {
	for _, r := range (&Server{}).routes() {
		if r.right == nobody || r.do == nil {
			t.Errorf("%s %s is closed", r.method, r.path)
		}
	}
}
