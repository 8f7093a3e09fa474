// Package demo makes the demo season: one season of an invented network, the
// Corrin Basin Land Stewards, with twelve field days at invented places.
//
// Every plot is simulated from known true parameters, so that a test can ask
// whether the analysis finds them again; Truth lists them. Each of the three
// crews (amber, slate, teal) writes its files in its own way: SI or US units,
// decimal points or commas, plain or packed, workbook, Arrow or Parquet, one
// table or several. The season also holds what goes wrong on real days: a plot
// that never ran off, a bottle that ran over, a jar change without a jar, pooled
// and unfinished sediment, a plot to leave out, two runs on the same soil. On the first day the
// whole water balance was watched, and turbidity and nitrate measured.
//
// The command line writes it with "demo"; the files below testdata are the same
// bytes. All names and numbers are invented. It reads nothing.
package demo
