package api

import (
	"bytes"
	"context"
	"errors"
	"net/http"
	"os"
	"path"
	"strings"

	"github.com/gin-gonic/gin"
	"github.com/google/uuid"

	"sheetwash/api/problem"
	"sheetwash/api/store"
	"sheetwash/api/wire"
)

// target is where an upload goes.
type target struct {
	season store.Season
	event  string // id; "": of no event
	name   string // "": not said
	dry    bool
}

// targetOf reads where an upload goes. Season and event are named by id or name.
func (s *Server) targetOf(c *gin.Context) (target, error) {
	q := queryOf(c)
	t := target{name: q.word("name"), dry: q.flag("dry_run")}
	season, event := q.word("season"), q.word("event")
	if q.err != nil {
		return t, q.err
	}
	if season == "" && t.dry {
		return t, properName("name", t.name, false)
	}
	if season == "" {
		return t, problem.New(problem.MalformedRequest, "season is missing: say by its id or name where the dataset goes")
	}
	ctx, scope := c.Request.Context(), whoIs(c).scope
	var err error
	if t.season, err = s.seasonBy(ctx, scope, season); err != nil {
		return t, err
	}
	if event == "" {
		return t, properName("name", t.name, false)
	}
	l, err := s.store.Events(ctx, scope, store.Filter{Seasons: []string{t.season.ID}, Events: []string{event}}, store.Page{Limit: 2})
	if err != nil {
		return t, err
	}
	if len(l.Rows) != 1 {
		return t, missing("event", event, len(l.Rows))
	}
	t.event = l.Rows[0].ID
	if t.name == "" {
		t.name = l.Rows[0].Name
	}
	return t, properName("name", t.name, false)
}

// seasonBy returns the season with an id or a name.
func (s *Server) seasonBy(ctx context.Context, scope store.Scope, word string) (store.Season, error) {
	if uuid.Validate(word) == nil {
		r, err := s.store.Season(ctx, scope, word)
		if errors.Is(err, store.ErrNotFound) {
			err = missing("season", word, 0)
		}
		return r, err
	}
	l, err := s.store.Seasons(ctx, scope, store.Filter{}, store.Page{Limit: 2, Sort: "name", After: []string{word, ""}})
	if err != nil {
		return store.Season{}, err
	}
	found := 0
	for _, r := range l.Rows {
		if r.Name == word {
			found++
		}
	}
	if found != 1 {
		return store.Season{}, missing("season", word, found)
	}
	return l.Rows[0], nil
}

func missing(what, word string, found int) error {
	if found > 1 {
		return problem.New(problem.MalformedRequest, "several are called %q; give the id of the %s", clip(word), what)
	}
	return problem.New(problem.NotFound, "there is no %s %q", what, clip(word))
}

// finish gives the upload its name and zone.
func (r *received) finish(t target) {
	r.Zone = t.season.TimeZone
	switch {
	case t.name != "":
		r.Name = t.name
	case r.named != "" && r.named != "." && r.named != "/":
		r.Name = strings.TrimSuffix(r.named, path.Ext(r.named))
	default:
		r.Name = "dataset-" + r.sha256[:8]
	}
}

// storeUpload keeps an upload: its bytes first, then its record in one transaction with
// the answer.
func (s *Server) storeUpload(c *gin.Context, r *received, t target) error {
	claim, err := s.begin(c, []byte(r.sha256))
	if claim == nil || err != nil {
		return err
	}
	defer claim.close(c.Request.Context())
	d, rows, err := s.keep(c.Request.Context(), r, t)
	if err != nil {
		return err
	}
	d.CreatedBy = whoIs(c).signed()
	a, err := claim.do(c.Request.Context(), func(tx *store.Tx) (answer, error) { return s.record(c, tx, d, rows) })
	if err != nil {
		return err
	}
	s.meters.uploads.WithLabelValues(map[bool]string{true: "accepted", false: "rejected"}[a.status < 300]).Inc()
	return s.give(c, a)
}

// keep checks an upload and keeps its bytes. If the same bytes are there already,
// it returns their record without a second check.
func (s *Server) keep(ctx context.Context, r *received, t target) (store.Dataset, store.DatasetRows, error) {
	first, err := s.store.DatasetByDigest(ctx, store.Everything, t.season.ID, t.event, r.sha256)
	if err == nil {
		return first, store.DatasetRows{}, nil
	}
	if !errors.Is(err, store.ErrNotFound) {
		return first, store.DatasetRows{}, err
	}
	checked, err := s.engine.Check(ctx, r.Upload)
	if err != nil {
		return store.Dataset{}, store.DatasetRows{}, err
	}
	d := store.Dataset{
		SeasonID: t.season.ID, EventID: t.event, Name: r.Name, SHA256: r.sha256, Bytes: r.bytes, State: store.DatasetAccepted,
		Errors: checked.Counts.Errors, Warnings: checked.Counts.Warnings, Notes: checked.Counts.Notes,
	}
	if d.Errors > 0 {
		d.State, checked.Rows = store.DatasetRejected, store.DatasetRows{}
		s.count(checked.Findings)
	}
	if err := s.keepBytes(ctx, r, checked, &d); err != nil {
		return d, checked.Rows, err
	}
	return d, checked.Rows, nil
}

