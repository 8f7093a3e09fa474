//go:build !linux

package main

import "runtime"

// usage returns the memory obtained from the system in MB, which bounds what was
// resident; the processor time is not known here.
func usage() (processor, peakMB float64) {
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return 0, float64(m.Sys) / (1 << 20)
}
