package store

import "time"

// Scope is which seasons a caller may see. The zero Scope sees nothing.
type Scope struct {
	All       bool     // every season
	Seasons   []string // these seasons
	Published bool     // published seasons as well, for reading only
}

// Everything is the scope of the operator and of workers.
var Everything = Scope{All: true}

// Filter narrows a list. Values of one field are alternatives, fields add up. A
// list refuses a field that it does not have (ErrFilter), so that a mistake never
// returns unfiltered rows. Events, Runs, Plots and Treatments match an id or a
// name.
type Filter struct {
	Seasons      []string
	Events       []string
	Datasets     []string
	Runs         []string
	Plots        []string
	Treatments   []string
	States       []string  // of datasets and analyses; datasets without it: all but deleted
	From, To     time.Time // half-open; date of an event or calibration, start of a run, creation of the others
	ChangedSince time.Time // changed at or after
}

// Page is a stretch of a list.
type Page struct {
	Limit int      // rows wanted, at least 1
	After []string // List.Next of the page before; nil: from the start
	Sort  string   // a column of the list, with "-" in front for descending; empty: "id"
}

// List is a page of rows. Next is for the page after it and is set when More is.
type List[T any] struct {
	Rows []T
	More bool
	Next []string
}
