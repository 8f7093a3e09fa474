// Package engine computes for the service: it checks uploads, analyses what is
// sent for one answer, does the work of the jobs, and opens stored result tables.
//
// It calls api/batch as the command line does, so that both give the same numbers,
// and keeps what it computes as blobs: the part of a dataset, and per analysis each
// table once, as JSON with an index of its rows.
//
// The serve and worker commands build one and hand it to api and api/jobs. It never
// writes a record and never sees a request.
package engine
