// Package readings reduces logger readings to one series of time bins per run,
// plot and channel, in one pass, in bounded memory and for rows in any order.
// From the sums of the bins least-squares slopes and means over any whole number
// of bins follow exactly, so that the readings themselves need not be kept.
//
// ingest calls it with a bound readings table, long or wide, from text or from
// typed columns. It decides which cells are numbers, times, channels and units;
// it never decides whether a value is plausible, never looks at runs and plots
// other than by name, and never smooths.
//
// The result does not depend on the number of workers: every batch is reduced
// by itself, in the order of its rows, and the batches are merged in the order
// of the file.
package readings
