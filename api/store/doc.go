// Package store keeps the records of the service: seasons, events, datasets with
// their runs, plots and calibrations, analyses with their progress and the places
// of their tables, keys, requests that must not count twice, and the audit log.
// One set of queries serves SQLite and PostgreSQL; Dialect holds what differs.
//
// Its callers are the handlers of api, the workers of api/jobs and the command
// line. Reads are methods of Reader, which both a Store and a Tx are; writes are
// methods of Tx alone, so that an effect, its audit line, its jobs and its
// remembered answer commit together or not at all.
//
// It never keeps bytes of uploads or rows of results (api/blobs does), never
// computes, never logs, and never shows a season to a caller whose Scope lacks it.
package store
