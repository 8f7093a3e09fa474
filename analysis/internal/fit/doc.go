// Package fit holds the least-squares cores of the analysis: a declining curve
// fitted to interval means by variable projection, with exact profile regions,
// and damped Gauss-Newton for models of any form from several starts.
//
// The methods call it with plain numbers. It knows nothing of rain or soil,
// reads no files and never draws random numbers.
package fit
