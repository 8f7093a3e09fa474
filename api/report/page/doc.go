// Package page makes the pages that people look at: one for an event, one for each
// run, and the report of a season. A page is one self-contained HTML file that
// needs no script and asks for nothing from elsewhere.
//
// The command line writes them to files, the service answers with them. Both hand
// over an analysis, what was noted of the runs, and where pages lie. A number of
// the results stands on a page in an element that names its row and column
// (data-key, data-col), rounded by its uncertainty; the curves that the package
// draws are those of the analysis. It never computes a result anew, and trusts no
// text of the data.
package page
