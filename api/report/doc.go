// Package report writes an analysis as the seven result tables, each as CSV,
// JSON, an Arrow file or Parquet.
//
// One description of each table (its columns with name, kind, unit and meaning)
// drives all four writers, so that they hold the same columns in the same order
// with the same digits; Tables hands the description to whoever documents them.
// The command line and the service call Write. It is the only place where a
// number leaves its canonical unit: with US units the value, the unit and the
// column names that carry a unit change together.
//
// It never sorts, selects, rounds or computes: the rows come as the analysis
// ordered them.
package report
