// Package pagetest is what tests ask of pages: that every number is that of its table,
// that no text makes markup, and how they look, print and work in a browser. The tests
// of api/report/page and of the service use it; no program does.
package pagetest
