// Package config is how the service is set up: one structure with defaults, filled
// from a file, the environment and flags, the later over the earlier.
//
// The commands serve, worker and key load it. A secret comes from the environment or
// from a file of its own, never from a flag, and is never printed.
package config
