package main

import "syscall"

// usage returns the processor time of the process so far in seconds, and the
// most memory that it has had resident in MB.
func usage() (processor, peakMB float64) {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		return 0, 0
	}
	return seconds(u.Utime) + seconds(u.Stime), float64(u.Maxrss) / 1024
}

func seconds(t syscall.Timeval) float64 { return float64(t.Sec) + float64(t.Usec)/1e6 }
