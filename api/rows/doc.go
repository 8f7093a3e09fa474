// Package rows selects rows of stored result tables and writes them as CSV, Arrow
// and Parquet. A row is a flat JSON object as api/report encodes it; every format
// is made from its text, so that no digit changes between them.
//
// Package api calls it. It knows columns from their description in api/report, and
// never computes, converts or sorts.
package rows
