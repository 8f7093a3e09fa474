// Package erosion turns oven-dry masses and concentrations into the sediment
// that runoff carried off a plot: its flow-weighted concentration, mass, loss
// per area and rate, each with its uncertainty.
//
// analysis calls it after hydrograph, whose intervals it gets as plain volumes.
// It never counts what was washed off the plot after the run, never takes a
// sample that is not dried yet for a clean one, and never measures a flow itself.
package erosion
