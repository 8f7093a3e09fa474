package api

import (
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"
)

// right is what a caller must have to use a route.
type right uint8

// The rights. A key's role gives its own and those before it.
const (
	nobody  right = iota // the zero route is closed
	anyone               // without a key
	reads                // a reader; without a key published seasons, where the operator allows it
	records              // a recorder
	manages              // a manager
)

// kind is how a route is bounded in time, and what it takes.
type kind uint8

// The kinds of route.
const (
	plain  kind = iota // a short answer
	export             // an answer that may be large
	stream             // an event stream
	upload             // a large body
	waits              // an answer that Prefer: wait may hold back
)

// route is a line of the table of routes.
type route struct {
	method, path string
	right        right
	kind         kind
	parameters   []string // of the address, besides those in its path; others are refused
	do           func(*gin.Context) error
}

// with joins lists of parameters.
func with(lists ...[]string) []string {
	var out []string
	for _, l := range lists {
		out = append(out, l...)
	}
	return out
}

// routes is the table of routes: what is not in it is not served.
func (s *Server) routes() []route {
	get, post, patch, del := http.MethodGet, http.MethodPost, http.MethodPatch, http.MethodDelete
	var (
		none   []string
		paging = []string{"limit", "cursor", "sort"}
		times  = []string{"from", "to", "changed_since"}
		page   = []string{"units", "still"}
		shape  = []string{"limit", "cursor", "count", "format", "shape", "bom"}
		table  = with(shape, []string{"units"}, columnFilters)
	)
	return []route{
		{get, "/v1/seasons", reads, plain, with(paging, []string{"season", "changed_since"}), s.listSeasons},
		{post, "/v1/seasons", manages, plain, none, s.createSeason},
		{get, "/v1/seasons/:id", reads, plain, none, s.getSeason},
		{patch, "/v1/seasons/:id", manages, plain, none, s.patchSeason},
		{del, "/v1/seasons/:id", manages, plain, none, s.deleteSeason},
		{get, "/v1/seasons/:id/events", reads, plain, with(paging, times, []string{"event"}), s.listEvents},
		{post, "/v1/seasons/:id/events", manages, plain, none, s.createEvent},
		{get, "/v1/events/:id", reads, plain, none, s.getEvent},
		{patch, "/v1/events/:id", manages, plain, none, s.patchEvent},
		{del, "/v1/events/:id", manages, plain, none, s.deleteEvent},

		{get, "/v1/datasets", reads, plain, with(paging, times, []string{"season", "event", "dataset", "state"}), s.listDatasets},
		{post, "/v1/datasets", records, upload, []string{"season", "event", "name", "dry_run"}, s.createDataset},
		{get, "/v1/datasets/:id", reads, plain, none, s.getDataset},
		{del, "/v1/datasets/:id", manages, plain, none, s.deleteDataset},
		{get, "/v1/datasets/:id/findings", reads, export, with(shape, []string{"severity", "code", "file"}), s.getFindings},

		{get, "/v1/analyses", reads, plain, with(paging, times, []string{"season", "dataset", "state"}), s.listAnalyses},
		{post, "/v1/analyses", records, waits, none, s.createAnalysis},
		{get, "/v1/analyses/:id", reads, plain, none, s.getAnalysis},
		{del, "/v1/analyses/:id", records, plain, none, s.dismissAnalysis},
		{get, "/v1/analyses/:id/events", reads, stream, none, s.getProgress},
		{get, "/v1/analyses/:id/explain", reads, export, []string{"key", "units"}, s.getExplanation},
		{get, "/v1/analyses/:id/r-script", reads, export, none, s.getRScript},
		{get, "/v1/analyses/:id/:table", reads, export, table, s.getTable},
		{get, "/v1/results/:table", reads, export, with(table, []string{"season"}), s.getResults},
		{post, "/v1/analyze", records, upload, []string{"name", "table", "format", "units", "zone", "level", "threshold_share", "smoothing_s", "final_min", "reference", "models"}, s.analyze},

		{get, "/v1/reports/:id", reads, export, []string{"kind", "season", "event", "dataset", "run", "units", "format", "figures"}, s.getReport},

		{get, "/v1/runs", reads, plain, with(paging, times, []string{"season", "event", "dataset", "run"}), s.listRuns},
		{get, "/v1/runs/:id", reads, plain, none, s.getRun},
		{get, "/v1/plots", reads, plain, with(paging, []string{"season", "event", "dataset", "run", "plot", "treatment", "changed_since"}), s.listPlots},
		{get, "/v1/plots/:id", reads, plain, none, s.getPlot},
		{patch, "/v1/plots/:id", manages, plain, none, s.patchPlot},
		{get, "/v1/samples", reads, export, []string{"limit", "cursor", "season", "event", "dataset", "run", "plot", "treatment", "stream"}, s.listSamples},
		{get, "/v1/samples/:id", reads, export, none, s.getSample},
		{get, "/v1/treatments", reads, plain, with(paging, []string{"season", "event", "dataset", "treatment"}), s.listTreatments},
		{get, "/v1/treatments/:id", reads, plain, none, s.getTreatment},
		{get, "/v1/calibrations", reads, plain, with(paging, times, []string{"season", "event", "dataset"}), s.listCalibrations},
		{get, "/v1/calibrations/:id", reads, plain, none, s.getCalibration},

		{get, "/v1/metrics", anyone, plain, none, s.listMetrics},
		{get, "/v1/units", anyone, plain, none, s.listUnits},
		{get, "/v1/error-codes", anyone, plain, none, s.listErrorCodes},
		{get, "/v1/schemas/:table", anyone, plain, []string{"units"}, s.getSchema},
		{get, "/v1/limits", anyone, plain, none, s.listLimits},

		{get, "/v1/keys", manages, plain, paging, s.listKeys},
		{post, "/v1/keys", manages, plain, none, s.createKey},
		{del, "/v1/keys/:id", manages, plain, none, s.revokeKey},

		{get, "/", reads, plain, none, s.listPages},
		{post, "/seasons", manages, plain, none, s.takeSeason},
		{get, "/seasons/:id", reads, export, page, s.getSeasonPage},
		{get, "/seasons/:id/event", reads, export, with(page, []string{"event", "season"}), s.getEventPage},
		{get, "/seasons/:id/run", reads, export, with(page, []string{"dataset", "run"}), s.getRunPage},
		{get, "/seasons/:id/why", reads, export, []string{"key", "to"}, s.getWhy},
		{get, "/seasons/:id/uploads", reads, plain, []string{"still"}, s.getUploads},
		{post, "/seasons/:id/uploads", records, upload, none, s.takeUpload},
		{get, "/datasets/:id", reads, plain, []string{"still"}, s.getDatasetPage},
		{post, "/datasets/:id", records, plain, none, s.takeAnalysis},
		{get, "/sign-in", anyone, plain, []string{"to"}, s.getSignIn},
		{post, "/sign-in", anyone, plain, none, s.takeSignIn},

		{get, "/v1/openapi.json", anyone, plain, none, s.getDocument},
		{get, "/docs", anyone, plain, none, s.getDocs},
		{get, "/docs/errors", anyone, plain, none, s.getErrorsPage},
		{get, "/docs/assets/:file", anyone, plain, none, s.getDocsFile},
		{get, "/healthz", anyone, plain, none, s.healthz},
		{get, "/readyz", anyone, plain, none, s.readyz},
	}
}

// Route is what the table of routes says of one route, for who documents it.
type Route struct {
	Method, Path string   // the path with names in braces
	Needs        string   // nothing, reader, recorder or manager
	Parameters   []string // of the address
}

// Routes lists the routes in the order of the table.
func Routes() []Route {
	words := map[right]string{anyone: "nothing", reads: "reader", records: "recorder", manages: "manager"}
	var out []Route
	for _, r := range (&Server{}).routes() {
		parts := strings.Split(r.path, "/")
		for i, p := range parts {
			if strings.HasPrefix(p, ":") {
				parts[i] = "{" + p[1:] + "}"
			}
		}
		out = append(out, Route{r.method, strings.Join(parts, "/"), words[r.right], r.parameters})
	}
	return out
}
