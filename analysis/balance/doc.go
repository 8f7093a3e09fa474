// Package balance sets the water that fell on a plot against the water that left
// it or stayed in its soil: a lie detector for areas, gauges, funnels and drains.
//
// analysis calls it with the depths that rainfall and hydrograph found. It reports a
// closure with its uncertainty and never forces one: no term is adjusted, nothing is
// called closed where storage was not measured, and what is impossible is named
// with its likely fault.
package balance
