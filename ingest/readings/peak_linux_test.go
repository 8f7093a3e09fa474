package readings

import "syscall"

// peakMB returns the most memory that the process has had resident so far, in MB.
func peakMB() float64 {
	var usage syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &usage); err != nil {
		return 0
	}
	return float64(usage.Maxrss) / 1024
}
