// Package result is the shape of an answer: the rows of the seven result
// tables, the catalogue of metrics, and what an analysis was made of.
//
// The methods fill rows; writers turn them into files. It computes nothing.
package result
