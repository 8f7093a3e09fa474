// Package live makes the pages of the service that hold no results: the list of the
// seasons, uploads with what was found in them, the form, signing in, and errors. The
// pages of results are those of api/report/page, in the same look.
//
// Package api calls it with what a caller may see, and answers with what it writes. A
// page works without script: a form is sent by the browser itself, and what goes on
// in the service shows when the browser asks again. It decides nothing, reads no
// record and trusts no text.
package live
