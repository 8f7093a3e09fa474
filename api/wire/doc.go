// Package wire is the JSON of the service: what it reads and what it answers.
//
// Package api fills these types from the records of the store and hands them
// out; types that are read are other types than those that are answered, so
// that no caller sets what is not theirs. It computes nothing and opens nothing.
package wire
