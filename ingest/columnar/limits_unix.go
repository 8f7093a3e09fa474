//go:build unix

package columnar

import (
	"time"

	"golang.org/x/sys/unix"
)

// limitProcess bounds the memory and the processor time of this process. The bound
// is on writable memory (RLIMIT_DATA): the Go runtime reserves far more address
// space than it uses, so a bound on that would mean nothing.
func limitProcess(bytes int64, cpu time.Duration) error {
	for _, l := range []struct {
		what int
		max  uint64
	}{
		{unix.RLIMIT_DATA, uint64(bytes)},
		{unix.RLIMIT_CPU, uint64(cpu/time.Second) + 1},
		{unix.RLIMIT_CORE, 0},
	} {
		if err := unix.Setrlimit(l.what, &unix.Rlimit{Cur: l.max, Max: l.max}); err != nil {
			return err
		}
	}
	return nil
}
