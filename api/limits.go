package api

import (
	"time"

	"sheetwash/api/wire"
)

// Limits bounds what callers may ask for over the network. The command line has
// none of these.
type Limits struct {
	JSONBytes          int64   `env:"JSON_BYTES"`
	JSONDepth          int     `env:"JSON_DEPTH"`
	UploadBytes        int64   `env:"UPLOAD_BYTES"`
	UploadFiles        int     `env:"UPLOAD_FILES"`
	ExpandedBytes      int64   `env:"EXPANDED_BYTES"`
	ExpandRatio        int64   `env:"EXPAND_RATIO"`
	Rows               int64   `env:"ROWS"`
	Columns            int     `env:"COLUMNS"`
	FieldBytes         int     `env:"FIELD_BYTES"`
	AddressBytes       int     `env:"ADDRESS_BYTES"`
	HeaderBytes        int     `env:"HEADER_BYTES"`
	AnalysisRuns       int     `env:"ANALYSIS_RUNS"`
	ExportRows         int64   `env:"EXPORT_ROWS"`
	Uploads            int     `env:"UPLOADS"`
	Streams            int     `env:"STREAMS"`
	QueuedAnalyses     int     `env:"QUEUED_ANALYSES"`
	QueuedJobs         int     `env:"QUEUED_JOBS"` // of all callers
	ReadsPerSecond     float64 `env:"READS_PER_SECOND"`
	ReadBurst          int     `env:"READ_BURST"`
	WritesPerSecond    float64 `env:"WRITES_PER_SECOND"`
	WriteBurst         int     `env:"WRITE_BURST"`
	AnonymousPerSecond float64 `env:"ANONYMOUS_PER_SECOND"`
	AnonymousBurst     int     `env:"ANONYMOUS_BURST"`
	SignInFailures     int     `env:"SIGN_IN_FAILURES"` // a minute, per address

	HeaderTime    time.Duration `env:"HEADER_TIME"`
	IdleTime      time.Duration `env:"IDLE_TIME"`
	JSONTime      time.Duration `env:"JSON_TIME"`
	UploadTime    time.Duration `env:"UPLOAD_TIME"`
	StallTime     time.Duration `env:"STALL_TIME"`  // in which StallBytes of a body must come or go
	StreamTime    time.Duration `env:"STREAM_TIME"` // of one write to an event stream
	HeartbeatTime time.Duration `env:"HEARTBEAT_TIME"`
	WaitTime      time.Duration `env:"WAIT_TIME"` // longest Prefer: wait
	DrainTime     time.Duration `env:"DRAIN_TIME"`
}

// stallBytes is how much of a body must come or go in Limits.StallTime.
const stallBytes = 64 << 10

// DefaultLimits returns the limits of a service that nobody has configured.
func DefaultLimits() Limits {
	return Limits{
		JSONBytes: 1 << 20, JSONDepth: 32, UploadBytes: 256 << 20, UploadFiles: 200, ExpandedBytes: 1 << 30, ExpandRatio: 200,
		Rows: 10_000_000, Columns: 256, FieldBytes: 64 << 10, AddressBytes: 8 << 10, HeaderBytes: 32 << 10,
		AnalysisRuns: 5000, ExportRows: 5_000_000, Uploads: 4, Streams: 5, QueuedAnalyses: 20, QueuedJobs: 100_000,
		ReadsPerSecond: 20, ReadBurst: 40, WritesPerSecond: 2, WriteBurst: 10, AnonymousPerSecond: 5, AnonymousBurst: 20,
		SignInFailures: 10,
		HeaderTime:     5 * time.Second, IdleTime: 60 * time.Second, JSONTime: 15 * time.Second, UploadTime: 15 * time.Minute,
		StallTime: 10 * time.Second, StreamTime: 10 * time.Second, HeartbeatTime: 15 * time.Second,
		WaitTime: 30 * time.Second, DrainTime: 25 * time.Second,
	}
}

