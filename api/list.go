package api

import (
	"context"
	"net/url"

	"github.com/gin-gonic/gin"
	"github.com/google/uuid"

	"sheetwash/api/store"
	"sheetwash/api/wire"
)

// page reads which page of a list is wanted.
func (q *query) page(path string) store.Page {
	p := store.Page{Limit: q.limit(), Sort: q.word("sort")}
	after, err := readCursor(path, q.values)
	if q.err == nil {
		q.err = err
	}
	p.After = after
	return p
}

// listRecords answers with a page of the records that read lists, each told by show.
func listRecords[R, W any](s *Server, c *gin.Context, read func(context.Context, store.Scope, store.Filter, store.Page) (store.List[R], error), show func(R) W) error {
	q := queryOf(c)
	f, p := q.filter(), q.page(c.Request.URL.Path)
	if q.err != nil {
		return q.err
	}
	var err error
	if f.Seasons, err = s.seasonIDs(c.Request.Context(), whoIs(c).scope, f.Seasons); err != nil {
		return err
	}
	l, err := read(c.Request.Context(), whoIs(c).scope, f, p)
	if err != nil {
		return err
	}
	return listOf(s, c, q, p, l, show)
}

// seasonIDs turns names of seasons into their ids.
func (s *Server) seasonIDs(ctx context.Context, scope store.Scope, words []string) ([]string, error) {
	var out []string
	for _, word := range words {
		if uuid.Validate(word) != nil {
			r, err := s.seasonBy(ctx, scope, word)
			if err != nil {
				return nil, err
			}
			word = r.ID
		}
		out = append(out, word)
	}
	return out, nil
}

// oneRecord answers with the record that the address names.
func oneRecord[R, W any](s *Server, c *gin.Context, read func(context.Context, store.Scope, string) (R, error), show func(R) W) error {
	r, err := read(c.Request.Context(), whoIs(c).scope, c.Param("id"))
	if err != nil {
		return err
	}
	return s.ok(c, show(r), keepChecking)
}

// listOf answers with a page of records, each told by show.
func listOf[R, W any](s *Server, c *gin.Context, q *query, p store.Page, l store.List[R], show func(R) W) error {
	out := wire.List[W]{Data: make([]W, 0, len(l.Rows)), Page: wire.Page{Returned: len(l.Rows), Limit: p.Limit, Complete: !l.More}, Links: wire.Links{}}
	for _, r := range l.Rows {
		out.Data = append(out.Data, show(r))
	}
	var next []string
	if l.More {
		next = l.Next
	}
	if err := linkNext(c, q, next, &out.Page, out.Links); err != nil {
		return err
	}
	return s.ok(c, out, keepChecking)
}

// linkNext says where the next page is, if there is one.
func linkNext(c *gin.Context, q *query, after []string, page *wire.Page, links wire.Links) error {
	links["self"] = c.Request.URL.RequestURI()
	if after == nil {
		return nil
	}
	cursor, err := makeCursor(c.Request.URL.Path, q.values, after)
	if err != nil {
		return err
	}
	values := url.Values{}
	for name, list := range q.values {
		values[name] = list
	}
	values.Set("cursor", cursor)
	next := c.Request.URL.Path + "?" + values.Encode()
	page.NextCursor = &cursor
	links["next"] = next
	c.Header("Link", "<"+next+`>; rel="next"`)
	return nil
}

// maybe is a text that may be missing.
func maybe(s string) *string {
	if s == "" {
		return nil
	}
	return &s
}
