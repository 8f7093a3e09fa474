package jobs

import (
	"context"
	"database/sql"
	"sync/atomic"
	"time"

	"github.com/riverqueue/river/riverdriver"
)

// gate keeps an idle queue from asking the database, where every job comes from
// this process: a fetch passes after a transaction with jobs is committed, as long as
// fetches are answered in full, and once in the idle time whatever happens, for jobs
// whose time has come. The zero gate lets every fetch pass.
type gate struct {
	idle    time.Duration
	woken   atomic.Bool
	fetched atomic.Int64 // when the database last answered a fetch, UnixNano
}

// wake lets the next fetch pass.
func (g *gate) wake() { g.woken.Store(true) }

// closed reports whether a fetch may be answered with nothing. A wake that comes
// later is seen by the next.
func (g *gate) closed() bool {
	return !g.woken.Swap(false) && time.Since(time.Unix(0, g.fetched.Load())) < g.idle
}

// gatedDriver is a driver whose fetches go through a gate.
type gatedDriver struct {
	riverdriver.Driver[*sql.Tx]
	gate *gate
}

// GetExecutor implements riverdriver.Driver.
func (d gatedDriver) GetExecutor() riverdriver.Executor {
	return gatedExecutor{d.Driver.GetExecutor(), d.gate}
}

type gatedExecutor struct {
	riverdriver.Executor
	gate *gate
}

// JobGetAvailable implements riverdriver.Executor.
func (e gatedExecutor) JobGetAvailable(ctx context.Context, p *riverdriver.JobGetAvailableParams) (*riverdriver.JobGetAvailableResult, error) {
	if e.gate.closed() {
		return &riverdriver.JobGetAvailableResult{}, nil
	}
	got, err := e.Executor.JobGetAvailable(ctx, p)
	if err == nil {
		e.gate.fetched.Store(time.Now().UnixNano())
	}
	if err != nil || len(got.Jobs) >= p.MaxToLock {
		e.gate.wake() // there may be more
	}
	return got, err
}