// keepBytes puts the files and what was found in them where they last.
func (s *Server) keepBytes(ctx context.Context, r *received, checked *Checked, d *store.Dataset) error {
	for _, f := range r.Files {
		if err := s.keepFile(ctx, f); err != nil {
			return err
		}
		d.Files = append(d.Files, store.File{Name: f.Name, SHA256: f.SHA256, Bytes: f.Bytes})
	}
	kept, err := s.blobs.Put(ctx, bytes.NewReader(findingRows(checked.Findings)))
	if err != nil {
		return err
	}
	d.FindingsBlob = kept.Digest
	if len(checked.Calibrations) == 0 {
		return nil
	}
	kept, err = s.blobs.Put(ctx, bytes.NewReader(checked.Calibrations))
	d.CalibrationsBlob = kept.Digest
	return err
}

func (s *Server) keepFile(ctx context.Context, f UploadFile) error {
	file, err := os.Open(f.Path)
	if err != nil {
		return err
	}
	defer file.Close()
	kept, err := s.blobs.Put(ctx, file)
	if err == nil && kept.Digest != f.SHA256 {
		err = errors.New("a file changed between its check and its storage")
	}
	return err
}

// record writes the record of an upload and says what is answered.
func (s *Server) record(c *gin.Context, tx *store.Tx, d store.Dataset, rows store.DatasetRows) (answer, error) {
	first := d.ID != ""
	fresh := false
	var err error
	if !first {
		if d.Name, err = freeName(c.Request.Context(), tx, d); err != nil {
			return answer{}, err
		}
		if d, fresh, err = tx.InsertDataset(c.Request.Context(), whoIs(c).scope, d, rows); err != nil {
			return answer{}, err
		}
	}
	if d.State == store.DatasetRejected {
		return s.refusal(c, d)
	}
	if fresh {
		return s.made(c, tx, audit{"dataset.create", d.SeasonID, d.ID, d.SHA256}, "/v1/datasets/"+d.ID, showDataset(d))
	}
	return answer{http.StatusOK, map[string]string{"Location": "/v1/datasets/" + d.ID}, showDataset(d)}, nil
}

// freeName is the name of a new dataset: its own, or with the start of its digest
// where another dataset of the season has it, since result rows name datasets.
func freeName(ctx context.Context, tx *store.Tx, d store.Dataset) (string, error) {
	f := store.Filter{Seasons: []string{d.SeasonID}, States: []string{store.DatasetAccepted}}
	l, err := tx.Datasets(ctx, store.Everything, f, store.Page{Limit: 1, Sort: "name", After: []string{d.Name, ""}})
	if err != nil || len(l.Rows) == 0 || l.Rows[0].Name != d.Name {
		return d.Name, err
	}
	return d.Name + "-" + d.SHA256[:8], nil
}

// refusal is the answer to an upload with errors, which is kept with its findings.
func (s *Server) refusal(c *gin.Context, d store.Dataset) (answer, error) {
	findings, err := s.findingsOf(c.Request.Context(), d)
	if err != nil {
		return answer{}, err
	}
	at := "/v1/datasets/" + d.ID
	e := rejected(findings, wire.Counts{Errors: d.Errors, Warnings: d.Warnings, Notes: d.Notes}, d.Name)
	e.Links = map[string]string{"dataset": at, "findings": at + "/findings"}
	return answer{
		problem.KindOf(problem.DataRejected).Status,
		map[string]string{"Content-Type": problem.MediaType, "Location": at}, e.Details(c.Request.URL.Path, requestID(c)),
	}, nil
}

// count counts the codes of findings that refused an upload.
func (s *Server) count(findings []wire.Finding) {
	for _, f := range findings {
		if f.Severity == "error" {
			s.meters.refused.WithLabelValues(f.Code).Inc()
		}
	}
}

// findingRows encodes findings as rows of the table of findings: one a line.
func findingRows(findings []wire.Finding) []byte {
	var b bytes.Buffer
	for _, f := range findings {
		line, err := encode(f)
		if err == nil { // a finding always encodes
			b.Write(line)
		}
	}
	return b.Bytes()
}
