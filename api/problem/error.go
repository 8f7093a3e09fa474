package problem

import (
	"fmt"
	"time"

	"sheetwash/api/wire"
)

// MaxFindings is how many findings a problem carries.
const MaxFindings = 100

// Error is an error that knows how it is told to a caller.
type Error struct {
	Code          Code
	Detail        string        // for the caller
	RetryAfter    time.Duration // 0: the default of the code
	Allow         string        // of method_not_allowed
	Findings      []wire.Finding
	FindingsTotal int
	Links         map[string]string
	Cause         error // for the log alone
}

// New returns an error with a detail for the caller.
func New(code Code, format string, args ...any) *Error {
	return &Error{Code: code, Detail: fmt.Sprintf(format, args...)}
}

// Because is New with the cause, which goes to the log alone.
func Because(cause error, code Code, format string, args ...any) *Error {
	e := New(code, format, args...)
	e.Cause = cause
	return e
}

// Rejected returns data_rejected with the first findings.
func Rejected(findings []wire.Finding, total int, format string, args ...any) *Error {
	e := New(DataRejected, format, args...)
	e.Findings, e.FindingsTotal = findings[:min(len(findings), MaxFindings)], total
	return e
}

// Error is what the log holds.
func (e *Error) Error() string {
	s := string(e.Code) + ": " + e.Detail
	if e.Cause != nil {
		s += ": " + e.Cause.Error()
	}
	return s
}

// Unwrap returns the cause.
func (e *Error) Unwrap() error { return e.Cause }

// Wait is how long a caller waits before the same request again; 0: it need not.
func (e *Error) Wait() time.Duration {
	if e.RetryAfter > 0 {
		return e.RetryAfter
	}
	switch e.Code {
	case IdempotencyInFlight, RateLimited:
		return time.Second
	case NotReady, QuotaReached:
		return 5 * time.Second
	case QueueFull:
		return 30 * time.Second
	}
	return 0
}
