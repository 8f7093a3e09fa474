package api

import (
	"context"
	"errors"
	"io"
	"mime"
	"mime/multipart"
	"path"
	"slices"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"sheetwash/api/live"
	"sheetwash/api/problem"
	"sheetwash/api/report/page"
	"sheetwash/api/store"
	"sheetwash/api/wire"
)

// mostListed bounds the uploads on one page.
const mostListed = 500

// getUploads shows the uploads of a season to people, and the form for another.
//
//	@Summary  The uploads of a season and the form for another, as a page
//	@Tags     pages
//	@Produce  html
//	@Param    id     path   string  true   "id of the season"
//	@Param    still  query  bool    false  "do not come again by itself while an analysis runs"
//	@Success  200  {string}  string
//	@Failure  404  {object}  problem.Details
//	@Router   /seasons/{id}/uploads [get]
func (s *Server) getUploads(c *gin.Context) error {
	ctx, scope := c.Request.Context(), whoIs(c).scope
	season, err := s.store.Season(ctx, scope, c.Param("id"))
	if err != nil {
		return err
	}
	latest, err := s.store.LatestResults(ctx, scope, season.ID)
	if err != nil {
		return err
	}
	running, err := s.runningIn(ctx, scope, store.Filter{Seasons: []string{season.ID}})
	if err != nil {
		return err
	}
	at := "/seasons/" + season.ID + "/uploads"
	p := live.Uploads{Frame: page.Frame{Menu: s.menu(c, &season)}, Season: season.Name, Form: s.uploadForm(c, season)}
	if running != nil {
		p.Frame.Notices = append(p.Frame.Notices, s.progress(c, running, at))
	}
	l, err := s.store.Datasets(ctx, scope, store.Filter{Seasons: []string{season.ID}}, store.Page{Limit: mostListed, Sort: "-created"})
	if err != nil {
		return err
	}
	accepted := map[string]bool{}
	for _, d := range l.Rows {
		accepted[d.Name] = accepted[d.Name] || d.State == store.DatasetAccepted
	}
	for _, d := range l.Rows {
		state := "waits to be analysed"
		switch {
		case d.State == store.DatasetRejected && accepted[d.Name]:
			state = "refused, corrected since"
		case d.State == store.DatasetRejected:
			state = "refused"
		case slices.ContainsFunc(latest, func(r store.LatestResult) bool { return r.DatasetID == d.ID }):
			state = "analysed"
		case running != nil:
			state = "being analysed"
		}
		p.Uploads = append(p.Uploads, live.Upload{
			Name: d.Name, Href: "/datasets/" + d.ID, State: state, Received: d.CreatedAt.UTC().Format("2 January 2006, 15:04 UTC"),
			Counts: wire.Counts{Errors: d.Errors, Warnings: d.Warnings, Notes: d.Notes},
		})
	}
	return s.showPage(c, keepChecking, p.Write)
}

// uploadForm is the form for an upload, for who may send one.
func (s *Server) uploadForm(c *gin.Context, season store.Season) *live.Form {
	if !whoIs(c).may(records) {
		return nil
	}
	return &live.Form{Action: "/seasons/" + season.ID + "/uploads", Limit: strconv.FormatInt(s.limits.UploadBytes>>20, 10) + " MiB"}
}

// takeUpload takes the form of an upload: it is stored as one that a program sends,
// and the season is analysed with it.
//
//	@Summary      Upload a dataset from a form, and analyse the season with it
//	@Description  The browser is sent to the page of the upload, which shows what was found in it and what becomes of it.
//	@Tags         pages
//	@Accept       multipart/form-data
//	@Produce      html
//	@Param        id    path      string  true   "id of the season"
//	@Param        name  formData  string  false  "name of the dataset"
//	@Param        file  formData  file    true   "the files; the part repeats"
//	@Success      303
//	@Failure      404  {object}  problem.Details
//	@Router       /seasons/{id}/uploads [post]
func (s *Server) takeUpload(c *gin.Context) error {
	ctx := c.Request.Context()
	season, err := s.store.Season(ctx, whoIs(c).scope, c.Param("id"))
	if err != nil {
		return err
	}
	leave, err := s.callers.enter(whoIs(c), "uploads", func(b *bucket) *int { return &b.uploads }, s.limits.Uploads)
	if err != nil {
		return err
	}
	defer leave()
	r, name, err := s.receiveForm(c)
	if err != nil {
		return err
	}
	defer r.remove(s)
	if err := properName("name", name, false); err != nil {
		return err
	}
	t := target{season: season, name: name}
	r.finish(t)
	d, rows, err := s.keep(ctx, r, t)
	if err != nil {
		return err
	}
	d.CreatedBy = whoIs(c).signed()
	at := "/datasets/" + d.ID
	err = s.store.InTx(ctx, func(tx *store.Tx) error {
		a, err := s.record(c, tx, d, rows)
		at = "/datasets/" + path.Base(a.header["Location"])
		return err
	})
	if err != nil {
		return err
	}
	s.meters.uploads.WithLabelValues(map[bool]string{true: "accepted", false: "rejected"}[d.State == store.DatasetAccepted]).Inc()
	if d.State == store.DatasetAccepted {
		if err := s.analyseSeason(c, season, path.Base(at)); err != nil && problem.From(err).Code == problem.Internal {
			return err // for any other reason it waits, and its page says so
		}
	}
	return s.seeOther(c, at)
}

