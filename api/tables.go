package api

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"iter"
	"slices"
	"strconv"

	"github.com/gin-gonic/gin"

	"sheetwash/api/problem"
	"sheetwash/api/report"
	"sheetwash/api/rows"
	"sheetwash/api/wire"
)

// tablePart is a stretch of rows that an answer is made of.
type tablePart struct {
	id   string   // orders the parts and names them in cursors
	only []string // datasets whose rows count; nil: all
	open func(context.Context) (Table, error)
}

// tableRequest is a question for rows of a result table.
type tableRequest struct {
	table    string
	tag      string   // what the rows follow from, besides the address and the program
	analysis string   // whose rows they are, where they never change
	keep     string   // how long the answer may be kept
	filters  []string // parameters that are columns
	parts    []tablePart
}

// Columns that callers may choose rows by; flag is a word of flags.
var columnFilters = []string{
	"dataset", "event", "run", "plot", "treatment", "block", "metric", "method", "headline", "flag", "censored", "scope", "statistic",
	"stream", "model", "parameter", "effect", "reference", "calibration", "simulator", "severity", "code", "file",
}

// tableQuery is a tableRequest with the wishes of the caller.
type tableQuery struct {
	tableRequest
	q      *query
	desc   report.Table
	units  report.Units
	format format
	bare   bool // an array without an envelope
	mark   bool // CSV with a byte order mark
	paged  bool
	filter *rows.Filter
}

// tableAnswer answers with rows of a result table.
func (s *Server) tableAnswer(c *gin.Context, r tableRequest) error {
	t, err := s.wishes(c, r)
	if err != nil {
		return err
	}
	if t.format == asJSON && (!t.bare || t.paged) {
		return s.tablePage(c, t)
	}
	return s.tableExport(c, t)
}

// wishes reads what the caller wants of a table.
func (s *Server) wishes(c *gin.Context, r tableRequest) (*tableQuery, error) {
	q := queryOf(c)
	t := &tableQuery{tableRequest: r, q: q, units: q.units(), bare: q.choice("shape", "envelope", "rows") == "rows", mark: q.flag("bom")}
	var err error
	if t.format, err = negotiate(c.Request, q, tableFormats); err != nil {
		return nil, err
	}
	_, limit := q.values["limit"]
	_, cursor := q.values["cursor"]
	t.paged = limit || cursor
	switch {
	case t.format != asJSON && t.paged:
		q.fail(problem.MalformedRequest, "%s holds all rows that fit the filters: limit and cursor are for json", t.format.name)
	case t.format != asJSON && t.bare:
		q.fail(problem.MalformedRequest, "shape is for json")
	case t.format != asCSV && t.mark:
		q.fail(problem.MalformedRequest, "bom is for csv")
	}
	t.desc, _ = s.tables.find(r.table, t.units)
	wanted := map[string][]string{}
	for _, name := range r.filters {
		if values := q.list(name); len(values) > 0 {
			wanted[t.column(name)] = values
		}
	}
	filter, unknown := rows.NewFilter(t.desc, wanted)
	if unknown != "" {
		q.fail(problem.UnknownParameter, "the table %s has no column %q", r.table, unknown)
	}
	t.filter = filter
	return t, q.err
}

// column is the column that a parameter chooses by.
func (t *tableQuery) column(parameter string) string {
	if parameter == "flag" && t.table != "hydrograph" {
		return "flags"
	}
	return parameter
}

// version is the tag of the answer: a digest over what it follows from.
func (t *tableQuery) version(s *Server) string {
	h := sha256.New()
	fmt.Fprintln(h, s.build.Version, s.build.Revision, t.tag, t.table, t.format.name, t.q.values.Encode())
	for _, p := range t.parts {
		fmt.Fprintln(h, p.id, p.only)
	}
	return hex.EncodeToString(h.Sum(nil)[:12])
}

// place is where a page begins: a part, and a row in it.
type place struct {
	part string
	row  int64
}

func (t *tableQuery) start(path string) (place, error) {
	after, err := readCursor(path, t.q.values)
	if err != nil || after == nil {
		return place{}, err
	}
	if len(after) != 2 {
		return place{}, problem.New(problem.BadCursor, "the cursor cannot be read")
	}
	row, err := strconv.ParseInt(after[1], 10, 64)
	if err != nil || row < 0 {
		return place{}, problem.New(problem.BadCursor, "the cursor cannot be read")
	}
	return place{after[0], row}, nil
}

