package api

import (
	"github.com/gin-gonic/gin"

	"sheetwash/analysis/result"
	"sheetwash/api/problem"
	"sheetwash/api/report"
	"sheetwash/api/wire"
)

// whole answers with a list that is always told as a whole.
func whole[T any](s *Server, c *gin.Context, all []T) error {
	return s.ok(c, wire.List[T]{
		Data: all, Page: wire.Page{Returned: len(all), Limit: len(all), Complete: true}, Links: wire.Links{"self": c.Request.URL.Path},
	}, keepChecking)
}

// listMetrics lists the catalogue of metrics.
//
//	@Summary  The metrics with their units, definitions and methods
//	@Tags     vocabulary
//	@Produce  json
//	@Success  200  {object}  wire.List[wire.Metric]
//	@Router   /v1/metrics [get]
func (s *Server) listMetrics(c *gin.Context) error {
	var out []wire.Metric
	for _, m := range result.Catalogue() {
		kind := map[result.Kind]string{result.Plain: "plain", result.Skewed: "skewed", result.TimeToEvent: "time_to_event"}[m.Kind]
		page, methods := methodsOf(m.ID)
		out = append(out, wire.Metric{
			ID: string(m.ID), Name: m.Name, Of: m.Of, Unit: m.SI, UnitUS: m.US, Replicates: kind,
			Definition: m.Definition, Methods: methods, Page: page,
		})
	}
	return whole(s, c, out)
}

// listUnits lists the units of the result tables.
//
//	@Summary  The units of the result tables, and what becomes of them with units=us
//	@Tags     vocabulary
//	@Produce  json
//	@Success  200  {object}  wire.List[wire.Unit]
//	@Router   /v1/units [get]
func (s *Server) listUnits(c *gin.Context) error {
	var out []wire.Unit
	seen := map[string]bool{"": true}
	for _, si := range unitsInUse() {
		if seen[si] {
			continue
		}
		seen[si] = true
		factor, word, err := report.US.Convert(1, si)
		if err != nil {
			return err
		}
		out = append(out, wire.Unit{Unit: si, US: word, Factor: factor})
	}
	return whole(s, c, out)
}

// unitsInUse lists the units of metrics and of columns; some stand twice.
func unitsInUse() (out []string) {
	for _, m := range result.Catalogue() {
		out = append(out, m.SI)
	}
	for _, t := range report.Tables(report.SI) {
		for _, col := range t.Columns {
			out = append(out, col.Unit)
		}
	}
	return out
}

// listErrorCodes lists the codes of problems.
//
//	@Summary  The codes of errors, when each happens and what to do
//	@Tags     vocabulary
//	@Produce  json
//	@Success  200  {object}  wire.List[wire.ErrorCode]
//	@Router   /v1/error-codes [get]
func (s *Server) listErrorCodes(c *gin.Context) error {
	var out []wire.ErrorCode
	for _, k := range problem.Kinds() {
		out = append(out, wire.ErrorCode{
			Code: string(k.Code), Status: k.Status, Title: k.Title, Retryable: k.Retryable,
			Meaning: k.Meaning, Remedy: k.Remedy, Page: problem.Page + "#" + string(k.Code),
		})
	}
	return whole(s, c, out)
}

// listLimits lists the limits of this server.
//
//	@Summary  The limits of this server
//	@Tags     vocabulary
//	@Produce  json
//	@Success  200  {object}  wire.List[wire.Limit]
//	@Router   /v1/limits [get]
func (s *Server) listLimits(c *gin.Context) error { return whole(s, c, s.limits.list()) }

// getSchema returns the schema of a result table.
//
//	@Summary  The columns of a result table, as a Table Schema with UCUM units
//	@Tags     vocabulary
//	@Produce  json
//	@Param    table  path      string  true   "name of the table"  Enums(findings, hydrograph, plot_results, fits, treatment_results, comparisons, calibrations)
//	@Param    units  query     string  false  "si (default) or us"  Enums(si, us)
//	@Success  200  {object}  wire.TableSchema
//	@Failure  404  {object}  problem.Details
//	@Router   /v1/schemas/{table} [get]
func (s *Server) getSchema(c *gin.Context) error {
	q := queryOf(c)
	units := q.units()
	if q.err != nil {
		return q.err
	}
	t, ok := s.tables.find(c.Param("table"), units)
	if !ok {
		return noTable(c.Param("table"))
	}
	return s.ok(c, schemaOf(t, units), keepChecking)
}

// schemaOf describes a table.
func schemaOf(t report.Table, u report.Units) wire.TableSchema {
	out := wire.TableSchema{
		Name: t.Name, Row: t.Per, Units: u.String(), Missing: []string{""},
		CSVGuard: "text columns: one apostrophe stands before text that matches ^'*[=+\\-@\\t\\r]; take it away to have the text",
	}
	for _, col := range t.Columns {
		out.Fields = append(out.Fields, wire.SchemaField{
			Name: col.Name, Type: col.Kind.String(), Description: col.Meaning, Unit: col.Unit, UnitInRow: col.ByRow,
			Constraints: wire.Constraints{Required: !col.Optional},
		})
	}
	return out
}

// units is the system of units that is wanted.
func (q *query) units() report.Units {
	if q.choice("units", "si", "us") == "us" {
		return report.US
	}
	return report.SI
}

func noTable(name string) error {
	var names []string
	for _, t := range report.Tables(report.SI) {
		names = append(names, t.Name)
	}
	return problem.New(problem.NotFound, "there is no result table %q; there is %s", clip(name), listed(names))
}
