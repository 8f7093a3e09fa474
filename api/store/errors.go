package store

import "errors"

// What callers test for.
var (
	ErrNotFound    = errors.New("there is no such record")                               // also for what lies outside the scope
	ErrConflict    = errors.New("the record's state does not allow this")                // not empty, over already, exists
	ErrRevision    = errors.New("the record has changed since it was read")              // other revision than given
	ErrFilter      = errors.New("the list has no such filter")                           // see Filter
	ErrSort        = errors.New("the list cannot be sorted so")                          // see Page
	ErrCursor      = errors.New("the cursor does not fit the list")                      // see Page
	ErrNewerSchema = errors.New("the data were written by a newer version of sheetwash") // update the program
	ErrLocked      = errors.New("another process uses this data folder")                 // see Config.Exclusive

	ErrIdempotencyInFlight = errors.New("the same request is still running")
	ErrIdempotencyReused   = errors.New("the idempotency key was used for another request")
	ErrIdempotencyLost     = errors.New("the idempotency key was taken over by a repeated request")
)
