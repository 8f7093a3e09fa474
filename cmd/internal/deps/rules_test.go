package deps

// rule is what one package, or everything below a path that ends in /..., may
// import. The standard library is free to all.
type rule struct {
	pkg    string   // path below the module
	ours   []string // packages of ours; a path that ends in /... allows what is below it as well
	others []string // modules of others, by the start of the import path
	reason string
}

// Modules of others, each with the packages that may have it.
const (
	arrow       = "github.com/apache/arrow/go/v17"
	cobra       = "github.com/spf13/cobra"
	compression = "github.com/klauspost/compress"
	errgroup    = "golang.org/x/sync/errgroup"
	flight      = "golang.org/x/sync/singleflight"
	gonum       = "gonum.org/v1/gonum"
	edits       = "github.com/agnivade/levenshtein"
	lru         = "github.com/hashicorp/golang-lru/v2"
	gonumPlot   = "gonum.org/v1/plot"
	lz4         = "github.com/pierrec/lz4/v4"
	montana     = "github.com/montanaflynn/stats"
	pretty      = "github.com/jedib0t/go-pretty/v6"
	progressBar = "github.com/schollz/progressbar/v3"
	xsys        = "golang.org/x/sys"
	xterm       = "golang.org/x/term"
	xtext       = "golang.org/x/text"
	xlsx        = "github.com/xuri/excelize/v2"
	xlsxFormats = "github.com/xuri/nfp"
	yaml        = "go.yaml.in/yaml/v3"
	xtime       = "golang.org/x/time"
	swaggerPage = "github.com/swaggo/files/v2"
	environment = "github.com/caarlos0/env/v11"
	prometheus  = "github.com/prometheus/client_golang"
	gin         = "github.com/gin-gonic/gin"
	flock       = "github.com/gofrs/flock"
	gocloud     = "gocloud.dev"
	goose       = "github.com/pressly/goose/v3"
	pgx         = "github.com/jackc/pgx/v5"
	river       = "github.com/riverqueue/river"
	sqlite      = "modernc.org/sqlite"
	uuid        = "github.com/google/uuid"
	rapid       = "pgregory.net/rapid"
	chromedp    = "github.com/chromedp"
	xnet        = "golang.org/x/net"
)

