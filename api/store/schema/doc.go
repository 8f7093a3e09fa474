// Package schema brings the tables of the records and of the job queue up to date,
// as one sequence of numbered steps that only goes forward: expand first, contract
// in a later version. Two processes never migrate at the same time.
//
// Only api/store calls it. It never reads or writes a record.
package schema
