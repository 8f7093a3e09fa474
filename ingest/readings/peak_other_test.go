//go:build !linux

package readings

import "runtime"

// peakMB returns the memory obtained from the system in MB, which bounds what
// was resident.
func peakMB() float64 {
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return float64(m.Sys) / (1 << 20)
}
