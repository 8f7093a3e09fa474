// Package problem is how the service says that something went wrong: RFC 9457
// details with a stable code, and the one table from an error to a status.
//
// The router and its middleware build problems, and package api writes them.
// It never logs, and what a caller is told never holds a stack, a statement of
// SQL or a path of the server.
package problem
