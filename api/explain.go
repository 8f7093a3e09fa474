package api

import (
	"bytes"
	"encoding/json"

	"github.com/gin-gonic/gin"

	"sheetwash/api/problem"
	"sheetwash/api/report"
)

// mediaR is the type of a script of R.
const mediaR = "text/plain; charset=utf-8"

// getExplanation tells how a value came about.
//
//	@Summary      How a value of the result tables came about
//	@Description  A tree down to the cells that were read, with equations that can be evaluated: the same as sheetwash explain --json prints. It is made from the bytes of the datasets, which are read anew. A key that no row has answers 404 with those that are most like it.
//	@Tags         results
//	@Produce      json
//	@Param        id     path   string  true   "id of the analysis"
//	@Param        key    query  string  true   "the table and the key columns of the row, joined by slashes; %2F and %25 for a slash and a percent sign within a value"
//	@Param        units  query  string  false  "si or us: of the value; the tree below it is in SI"  Enums(si, us)
//	@Success      200  {object}  object
//	@Failure      404  {object}  problem.Details
//	@Router       /v1/analyses/{id}/explain [get]
func (s *Server) getExplanation(c *gin.Context) error {
	q := queryOf(c)
	key, units := q.word("key"), q.units()
	if key == "" {
		q.fail(problem.MalformedRequest, "key is missing: say which row is to be explained, such as plot_results/DATASET/RUN/PLOT/METRIC/METHOD")
	}
	if q.err != nil {
		return q.err
	}
	a, err := s.finished(c.Request.Context(), whoIs(c).scope, c.Param("id"))
	if err != nil {
		return err
	}
	n, err := s.engine.Explain(c.Request.Context(), a, key, units)
	if err != nil {
		return err
	}
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(&n); err != nil {
		return err
	}
	return s.send(c, asJSON.media, b.Bytes(), tagOf(b.Bytes()), keepChecking)
}

// getRScript returns a second opinion on the treatments of an analysis.
//
//	@Summary      A script of R that computes treatment results and comparisons again
//	@Description  Run it in a folder with the tables plot_results, treatment_results and comparisons of the same analysis as csv in SI units, under the names plot_results.csv and so on; the Link headers say where they are. It needs base R and the package survival, writes second_opinion.csv and says how far the two agree.
//	@Tags         results
//	@Produce      plain
//	@Param        id   path      string  true  "id of the analysis"
//	@Success      200  {string}  string  "the script"
//	@Failure      404  {object}  problem.Details
//	@Router       /v1/analyses/{id}/r-script [get]
func (s *Server) getRScript(c *gin.Context) error {
	a, err := s.finished(c.Request.Context(), whoIs(c).scope, c.Param("id"))
	if err != nil {
		return err
	}
	script, err := s.engine.RScript(c.Request.Context(), a)
	if err != nil {
		return err
	}
	for _, table := range []string{"plot_results", "treatment_results", "comparisons"} {
		c.Writer.Header().Add("Link", "</v1/analyses/"+a.ID+"/"+table+"?format="+asCSV.name+"&units="+report.SI.String()+`>; rel="related"; title="`+table+`.csv"`)
	}
	c.Header("Content-Disposition", `attachment; filename="second_opinion.R"`)
	return s.send(c, mediaR, script, tagOf(script), keepChecking)
}