// table is who may import whom, in the order in which data meets the packages.
var table = []rule{
	{"analysis/quantity", nil, nil, "a leaf that everything may import"},
	{"ingest/issue", nil, nil, "a leaf that every reader reports through"},
	{"ingest/schema", nil, nil, "the data dictionary as data"},
	{"analysis/experiment", []string{"analysis/quantity"}, nil, "the domain knows units and nothing of files or methods"},
	{"analysis/result", []string{"analysis/quantity", "analysis/experiment"}, nil, "the shape of an answer, computed elsewhere"},

	{"ingest/table", []string{"ingest/issue"}, []string{xlsx, xlsxFormats, compression, xtext}, "bytes to cells; the one reader of workbooks"},
	{"ingest/columnar", []string{"ingest/issue", "ingest/table"}, []string{arrow, compression, lz4, xsys}, "Arrow behind one package, so that its successor is a change of one package"},
	{"ingest/units", []string{"analysis/quantity", "ingest/issue", "ingest/schema"}, nil, "spellings of units; the arithmetic is that of quantity"},
	{"ingest/mapping", []string{"analysis/quantity", "ingest/issue", "ingest/schema", "ingest/table", "ingest/units"}, []string{yaml, edits}, "which column plays which role"},
	{"ingest/readings", []string{"analysis/experiment", "analysis/quantity", "ingest/issue", "ingest/mapping", "ingest/schema", "ingest/table", "ingest/units"}, nil, "loggers, reduced while they stream"},
	{"ingest/readings/...", []string{"analysis/experiment", "analysis/quantity", "ingest/..."}, nil, "logger files for benchmarks"},
	{"ingest/rig", []string{"analysis/experiment", "analysis/quantity", "ingest/issue", "ingest/units"}, []string{yaml}, "the profile of a simulator; every band of a rule comes from it"},
	{"ingest/check", []string{"analysis/experiment", "analysis/quantity", "ingest/issue", "ingest/schema", "ingest/mapping", "ingest/rig", "ingest/table", "ingest/units"}, nil, "rules on decoded tables; no file is opened here"},
	{"ingest", []string{"analysis/experiment", "analysis/quantity", "ingest/..."}, []string{yaml, errgroup}, "joins the readers; imports the domain but no method, so that mathematics never meets a file"},

	{"analysis/derivation", []string{"analysis/quantity"}, []string{edits}, "how a value came about: a leaf that methods fill in"},
	{"analysis/water", []string{"analysis/quantity"}, nil, "properties of water, a leaf"},
	{"analysis/internal/...", []string{"analysis/internal/student"}, []string{gonum}, "numerical tools that know nothing of plots"},
	{"analysis/rainfall", methods, []string{gonum}, methodReason},
	{"analysis/hydrograph", methods, []string{gonum}, methodReason},
	{"analysis/infiltration", methods, []string{gonum}, methodReason},
	{"analysis/erosion", methods, []string{gonum}, methodReason},
	{"analysis/balance", methods, []string{gonum}, methodReason},
	{"analysis/inference", []string{"analysis/quantity", "analysis/result", "analysis/internal/..."}, []string{gonum, lru, montana}, "statistics on plain numbers; it never sees a plot"},
	{"analysis/season", []string{"analysis/derivation", "analysis/inference", "analysis/experiment", "analysis/quantity", "analysis/result"}, nil, "groups results; it never sees a bottle"},
	{"analysis/simulate", []string{"analysis/quantity"}, nil, "forward physics that shares no code with the estimators it tests"},
	{"analysis/analysistest", []string{"analysis/quantity", "analysis/experiment", "analysis/result", "analysis/internal/..."}, nil, "reference cases, for tests only"},
	{"analysis", []string{"analysis/..."}, []string{errgroup}, "the only package that sees all methods; never a reader or a writer"},

	{"api/report", []string{"analysis/quantity", "analysis/experiment", "analysis/result", "ingest/columnar"}, nil, "results to files; Arrow through the one package that has it"},
	{"api/report/rscript", []string{"analysis/result", "analysis/season"}, nil, "a script that computes the season again; never runs it"},
	{"api/report/words", []string{"analysis/quantity", "analysis/result", "api/report"}, nil, "results in plain words, for the terminal and the pages"},
	{"api/report/figure", []string{"analysis/quantity"}, []string{gonumPlot, xtext}, "draws what it is given; knows no result"},
	{"api/report/page", []string{"analysis/derivation", "analysis/experiment", "analysis/inference", "analysis/infiltration", "analysis/quantity", "analysis/result", "api/report", "api/report/figure", "api/report/words"}, nil, "pages of results; of the methods only the curves that it draws"},
	{"api/report/page/pagetest", []string{"analysis/result", "api/report"}, []string{chromedp, xnet}, "what pages must be, for tests only"},
	{"api/batch", []string{"analysis/...", "api/report", "ingest", "ingest/check", "ingest/issue"}, []string{errgroup}, "the main job, the same for the command line and the service"},

	{"api/store/schema", nil, []string{goose, river}, "the tables of the records and of the queue, as one sequence of steps"},
	{"api/store", []string{"api/store/schema"}, []string{flock, pgx, sqlite, uuid}, "records in SQL; knows nothing of what they mean, nor of HTTP, jobs or blobs"},
	{"api/store/storetest", []string{"api/store"}, []string{pgx, rapid}, "what every database must do, for tests only"},
	{"api/blobs", nil, []string{gocloud}, "bytes under their digest; knows nothing of records"},
	{"api/jobs", []string{"api/blobs", "api/store"}, []string{river}, "the only place with a queue; the science arrives as functions"},

	{"api/wire", nil, nil, "the JSON of the service, a leaf"},
	{"api/problem", []string{"api/store", "api/wire"}, nil, "the one table from an error to what a caller is told"},
	{"api/rows", []string{"analysis/result", "api/report", "ingest/columnar"}, nil, "selects stored rows and writes them; computes nothing"},
	{"docs/openapi", nil, nil, "the description of the service, as it is served"},
	{"api/live", []string{"api/report/page", "api/wire"}, nil, "the pages of the service around those of the results: what they show, never who may see it"},
	{"api", []string{"analysis/derivation", "analysis/result", "api/blobs", "api/live", "api/problem", "api/report", "api/report/figure", "api/report/page", "api/rows", "api/store", "api/wire", "docs/openapi"}, []string{compression, gin, prometheus, swaggerPage, uuid, xtime}, "the service over HTTP; jobs and engine only through interfaces that it declares"},
	{"api/engine", []string{"analysis", "analysis/derivation", "analysis/experiment", "analysis/quantity", "analysis/rainfall", "analysis/result", "api", "api/batch", "api/blobs", "api/jobs", "api/problem", "api/report", "api/report/page", "api/report/rscript", "api/store", "api/wire", "ingest"}, []string{lru, flight}, "computes for the service; nothing of the service imports it"},

	{"cmd/internal/config", []string{"api"}, []string{environment, yaml}, "how the service is set up"},
	{"cmd/internal/demo", []string{"analysis/quantity", "analysis/simulate", "ingest/columnar"}, []string{compression, xlsx}, "writes every form of file that crews keep; reads none"},
	{"cmd/internal/cli", []string{"analysis/...", "api", "api/batch", "api/blobs", "api/engine", "api/jobs", "api/problem", "api/report/...", "api/store", "api/wire", "ingest/...", "cmd/internal/config", "cmd/internal/demo"}, []string{cobra, errgroup, pretty, progressBar, prometheus, xterm}, "drives the rest; the only place with a terminal"},
	{"cmd/internal/acceptance", []string{"analysis/...", "api/batch", "api/report", "ingest/...", "cmd/internal/..."}, nil, "whole jobs under test"},
	{"cmd/internal/deps", nil, nil, "this test"},
	{"cmd/sheetwash", []string{"cmd/internal/cli", "ingest/columnar"}, nil, "signals, one call, the exit code"},

	{"docs/picture/...", []string{"docs/picture/..."}, nil, "draws the README's picture"},
	{"docs/bench/...", []string{"analysis/...", "ingest/...", "api/report"}, []string{gin}, "programs that measure"},
}

// methods is what a package of methods may see. What one needs of another
// arrives as an argument.
var methods = []string{"analysis/derivation", "analysis/experiment", "analysis/quantity", "analysis/result", "analysis/water", "analysis/internal/..."}

const methodReason = "a method; methods never import each other"
