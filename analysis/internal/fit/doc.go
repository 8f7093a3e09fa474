// Package fit holds the least-squares cores of the analysis: a declining curve
// fitted to interval means by variable projection, with exact profile regions
// (Decline); up to three parameters within ranges, with profile limits of
// any function of them (Box); and damped Gauss-Newton for models of any form and
// size from several starts (Nonlinear).
//
// The methods call it with plain numbers. It knows nothing of rain or soil,
// reads no files and never draws random numbers.
package fit
