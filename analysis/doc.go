// Package analysis turns validated datasets into results: the hydrograph and the
// metrics of each plot, then the estimates of each treatment.
//
// Analyze is the whole of it; Dataset and Fold are its two halves, for callers
// that keep what a dataset yielded. The command line and the service call it
// with what ingest read. It is the only package that sees all methods, and
// never reads or writes a file.
package analysis
