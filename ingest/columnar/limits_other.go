//go:build !unix

package columnar

import "time"

// limitProcess does nothing where there are no such limits; GOMEMLIMIT and the
// parent's clock remain.
func limitProcess(bytes int64, cpu time.Duration) error { return nil }
