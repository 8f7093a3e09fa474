// Package rainfall turns catch cans, gauges and stated intensities into the
// rain of each plot: its intensity, depth and what is known of their errors,
// and describes how even the rain of a simulator is.
//
// analysis calls it, first of all methods. It never looks at runoff, and never
// scales a measured rain to fit one.
package rainfall
