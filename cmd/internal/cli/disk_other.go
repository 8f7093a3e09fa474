//go:build !linux && !darwin && !freebsd

package cli

import "errors"

// diskOf cannot ask this system.
func diskOf(string) (free, size uint64, err error) { return 0, 0, errors.ErrUnsupported }