// analyseSeason starts an analysis of all accepted datasets of a season, unless one
// that has the given dataset is under way or over.
func (s *Server) analyseSeason(c *gin.Context, season store.Season, dataset string) error {
	ctx, scope := c.Request.Context(), whoIs(c).scope
	f := store.Filter{Datasets: []string{dataset}, States: []string{store.AnalysisAccepted, store.AnalysisRunning, store.AnalysisSuccessful}}
	if l, err := s.store.Analyses(ctx, scope, f, store.Page{Limit: 1}); err != nil || len(l.Rows) > 0 {
		return err
	}
	settings, err := s.properSettings(nil)
	if err != nil {
		return err
	}
	w := &wantedAnalysis{season: season.ID, settings: settings}
	if w.datasets, err = s.acceptedIn(ctx, scope, season.ID); err != nil {
		return err
	}
	if err := s.fewRuns(ctx, season.ID, w.datasets); err != nil {
		return err
	}
	return s.store.InTx(ctx, func(tx *store.Tx) error {
		_, err := s.submit(c, tx, w)
		return err
	})
}

// takeAnalysis starts the analysis of an upload that waits.
//
//	@Summary  Analyse the season with an upload that waits
//	@Tags     pages
//	@Produce  html
//	@Param    id  path  string  true  "id of the dataset"
//	@Success  303
//	@Failure  404  {object}  problem.Details
//	@Router   /datasets/{id} [post]
func (s *Server) takeAnalysis(c *gin.Context) error {
	d, err := s.dataset(c)
	if err != nil {
		return err
	}
	season, err := s.store.Season(c.Request.Context(), whoIs(c).scope, d.SeasonID)
	if err != nil {
		return err
	}
	if err := s.analyseSeason(c, season, d.ID); err != nil {
		return err
	}
	return s.seeOther(c, "/datasets/"+d.ID)
}

// receiveForm takes the files of a form, and the name that it gives them: as typed,
// else that of their folder or of the only file.
func (s *Server) receiveForm(c *gin.Context) (*received, string, error) {
	media, params, err := mime.ParseMediaType(c.GetHeader("Content-Type"))
	if err != nil || media != mediaForm {
		return nil, "", problem.New(problem.ContentTypeNotAccepted, "a form with files is sent as %s", mediaForm)
	}
	r, err := s.emptyUpload()
	if err != nil {
		return nil, "", err
	}
	name, err := r.addForm(multipart.NewReader(s.flowing(c), params["boundary"]), s.limits.UploadFiles)
	if err == nil && len(r.Files) == 0 {
		err = problem.New(problem.MalformedRequest, "no file was chosen")
	}
	if err != nil {
		r.remove(s)
		return nil, "", unread(err)
	}
	if name == "" {
		name = commonName(r.Files)
	}
	r.digest()
	s.meters.bytes.Add(float64(r.bytes))
	return r, name, nil
}

// addForm takes the parts of a form: files, of which those that were not chosen have
// no name, and the name of the upload.
func (r *received) addForm(form *multipart.Reader, most int) (name string, err error) {
	for {
		part, err := form.NextRawPart()
		switch {
		case errors.Is(err, io.EOF):
			return name, nil
		case err != nil:
			return "", err
		case part.FormName() == "name":
			text, err := io.ReadAll(io.LimitReader(part, 1024))
			if err != nil {
				return "", err
			}
			name = strings.TrimSpace(string(text))
		case part.FormName() != "file":
			return "", problem.New(problem.UnknownParameter, "the form has a part %q", clip(part.FormName()))
		case fileName(part.Header.Get("Content-Disposition")) == "":
		default:
			if err := r.addPart(part, most); err != nil {
				return "", err
			}
		}
	}
}

// commonName is the folder that all files lie in, or the name of the only one; "" if
// there is neither.
func commonName(files []UploadFile) string {
	if len(files) == 1 && !strings.Contains(files[0].Name, "/") {
		return strings.TrimSuffix(files[0].Name, path.Ext(files[0].Name))
	}
	first := ""
	for i, f := range files {
		folder, _, ok := strings.Cut(f.Name, "/")
		if !ok || i > 0 && folder != first {
			return ""
		}
		first = folder
	}
	return first
}

