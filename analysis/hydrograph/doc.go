// Package hydrograph turns timed bottles and logger readings into the course of
// runoff and drainage of a plot, and takes from it the time to runoff, peak and
// final rates, depths and the runoff coefficient, each with its uncertainty.
//
// analysis calls it after rainfall, and hands its intervals on to infiltration
// and erosion. It never fits a model of infiltration, never looks at other plots,
// and never turns a gap into zero flow.
//
// A bottle is an integral: its volume over its interval is the mean rate, and
// stands for the interval, not for a moment.
package hydrograph