// tablePage answers with a page of JSON rows.
func (s *Server) tablePage(c *gin.Context, t *tableQuery) error {
	limit, exact := t.q.limit(), t.q.choice("count", "", "exact") == "exact"
	from, err := t.start(c.Request.URL.Path)
	if t.q.err != nil {
		return t.q.err
	}
	if err != nil {
		return err
	}
	tag := t.version(s)
	body, links, ok := s.pages.get(tag)
	if !ok {
		if body, links, err = s.buildPage(c, t, from, limit, exact); err != nil {
			return err
		}
		s.pages.put(tag, body, links)
	}
	k := &kept{tag: tag, links: links, body: body}
	if t.analysis != "" {
		r, err := s.makeReady(c.Request, t.analysis, k)
		if err != nil {
			return err
		}
		return s.giveReady(c, r)
	}
	if links != "" {
		c.Header("Link", links)
	}
	return s.send(c, asJSON.media, body, tag, t.keep)
}

// buildPage makes the body of a page from stored rows, and its Link header.
func (s *Server) buildPage(c *gin.Context, t *tableQuery, from place, limit int, exact bool) ([]byte, string, error) {
	var data [][]byte
	var next []string
	for at, row := range t.matching(c.Request.Context(), from) {
		if at.err != nil {
			return nil, "", at.err
		}
		if len(data) == limit {
			next = []string{at.part, strconv.FormatInt(at.row, 10)}
			break
		}
		data = append(data, bytes.Clone(row))
	}
	page := wire.Page{Returned: len(data), Limit: limit, Complete: next == nil}
	if exact {
		n, err := t.count(c.Request.Context())
		if err != nil {
			return nil, "", err
		}
		page.Count = &n
	}
	links := wire.Links{"schema": "/v1/schemas/" + t.table + "?units=" + t.units.String()}
	if err := linkNext(c, t.q, next, &page, links); err != nil {
		return nil, "", err
	}
	body, err := envelope(data, t.bare, page, links)
	return body, c.Writer.Header().Get("Link"), err
}

// envelope puts encoded rows, untouched, around with page and links.
func envelope(data [][]byte, bare bool, page wire.Page, links wire.Links) ([]byte, error) {
	var b bytes.Buffer
	if !bare {
		b.WriteString(`{"data":`)
	}
	b.WriteByte('[')
	for i, row := range data {
		if i > 0 {
			b.WriteString(",\n")
		}
		b.Write(row)
	}
	b.WriteByte(']')
	if !bare {
		tail, err := encode(struct {
			Page  wire.Page  `json:"page"`
			Links wire.Links `json:"links"`
		}{page, links})
		if err != nil {
			return nil, err
		}
		b.WriteByte(',')
		b.Write(tail[1:])
		return b.Bytes(), nil
	}
	b.WriteByte('\n')
	return b.Bytes(), nil
}

// count counts the rows that match.
func (t *tableQuery) count(ctx context.Context) (n int64, err error) {
	for at := range t.matching(ctx, place{}) {
		if at.err != nil {
			return 0, at.err
		}
		n++
	}
	return n, nil
}

// found is the place of a row, or the error that ended the search.
type found struct {
	place
	err error
}

// block is how many rows are taken from a table at once.
const block = 1024

// matching yields the rows that are wanted, from a place on.
func (t *tableQuery) matching(ctx context.Context, from place) iter.Seq2[found, []byte] {
	return func(yield func(found, []byte) bool) {
		for _, p := range t.parts {
			if p.id < from.part {
				continue
			}
			first := int64(0)
			if p.id == from.part {
				first = from.row
			}
			if !t.matchingIn(ctx, p, first, yield) {
				return
			}
		}
	}
}

func (t *tableQuery) matchingIn(ctx context.Context, p tablePart, first int64, yield func(found, []byte) bool) bool {
	table, err := p.open(ctx)
	if err != nil {
		return yield(found{err: err}, nil) && false
	}
	defer table.Close()
	filter := t.filter
	if p.only != nil {
		if filter, err = t.narrowed(p.only); err != nil {
			return yield(found{err: err}, nil) && false
		}
	}
	for at := first; at < table.Rows(); at += block {
		list, err := table.JSON(ctx, at, min(at+block, table.Rows()))
		if err == nil {
			err = ctx.Err()
		}
		for i := 0; err == nil && i < len(list); i++ {
			var ok bool
			if ok, err = filter.Match(list[i]); ok && !yield(found{place: place{p.id, at + int64(i)}}, list[i]) {
				return false
			}
		}
		if err != nil {
			return yield(found{err: err}, nil) && false
		}
	}
	return true
}

// narrowed is the filter with the datasets that count, among those that are wanted.
func (t *tableQuery) narrowed(only []string) (*rows.Filter, error) {
	wanted := map[string][]string{}
	for _, name := range t.filters {
		if values := t.q.values[name]; len(values) > 0 {
			wanted[t.column(name)] = values
		}
	}
	if chosen, ok := wanted["dataset"]; ok {
		only = slices.DeleteFunc(slices.Clone(only), func(name string) bool { return !slices.Contains(chosen, name) })
	}
	wanted["dataset"] = only
	f, unknown := rows.NewFilter(t.desc, wanted)
	if unknown != "" {
		return nil, problem.New(problem.UnknownParameter, "the table %s has no column %q", t.table, unknown)
	}
	return f, nil
}