// list returns the limits as callers see them.
func (l Limits) list() []wire.Limit {
	s := func(d time.Duration) float64 { return d.Seconds() }
	return []wire.Limit{
		{Name: "json_bytes", Value: float64(l.JSONBytes), Unit: "byte", Meaning: "a JSON body"},
		{Name: "json_depth", Value: float64(l.JSONDepth), Unit: "1", Meaning: "objects and lists within each other in a JSON body"},
		{Name: "upload_bytes", Value: float64(l.UploadBytes), Unit: "byte", Meaning: "an upload"},
		{Name: "upload_files", Value: float64(l.UploadFiles), Unit: "1", Meaning: "files of a dataset"},
		{Name: "expanded_bytes", Value: float64(l.ExpandedBytes), Unit: "byte", Meaning: "what an upload unpacks to"},
		{Name: "expand_ratio", Value: float64(l.ExpandRatio), Unit: "1", Meaning: "unpacked over packed size"},
		{Name: "rows", Value: float64(l.Rows), Unit: "1", Meaning: "rows of a file"},
		{Name: "columns", Value: float64(l.Columns), Unit: "1", Meaning: "columns of a file"},
		{Name: "field_bytes", Value: float64(l.FieldBytes), Unit: "byte", Meaning: "a cell"},
		{Name: "address_bytes", Value: float64(l.AddressBytes), Unit: "byte", Meaning: "the address of a request"},
		{Name: "header_bytes", Value: float64(l.HeaderBytes), Unit: "byte", Meaning: "the headers of a request"},
		{Name: "analysis_runs", Value: float64(l.AnalysisRuns), Unit: "1", Meaning: "runs of an analysis"},
		{Name: "export_rows", Value: float64(l.ExportRows), Unit: "1", Meaning: "rows of one csv, arrow or parquet answer"},
		{Name: "uploads", Value: float64(l.Uploads), Unit: "1", Meaning: "uploads of a caller at once"},
		{Name: "streams", Value: float64(l.Streams), Unit: "1", Meaning: "event streams of a caller at once"},
		{Name: "queued_analyses", Value: float64(l.QueuedAnalyses), Unit: "1", Meaning: "analyses of a caller that are not over"},
		{Name: "queued_jobs", Value: float64(l.QueuedJobs), Unit: "1", Meaning: "jobs of all callers that wait"},
		{Name: "reads", Value: l.ReadsPerSecond, Unit: "1/s", Meaning: "reading requests of a caller; 0: no limit"},
		{Name: "read_burst", Value: float64(l.ReadBurst), Unit: "1", Meaning: "reading requests at once"},
		{Name: "writes", Value: l.WritesPerSecond, Unit: "1/s", Meaning: "writing requests of a caller; 0: no limit"},
		{Name: "write_burst", Value: float64(l.WriteBurst), Unit: "1", Meaning: "writing requests at once"},
		{Name: "anonymous", Value: l.AnonymousPerSecond, Unit: "1/s", Meaning: "requests without a key, per address; 0: no limit"},
		{Name: "sign_in_failures", Value: float64(l.SignInFailures), Unit: "1/min", Meaning: "failed sign-ins per address"},
		{Name: "header_time", Value: s(l.HeaderTime), Unit: "s", Meaning: "until the headers of a request are there"},
		{Name: "idle_time", Value: s(l.IdleTime), Unit: "s", Meaning: "an idle connection"},
		{Name: "json_time", Value: s(l.JSONTime), Unit: "s", Meaning: "a request with a JSON answer"},
		{Name: "upload_time", Value: s(l.UploadTime), Unit: "s", Meaning: "an upload or a download as a whole"},
		{Name: "stall_time", Value: s(l.StallTime), Unit: "s", Meaning: "in which 64 KiB of an upload or a download must pass"},
		{Name: "wait_time", Value: s(l.WaitTime), Unit: "s", Meaning: "longest wait of Prefer: wait"},
	}
}
