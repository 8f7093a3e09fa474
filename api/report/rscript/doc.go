// Package rscript writes a plain R script that computes the treatment results
// and comparisons again from the exported plot_results: a second opinion in
// another language, for a reviewer.
//
// The command line and the service call it with a finished analysis. The script
// uses base R and the package survival, reads plot_results.csv and, for what to
// compute, treatment_results.csv and comparisons.csv in the folder where it is
// run, and writes second_opinion.csv. It carries two small tables of what the
// exported columns do not hold: the place of each plot in the season and the
// error that the plots of a run share. The package never runs R.
package rscript
