// Package figure draws the charts of the reports with gonum/plot: as SVG that
// stands within a page and takes its colours from the page, and as files in SVG,
// PNG and PDF.
//
// The pages call it with numbers in the units of the reader and with words. It
// knows three charts: Rows (one line per plot or treatment), Course (something
// over time) and Plan (catch cans seen from above). It never computes, rounds or
// converts a result.
package figure
