// Package jobs runs analyses in the background: one job per dataset, and one fold
// per analysis, which the transaction that finishes the last dataset enqueues.
// Every job may run twice, on one machine or on two; the second run writes nothing.
//
// Its callers are the serve and worker commands; api submits through an interface
// that it declares. The science arrives as a Work. It never reads an upload and
// never encodes a result.
package jobs
