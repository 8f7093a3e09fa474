// Package mapping says which column of a foreign table plays which role of the
// data dictionary: by the headers themselves, by a mapping.yaml, or by a
// Frictionless datapackage.json. It presents every table that feeds the
// dictionary as a Bound: something to scan, with one Binding per column.
//
// ingest calls it, after opening the files and before decoding cells; readings
// consumes its bindings. It never decodes a number and never decides whether a
// value is plausible.
package mapping
