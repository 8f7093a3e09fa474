// Package inference is the statistics of replicates: estimates with intervals
// from plain slices of numbers, one number per experimental unit.
//
// Package season calls it with one value per plot and run; the methods of single
// plots may use its distributions and regressions. It knows nothing of plots,
// events or files, never reads and never logs. It takes its distributions from
// gonum and its description of samples from montanaflynn/stats, whose traps are
// wrapped here: StandardDeviation there divides by n, and Percentile and Quartile
// follow different definitions.
//
// Every function refuses a NaN or an infinity with ErrInput. Degenerate samples
// (none, one, all equal, all censored) are no error: the answer then lacks what
// cannot be had and carries a flag that says why. No answer holds a NaN, and none
// claims an interval of width zero.
package inference
