// Package experiment is the domain: a Dataset of runs of simulated rain, the
// plots under each run, and what was caught and logged on each plot.
//
// ingest builds a Dataset from validated tables; analysis reads it. A Dataset
// does not change after New: its slices are shared for reading and must not be
// written. Times are minutes from the start of rain, volumes mL, masses g,
// areas m2, depths mm and rates mm/h, the units of the result tables.
package experiment
