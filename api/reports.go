package api

import (
	"archive/zip"
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"net/url"
	"os"
	"slices"

	"github.com/gin-gonic/gin"

	"sheetwash/api/problem"
	"sheetwash/api/report"
	"sheetwash/api/report/figure"
	"sheetwash/api/report/page"
	"sheetwash/api/store"
)

// The formats of a report.
var (
	asHTML        = format{"html", mediaPage}
	asZip         = format{"zip", "application/zip"}
	reportFormats = []format{asHTML, asZip}
)

// reportQuery is which report of an analysis is wanted.
type reportQuery struct {
	analysis store.Analysis
	target   page.Target
	units    report.Units
	format   format
	figures  []figure.Format
	tag      string
	short    bool // its data is gone, so that it tells no derivation
}

// getReport returns the report of an analysis.
//
//	@Summary      The report of an analysis: one page, or all pages and charts as files
//	@Description  html is one self-contained page of the given kind; zip holds the files that the command report writes. Both open how each number came about. They never change as long as the data is there.
//	@Tags         reports
//	@Produce      html
//	@Param        id       path   string  true   "id of the analysis"
//	@Param        kind     query  string  false  "of the page; season if not given"  Enums(season, event, run)
//	@Param        season   query  string  false  "season of the event, as the data has it"
//	@Param        event    query  string  false  "name of the event, for kind=event"
//	@Param        dataset  query  string  false  "name of the dataset of the run"
//	@Param        run      query  string  false  "name of the run, for kind=run"
//	@Param        units    query  string  false  "si if not given"  Enums(si, us)
//	@Param        format   query  string  false  "goes before Accept"  Enums(html, zip)
//	@Param        figures  query  string  false  "svg, png, pdf, with commas: every chart as a file too, for format=zip"
//	@Success      200  {string}  string
//	@Failure      404  {object}  problem.Details
//	@Failure      410  {object}  problem.Details
//	@Router       /v1/reports/{id} [get]
func (s *Server) getReport(c *gin.Context) error {
	q := queryOf(c)
	a, err := s.finished(c.Request.Context(), whoIs(c).scope, c.Param("id"))
	if err != nil {
		return err
	}
	in, err := s.engine.Pages(c.Request.Context(), a)
	if err != nil {
		return err
	}
	r, err := s.wantedReport(c, q, a, *in)
	if err != nil {
		return err
	}
	if r.format == asZip {
		return s.reportFiles(c, r, *in)
	}
	return s.reportPage(c, r, *in)
}

// wantedReport reads what a caller wants of a report.
func (s *Server) wantedReport(c *gin.Context, q *query, a store.Analysis, in page.Input) (*reportQuery, error) {
	r := &reportQuery{analysis: a, units: q.units()}
	kind := page.Kind(q.choice("kind", string(page.SeasonPage), string(page.EventPage), string(page.RunPage)))
	var err error
	if r.format, err = negotiate(c.Request, q, reportFormats); err != nil {
		return nil, err
	}
	if r.figures, err = figure.ParseFormats(q.word("figures")); err != nil {
		q.fail(problem.MalformedRequest, "figures: %v", err)
	}
	if len(r.figures) > 0 && r.format != asZip {
		q.fail(problem.MalformedRequest, "figures are for zip")
	}
	for _, name := range []string{"kind", "season", "event", "dataset", "run"} {
		if _, given := q.values[name]; given && r.format == asZip {
			q.fail(problem.MalformedRequest, "a zip holds all pages: %s is for html", name)
		}
	}
	if q.err != nil {
		return nil, q.err
	}
	r.target = page.Target{Kind: page.SeasonPage}
	switch kind {
	case page.EventPage:
		r.target, err = eventTarget(q, page.New(in))
	case page.RunPage:
		r.target, err = runTarget(q, q.word("dataset"), page.New(in))
	}
	if err != nil {
		return nil, err
	}
	parts, err := s.store.AnalysisDatasets(c.Request.Context(), whoIs(c).scope, a.ID)
	r.short = slices.ContainsFunc(parts, func(p store.AnalysisDataset) bool { return p.DatasetState == store.DatasetDeleted })
	sum := sha256.Sum256([]byte(fmt.Sprint(s.build, a.ID, r.units, r.format.name, r.figures, r.target, r.short)))
	r.tag = hex.EncodeToString(sum[:12])
	return r, err
}

// explained gives the input of pages the derivations of its numbers, as long as its
// data is there.
func (s *Server) explained(c *gin.Context, r *reportQuery, in *page.Input) (err error) {
	in.Units = r.units
	if !r.short {
		in.Explain, err = s.engine.Explainer(c.Request.Context(), r.analysis)
	}
	return err
}

// reportPage answers with a page, which is remembered.
func (s *Server) reportPage(c *gin.Context, r *reportQuery, in page.Input) error {
	pageHeaders(c)
	if header := c.GetHeader("If-None-Match"); named(header, r.tag) || named(header, r.tag+"-gzip") || named(header, r.tag+"-zstd") {
		return s.send(c, mediaPage, make([]byte, smallest), r.tag, keepForever) // whoever has it needs no second one
	}
	if body, _, ok := s.pages.get("report " + r.tag); ok {
		return s.send(c, mediaPage, body, r.tag, keepForever)
	}
	if err := s.explained(c, r, &in); err != nil {
		return err
	}
	in.Link = r.link
	var b bytes.Buffer
	if err := page.New(in).Write(&b, r.target); err != nil {
		return err
	}
	s.pages.put("report "+r.tag, b.Bytes(), "")
	return s.send(c, mediaPage, b.Bytes(), r.tag, keepForever)
}

// link returns where another page of the report lies.
func (r *reportQuery) link(t page.Target) string {
	q := url.Values{"units": {r.units.String()}, "kind": {string(t.Kind)}}
	switch t.Kind {
	case page.EventPage:
		q.Set("event", t.Event)
		q.Set("season", t.Season)
	case page.RunPage:
		q.Set("dataset", t.Dataset)
		q.Set("run", t.Run)
	}
	return "/v1/reports/" + r.analysis.ID + "?" + q.Encode()
}

// reportFiles answers with the files of a report as one zip. It is written to disk
// first, so that who gets a part of it knows.
func (s *Server) reportFiles(c *gin.Context, r *reportQuery, in page.Input) error {
	keep := keepForever
	if whoIs(c).id == anonymous {
		keep = keepPublic
	}
	if s.unchanged(c, r.tag, "", keep) {
		return nil
	}
	if err := s.explained(c, r, &in); err != nil {
		return err
	}
	files, err := page.Files(in, r.figures)
	if err != nil {
		return err
	}
	spool, err := os.CreateTemp(s.temp, "report-*")
	if err != nil {
		return err
	}
	defer os.Remove(spool.Name())
	defer spool.Close()
	if err := zipped(spool, files); err != nil {
		return err
	}
	c.Header("Content-Type", asZip.media)
	c.Header("Content-Disposition", `attachment; filename="report.zip"`)
	return s.pour(c, spool)
}

// zipped writes files as a zip with the same bytes each time.
func zipped(to io.Writer, files []page.File) error {
	z := zip.NewWriter(to)
	for _, f := range files {
		w, err := z.CreateHeader(&zip.FileHeader{Name: f.Name, Method: zip.Deflate})
		if err != nil {
			return err
		}
		if err := f.Write(w); err != nil {
			return err
		}
	}
	return z.Close()
}
