// Package ingest reads datasets: it finds them among folders, archives and
// single files, reads their tables, checks them, and hands on either a validated
// *experiment.Dataset or the list of what is wrong with it.
//
// The command line and the service call Find once and Read per dataset. It joins
// the packages below it (table, columnar, units, mapping, readings, check) and
// decodes cells to canonical units in between. It never repairs a value
// silently, never computes a result, and never logs.
package ingest
