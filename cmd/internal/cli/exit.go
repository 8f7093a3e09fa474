package cli

import (
	"context"
	"errors"
	"io/fs"
	"strings"
	"syscall"

	"sheetwash/analysis"
)

// The exit codes of every command.
const (
	exitDone        = 0
	exitInternal    = 1
	exitUsage       = 2
	exitRefused     = 3 // every dataset was refused
	exitPartly      = 4 // some datasets were refused; the others are done
	exitNotFound    = 5
	exitConflict    = 7 // a file is there already
	exitIO          = 8 // the disk, or another device, failed
	exitInterrupted = 130
	exitTerminated  = 143
)

// failure is an error that knows its exit code and its name in JSON.
type failure struct {
	exit int
	code string // of the service's errors: malformed_request, not_found, …
	err  error
}

func (f *failure) Error() string { return f.err.Error() }

func (f *failure) Unwrap() error { return f.err }

func usage(err error) error    { return &failure{exitUsage, "malformed_request", err} }
func conflict(err error) error { return &failure{exitConflict, "state_conflict", err} }
func onDisk(err error) error   { return &failure{exitIO, "storage_failed", err} }

// outcome is an exit code for which everything has been said already.
type outcome int

func (o outcome) Error() string { return "the command ended with findings" }

// classify finds the exit code and the name of an error that reached the edge.
func classify(ctx context.Context, err error) *failure {
	var f *failure
	var path *fs.PathError
	switch {
	case errors.As(err, &f):
		return f
	case ctx.Err() != nil:
		return &failure{interruptCode(ctx), "interrupted", errors.New("stopped; no table was changed")}
	case errors.Is(err, analysis.ErrPlan):
		return &failure{exitUsage, "malformed_request", err}
	case errors.Is(err, fs.ErrNotExist):
		return &failure{exitNotFound, "not_found", err}
	case errors.As(err, &path):
		return &failure{exitIO, "storage_failed", err}
	}
	return &failure{exitInternal, "internal", err}
}

// interruptCode tells the two signals apart that stop a command: the context
// says which one it was.
func interruptCode(ctx context.Context) int {
	if cause := context.Cause(ctx); cause != nil && strings.Contains(cause.Error(), syscall.SIGTERM.String()) {
		return exitTerminated
	}
	return exitInterrupted
}
