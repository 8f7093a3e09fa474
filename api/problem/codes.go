package problem

import "net/http"

// Code is the stable name of a kind of error. A code is never renamed and never
// used for anything else.
type Code string

// The codes, by status.
const (
	MalformedRequest Code = "malformed_request"
	UnknownParameter Code = "unknown_parameter"
	BadCursor        Code = "bad_cursor"
	LimitOutOfRange  Code = "limit_out_of_range"

	NotSignedIn      Code = "not_signed_in"
	NotAllowed       Code = "not_allowed"
	NotFound         Code = "not_found"
	MethodNotAllowed Code = "method_not_allowed"

	FormatNotOffered       Code = "format_not_offered"
	ContentTypeNotAccepted Code = "content_type_not_accepted"

	IdempotencyInFlight Code = "idempotency_in_flight"
	StateConflict       Code = "state_conflict"
	Dismissed           Code = "dismissed"
	Deleted             Code = "deleted"
	RevisionMismatch    Code = "revision_mismatch"
	RevisionRequired    Code = "revision_required"

	BodyTooLarge   Code = "body_too_large"
	TooManyRows    Code = "too_many_rows"
	TooManyColumns Code = "too_many_columns"
	TooManyFiles   Code = "too_many_files"
	ExpandsTooFar  Code = "expands_too_far"

	DataRejected         Code = "data_rejected"
	IdempotencyKeyReused Code = "idempotency_key_reused"
	ExportTooLarge       Code = "export_too_large"

	RateLimited  Code = "rate_limited"
	QuotaReached Code = "quota_reached"
	Internal     Code = "internal"
	NotReady     Code = "not_ready"
	QueueFull    Code = "queue_full"
	StorageFull  Code = "storage_full"
)

// Kind is a row of the table of codes.
type Kind struct {
	Code      Code
	Status    int
	Title     string
	Retryable bool   // the same request may succeed later, unchanged
	Meaning   string // when it happens
	Remedy    string // what the caller does about it
}

// Kinds lists every code, by status.
func Kinds() []Kind { return kinds }

// KindOf returns the row of a code; a code that is not in the table is internal.
func KindOf(c Code) Kind {
	for _, k := range kinds {
		if k.Code == c {
			return k
		}
	}
	return KindOf(Internal)
}

var kinds = []Kind{
	{MalformedRequest, http.StatusBadRequest, "Request not understood", false,
		"the address, a header or the body cannot be read, or a value is not one that is allowed there", "correct what the detail names"},
	{UnknownParameter, http.StatusBadRequest, "Unknown parameter", false,
		"a parameter of the address or a member of the body is not known here; nothing was done, so that a typing error never returns data that were not asked for", "take it out, or correct its spelling; the detail lists what is known"},
	{BadCursor, http.StatusBadRequest, "Cursor not valid", false,
		"the cursor was altered, or belongs to another list, another filter or another sort", "follow links.next as it stands, or begin again without a cursor"},
	{LimitOutOfRange, http.StatusBadRequest, "Limit out of range", false,
		"limit is not from 1 to 1000", "ask for at most 1000 rows and follow links.next"},

	{NotSignedIn, http.StatusUnauthorized, "Not signed in", false,
		"no key was sent, or it is unknown, expired or revoked", "send Authorization: Bearer KEY"},
	{NotAllowed, http.StatusForbidden, "Not allowed", false,
		"the role of the key does not allow this, the season is not among those of the key, or the request comes from a page of another origin or names another host", "ask a manager for a key that may"},
	{NotFound, http.StatusNotFound, "Not found", false,
		"there is no such thing, or it belongs to others", "check the identifier; the lists show what there is"},
	{MethodNotAllowed, http.StatusMethodNotAllowed, "Method not allowed", false,
		"the address exists and does not take this method", "use one of the methods in the Allow header"},

	{FormatNotOffered, http.StatusNotAcceptable, "Format not offered", false,
		"none of the formats that were asked for is offered here", "ask for one that the detail lists, by Accept or by format"},
	{StateConflict, http.StatusConflict, "Conflict with the present state", false,
		"the thing exists already, is in use, or is past the point where this can be done", "read its present state and decide anew"},
	{IdempotencyInFlight, http.StatusConflict, "Still running", true,
		"the first request with this Idempotency-Key has not ended", "wait a second and send the same request again"},
	{Dismissed, http.StatusGone, "Analysis dismissed", false,
		"the analysis was dismissed, and its results are gone", "start a new analysis"},
	{Deleted, http.StatusGone, "Dataset deleted", false,
		"the dataset was deleted by a manager; a record that it existed remains", "upload it again if it is needed"},
	{RevisionMismatch, http.StatusPreconditionFailed, "Changed meanwhile", false,
		"the ETag in If-Match is not that of the present state", "read it again, look at what changed, and send the new ETag"},
	{BodyTooLarge, http.StatusRequestEntityTooLarge, "Body too large", false,
		"the body, or a file in it, is larger than is allowed over the network", "send less at a time, or use the command line, which has no limit; /v1/limits lists the limits"},
	{TooManyRows, http.StatusRequestEntityTooLarge, "Too many rows", false,
		"a file has more rows than are allowed over the network", "split the dataset, or use the command line"},
	{TooManyColumns, http.StatusRequestEntityTooLarge, "Too many columns", false,
		"a file has more columns than are allowed over the network", "leave out columns that are not needed"},
	{TooManyFiles, http.StatusRequestEntityTooLarge, "Too many files", false,
		"a dataset has more files than are allowed over the network", "send one dataset at a time"},
	{ExpandsTooFar, http.StatusRequestEntityTooLarge, "Expands too far", false,
		"an archive or a compressed file expands to more than is allowed, or holds another archive", "unpack it and send its files"},
	{ContentTypeNotAccepted, http.StatusUnsupportedMediaType, "Content type not accepted", false,
		"the Content-Type of the body is not one that is read here", "send one that the detail lists"},
	{DataRejected, http.StatusUnprocessableEntity, "Data rejected", false,
		"checks of the data found errors, all of which are listed by file, row and column", "correct the files and upload them again; docs/findings.md explains each code of a finding"},
	{IdempotencyKeyReused, http.StatusUnprocessableEntity, "Idempotency-Key used before", false,
		"the Idempotency-Key came with another request before", "use a new key for each new request"},
	{ExportTooLarge, http.StatusUnprocessableEntity, "Export too large", false,
		"csv, arrow and parquet hold at most five million rows", "filter, or page through JSON"},
	{RevisionRequired, http.StatusPreconditionRequired, "ETag required", false,
		"a change needs If-Match, so that nobody overwrites what another has just changed", "read the thing and send its ETag in If-Match"},
	{RateLimited, http.StatusTooManyRequests, "Too many requests", true,
		"requests came faster than is allowed, or too many sign-ins failed", "wait as long as Retry-After says"},
	{QuotaReached, http.StatusTooManyRequests, "Quota reached", true,
		"the caller has as many uploads, event streams or waiting analyses as are allowed at once", "wait for one of them to end"},

	{Internal, http.StatusInternalServerError, "Internal error", true,
		"a fault of the service", "try again; if it stays, tell the operator the request_id"},
	{NotReady, http.StatusServiceUnavailable, "Not ready", true,
		"the service is starting, stopping or overloaded, or an answer took longer than is allowed", "wait as long as Retry-After says"},
	{QueueFull, http.StatusServiceUnavailable, "Queue full", true,
		"as many analyses wait as the service holds", "wait as long as Retry-After says"},
	{StorageFull, http.StatusInsufficientStorage, "Storage full", true,
		"the disk or the object store of the service is full", "tell the operator"},
}
