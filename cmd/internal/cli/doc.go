// Package cli is the command line: analyze, check, map, template, demo and
// version.
//
// Execute runs one command with the streams it is given and returns the exit
// code, so that tests run the whole program in process. Data goes to standard
// output, messages to standard error. The commands drive ingest, analysis and
// report; they compute nothing themselves, and nothing else imports this
// package than main.
package cli