// getDatasetPage shows an upload to people.
//
//	@Summary  An upload, what was found in it and what becomes of it, as a page
//	@Tags     pages
//	@Produce  html
//	@Param    id     path   string  true   "id of the dataset"
//	@Param    still  query  bool    false  "do not come again by itself while an analysis runs"
//	@Success  200  {string}  string
//	@Failure  404  {object}  problem.Details
//	@Failure  410  {object}  problem.Details
//	@Router   /datasets/{id} [get]
func (s *Server) getDatasetPage(c *gin.Context) error {
	ctx, scope := c.Request.Context(), whoIs(c).scope
	d, err := s.dataset(c)
	if err != nil {
		return err
	}
	season, err := s.store.Season(ctx, scope, d.SeasonID)
	if err != nil {
		return err
	}
	p := live.Dataset{
		Frame: page.Frame{Menu: s.menu(c, &season)}, Season: season.Name, Name: d.Name, Refused: d.State == store.DatasetRejected,
		Total: d.Errors + d.Warnings + d.Notes, All: "/v1/datasets/" + d.ID + "/findings?format=csv",
		Lines: []string{"Received " + d.CreatedAt.UTC().Format("2 January 2006, 15:04 UTC") + ": " + things(len(d.Files), "file", "files") + ", " + strconv.FormatInt(d.Bytes, 10) + " bytes."},
	}
	if p.Findings, err = s.findingsOf(ctx, d); err != nil {
		return err
	}
	slices.SortStableFunc(p.Findings, func(a, b wire.Finding) int { return severe(a) - severe(b) })
	n, err := s.becomes(c, d, season)
	if err != nil {
		return err
	}
	p.Frame.Notices = []page.Notice{n}
	if p.Refused {
		p.Form = s.uploadForm(c, season)
	}
	return s.showPage(c, keepChecking, p.Write)
}

func severe(f wire.Finding) int {
	return slices.Index([]string{"error", "warning", "note"}, f.Severity)
}

// becomes says what became of an upload, and leads to its pages.
func (s *Server) becomes(c *gin.Context, d store.Dataset, season store.Season) (page.Notice, error) {
	ctx, scope := c.Request.Context(), whoIs(c).scope
	if d.State == store.DatasetRejected {
		return page.Notice{Bad: true, Share: -1, Text: "This upload was refused: it has " + things(d.Errors, "error", "errors") + ", listed below. Nothing of it was taken over; correct the files and upload them again."}, nil
	}
	l, err := s.store.Analyses(ctx, scope, store.Filter{Datasets: []string{d.ID}}, store.Page{Limit: 1, Sort: "-created"})
	if err != nil {
		return page.Notice{}, err
	}
	if len(l.Rows) > 0 && !l.Rows[0].Over() {
		return s.progress(c, &l.Rows[0], "/datasets/"+d.ID), nil
	}
	latest, err := s.store.LatestResults(ctx, scope, season.ID)
	if err != nil {
		return page.Notice{}, err
	}
	if !slices.ContainsFunc(latest, func(r store.LatestResult) bool { return r.DatasetID == d.ID }) {
		n := page.Notice{Share: -1, Text: "This upload is accepted and waits to be analysed."}
		if len(l.Rows) > 0 {
			n.Bad, n.Text = true, "This upload could not be analysed."+s.reason(ctx, scope, l.Rows[0], d.ID)
		}
		if whoIs(c).may(records) {
			n.Button = &page.Button{Text: "Analyse it now", Action: "/datasets/" + d.ID}
		}
		return n, nil
	}
	links, err := s.pagesWith(ctx, scope, d, season)
	return page.Notice{Share: -1, Text: "Analysed. Its pages are ready:", Links: links}, err
}

// reason is why an analysis has no results of a dataset.
func (s *Server) reason(ctx context.Context, scope store.Scope, a store.Analysis, dataset string) string {
	parts, err := s.store.AnalysisDatasets(ctx, scope, a.ID)
	if err != nil {
		return ""
	}
	for _, p := range parts {
		if p.DatasetID == dataset && len(p.Problem) > 0 {
			return " " + detailOf(p.Problem)
		}
	}
	if len(a.Problem) > 0 {
		return " " + detailOf(a.Problem)
	}
	return ""
}

// pagesWith lists the pages on which a dataset shows.
func (s *Server) pagesWith(ctx context.Context, scope store.Scope, d store.Dataset, season store.Season) ([]page.Link, error) {
	p := &seasonPages{season: season}
	var out []page.Link
	l, err := s.store.Runs(ctx, scope, store.Filter{Datasets: []string{d.ID}}, store.Page{Limit: 1000})
	if err != nil {
		return nil, err
	}
	var events []string
	for _, r := range l.Rows {
		if !slices.Contains(events, r.Event) {
			events = append(events, r.Event)
			out = append(out, page.Link{Text: "Field day " + r.Event, Href: p.address(page.Target{Kind: page.EventPage, Event: r.Event}, "")})
		}
	}
	for _, r := range l.Rows {
		out = append(out, page.Link{Text: "Run " + r.Run, Href: p.address(page.Target{Kind: page.RunPage, Dataset: d.Name, Run: r.Run}, "")})
	}
	return append(out, page.Link{Text: "Season " + season.Name, Href: p.address(page.Target{Kind: page.SeasonPage}, "")}), nil
}
