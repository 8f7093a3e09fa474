// Package storetest holds what every database must do to keep the records: one
// suite, run by the tests of api/store on SQLite and on PostgreSQL. It also makes
// fresh databases for the tests of other packages.
//
// For tests only.
package storetest
