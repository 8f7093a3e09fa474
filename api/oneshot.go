package api

import (
	"bytes"
	"context"
	"encoding/json"
	"net/http"
	"strconv"

	"github.com/gin-gonic/gin"

	"sheetwash/analysis/result"
	"sheetwash/api/problem"
	"sheetwash/api/report"
	"sheetwash/api/wire"
)

// analyze computes the results of the data in the body and keeps nothing.
//
//	@Summary      Analyse one dataset at once and keep nothing
//	@Description  The body is as for POST /v1/datasets. Without table the answer is JSON with all seven tables; with table it is that table in any of the formats. Data with errors are answered with 422 and the findings.
//	@Tags         analyses
//	@Accept       multipart/form-data
//	@Produce      json
//	@Param        file             formData  file    true   "the files; the part may be called anything and repeats"
//	@Param        name             query     string  false  "name of the dataset, which result rows carry"
//	@Param        table            query     string  false  "one table alone"  Enums(findings, hydrograph, plot_results, fits, treatment_results, comparisons, calibrations)
//	@Param        format           query     string  false  "of one table; goes before Accept"  Enums(json, csv, arrow, parquet)
//	@Param        units            query     string  false  "si (default) or us"  Enums(si, us)
//	@Param        zone             query     string  false  "IANA name of the time zone of clock times without an offset; default UTC"
//	@Param        level            query     number  false  "of intervals, 0.80 to 0.99; default 0.95"
//	@Param        threshold_share  query     number  false  "share of the intensity that the runoff rate passes"
//	@Param        smoothing_s      query     number  false  "window of the slope of a logged channel, s"
//	@Param        final_min        query     number  false  "window of the final runoff rate, min"
//	@Param        reference        query     string  false  "treatment that the others are compared with"
//	@Param        models           query     boolean  false  "fit every infiltration model"
//	@Success      200  {object}  wire.Results
//	@Failure      422  {object}  problem.Details
//	@Router       /v1/analyze [post]
func (s *Server) analyze(c *gin.Context) error {
	w, err := s.oneShotWishes(c)
	if err != nil {
		return err
	}
	return s.withUpload(c, target{name: w.name}, func(r *received) error {
		r.Zone = w.zone
		checked, a, err := s.engine.Analyse(c.Request.Context(), r.Upload, w.settings)
		if err != nil {
			return err
		}
		if a == nil {
			return rejected(checked.Findings, checked.Counts, r.Name)
		}
		return s.results(c, a, w)
	})
}

// rejected tells that data have errors.
func rejected(findings []wire.Finding, n wire.Counts, name string) *problem.Error {
	return problem.Rejected(findings, n.Errors+n.Warnings+n.Notes, "%d errors were found in %q; nothing of it is analysed", n.Errors, clip(name))
}

// oneShot is what a caller wants of a one-shot analysis.
type oneShot struct {
	name, zone, table string
	settings          json.RawMessage
	units             report.Units
	format            format
}

func (s *Server) oneShotWishes(c *gin.Context) (oneShot, error) {
	q := queryOf(c)
	w := oneShot{name: q.word("name"), zone: q.word("zone"), table: q.word("table"), units: q.units()}
	offered := tableFormats
	if w.table == "" {
		offered = tableFormats[:1]
	} else if _, ok := s.tables.find(w.table, report.SI); !ok {
		return w, noTable(w.table)
	}
	var err error
	if w.format, err = negotiate(c.Request, q, offered); err != nil {
		return w, err
	}
	in := wire.Settings{Level: q.number("level"), ThresholdShare: q.number("threshold_share"), SmoothingS: q.number("smoothing_s"), FinalMin: q.number("final_min"), Reference: q.word("reference"), Models: q.flag("models")}
	if q.err != nil {
		return w, q.err
	}
	if w.settings, err = s.properSettings(&in); err != nil {
		return w, err
	}
	if _, err := properZone(w.zone); err != nil {
		return w, err
	}
	return w, properName("name", w.name, false)
}

// number returns a number; nil if it is not given.
func (q *query) number(name string) *float64 {
	text := q.word(name)
	if _, given := q.values[name]; !given {
		return nil
	}
	v, err := strconv.ParseFloat(text, 64)
	if err != nil {
		q.fail(problem.MalformedRequest, "%s=%q is not a number", name, clip(text))
	}
	return &v
}

// results answers with one table, or with all of them.
func (s *Server) results(c *gin.Context, a *result.Analysis, w oneShot) error {
	var b bytes.Buffer
	media := w.format.media
	var err error
	switch {
	case w.table == "":
		err = writeAll(c.Request.Context(), &b, a, w.units)
	case w.format == asArrow:
		err = writeStream(&b, a, w.table, w.units)
	default:
		err = report.Write(&b, a, w.table, report.Options{Format: report.Format(w.format.name), Units: w.units, Workers: 1})
	}
	if err != nil {
		return err
	}
	c.Header("Content-Type", media)
	c.Header("Content-Length", strconv.Itoa(b.Len()))
	c.Header("Cache-Control", keepNever)
	c.Status(http.StatusOK)
	_, _ = c.Writer.Write(b.Bytes()) // a caller who has gone needs no answer
	return nil
}

// writeAll writes the seven tables as one object, each as in the JSON files of the
// command line.
func writeAll(ctx context.Context, b *bytes.Buffer, a *result.Analysis, u report.Units) error {
	b.WriteString(`{"units":"` + u.String() + `"`)
	for _, t := range report.Tables(u) {
		if err := ctx.Err(); err != nil {
			return err
		}
		b.WriteString(`,"` + t.Name + `":`)
		if err := report.Write(b, a, t.Name, report.Options{Format: report.JSON, Units: u, Workers: 1}); err != nil {
			return err
		}
	}
	b.WriteString("}\n")
	return nil
}
