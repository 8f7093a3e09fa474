// Package quantity holds units of measurement, their dimensions and the exact
// factors between them, and the optional number that the whole program uses
// for "measured or missing".
//
// Everything may import it; it imports nothing of ours. It never reads files
// and never rounds.
package quantity
