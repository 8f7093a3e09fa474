// Package infiltration finds the rate at which a plot takes in water: the
// steady infiltration rate from the runoff rates of its bottles, the closed forms
// of the infiltration models, and what seven of them make of the same bottles.
//
// analysis calls it once a plot with the rates that hydrograph made of the
// readings. It never reads volumes or files, never interpolates a gap and never
// fits a running total.
package infiltration
