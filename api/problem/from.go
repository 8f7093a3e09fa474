package problem

import (
	"context"
	"errors"
	"net/http"
	"os"
	"syscall"

	"sheetwash/api/store"
)

// From is the one table from an error to what a caller is told. An error that is
// not in it is internal, without its text.
func From(err error) *Error {
	var own *Error
	if errors.As(err, &own) {
		return own
	}
	for _, r := range rules {
		if errors.Is(err, r.is) {
			return Because(err, r.code, "%s", r.detail)
		}
	}
	var large *http.MaxBytesError
	if errors.As(err, &large) {
		return Because(err, BodyTooLarge, "the body is larger than %d bytes", large.Limit)
	}
	return Because(err, Internal, "the service has a fault; the operator finds it in the log under the request_id")
}

var rules = []struct {
	is     error
	code   Code
	detail string
}{
	{store.ErrNotFound, NotFound, "there is no such thing"},
	{store.ErrConflict, StateConflict, "its state does not allow this: it exists already, is in use, is not empty or is over"},
	{store.ErrRevision, RevisionMismatch, "it was changed since it was read"},
	{store.ErrFilter, UnknownParameter, "this list has no such filter"},
	{store.ErrSort, MalformedRequest, "this list cannot be sorted so"},
	{store.ErrCursor, BadCursor, "the cursor does not fit this list"},
	{store.ErrIdempotencyInFlight, IdempotencyInFlight, "the first request with this Idempotency-Key has not ended"},
	{store.ErrIdempotencyReused, IdempotencyKeyReused, "the Idempotency-Key came with another request before"},
	{store.ErrIdempotencyLost, IdempotencyInFlight, "the same request was sent again and is being answered there"},
	{syscall.ENOSPC, StorageFull, "the disk of the service is full"},
	{syscall.EDQUOT, StorageFull, "the disk of the service is full"},
	{os.ErrDeadlineExceeded, NotReady, "the request took longer than is allowed"},
	{context.DeadlineExceeded, NotReady, "the request took longer than is allowed"},
	{context.Canceled, NotReady, "the request was broken off"},
}
